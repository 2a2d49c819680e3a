/** One open report page: answers its messages from the editor's services. Knows nothing of how a page is shown. */
import { asAbort, Stopped } from '../work/stopped.ts';
import { evenlyWithEnds } from '../../analysis/numbers/evenly.ts';
import { withItsTune } from '../../analysis/machine/tune.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { historyOf } from '../../analysis/report/history.ts';
import type { Report } from '../../analysis/results/results.ts';
import {
  type Correction,
  type PinInTake,
  type ToHost,
  type ToPage,
  readToHost,
} from '../protocol/messages.ts';
import { packReport } from '../protocol/page-report.ts';
import { addCorrection, readCorrections, takeBackCorrection } from '../common/corrections-file.ts';
import type { ReportServices, TakeAddress, WorkNow } from './report-services.ts';
import type { Fitted } from '../common/fitted.ts';
import { tempoCourseOf } from './report-tempo.ts';
import { soundOf } from './report-sound.ts';

/** Strokes of one pin that are sent from each take: enough to see its scatter. */
const mostStrokesOfPin = 12;
/** So many of the newest takes are read whole for a pin's strokes; of older ones the means are shown. */
const mostTakesWithStrokes = 12;

export class ReportSession {
  /** The report that the page shows; 0 before there was one. */
  private run = 0;
  /** Readings of the report begun so far: what a later one overtakes is not shown. */
  private readings = 0;
  private ready = false;
  private report: Report | null = null;
  /** What to change now; null while it is worked out. */
  private work: WorkNow | null = null;
  /** The person asked to be led through the work before the page could do so. */
  private leads = false;
  /** Why there is no report to show, where the page was told so. */
  private missing: string | null = null;
  private advising: AbortController | null = null;
  private analysing: AbortController | null = null;

  /**
   * @param post     to the page; called only after the page said that it is ready
   * @param defect   told of what is our own fault; the page says one plain line
   */
  constructor(
    readonly take: TakeAddress,
    private readonly services: ReportServices,
    private readonly post: (message: ToPage) => void,
    private readonly defect: (error: unknown) => void,
  ) {}

  /** A message from the page, whatever it may be. */
  async receive(message: unknown): Promise<void> {
    const known = readToHost(message);
    if (known === null) return;
    if ('run' in known && known.run !== this.run) {
      // Pictures and sound are asked for anew by the newer report's page; what a person wished is not.
      if (!('request' in known))
        this.post({
          kind: 'problem',
          message:
            this.missing ??
            'A newer report came up while you chose: nothing was written. Look at it and choose again.',
        });
      return;
    }
    try {
      await this.answer(known);
    } catch (error) {
      if (error instanceof InputProblem) this.post({ kind: 'problem', message: error.message });
      else if (!isAbort(error)) {
        this.defect(error);
        this.post({ kind: 'problem', message: 'Something went wrong inside Shimwright; the log says what.' });
      }
    }
  }

  /** The report on disk may be another one: reads it and shows it. */
  async refresh(): Promise<void> {
    if (!this.ready) return;
    const run = ++this.readings;
    const found = await this.read();
    if (run !== this.readings) return; // a later one is on its way
    this.missing = typeof found === 'string' ? found : null;
    if (typeof found === 'string') {
      this.advising?.abort(new DOMException('the report is gone', 'AbortError'));
      this.run = run;
      this.report = this.work = null;
      this.post({ kind: 'problem', message: found });
      return;
    }
    const { report, corrections } = found;
    const patternInText = await this.services.patternInText(this.take);
    const { newest, told } = await this.services.standing(this.take);
    if (run !== this.readings) return; // a later one is on its way
    this.run = run;
    this.report = report;
    this.work = null;
    const { mayChange } = this.services;
    this.post({
      kind: 'report',
      run,
      take: this.take,
      ...packReport(report),
      corrections,
      tempoCourse: tempoCourseOf(report),
      mayChange,
      patternInText,
      newest,
      told,
    });
    if (this.leads) this.leadThroughWork();
    if (newest === null) void this.adviseNow(run);
  }

  /** What is to be shown, or why there is nothing: the take deleted or not analysed, or a file that cannot be used. */
  private async read(): Promise<{ report: Report; corrections: Correction[] } | string> {
    const { services, take } = this;
    try {
      const report = await services.readReport(take);
      if (report !== null)
        return { report, corrections: readCorrections(await services.readCorrections(take)) };
    } catch (error) {
      if (!(error instanceof InputProblem)) throw error;
      return error.message;
    }
    return (await services.isThere(take))
      ? 'This take has not been analysed yet.'
      : 'This take’s folder is no longer there: what this page shows is what it showed last.';
  }

  /** Has the page lead through the work, at once or as soon as it shows a report. */
  leadThroughWork(): void {
    this.leads = this.report === null;
    if (!this.leads) this.post({ kind: 'at-machine' });
  }

  /** The report's own advice is of its day: what to do now rests on the machine and the log as they are now. */
  private async adviseNow(run: number): Promise<void> {
    this.advising?.abort(new DOMException('a newer report came up', 'AbortError'));
    const own = (this.advising = new AbortController());
    let work: WorkNow | null = null;
    try {
      work = await this.services.adviceNow(this.take, own.signal);
    } catch (error) {
      if (isAbort(error) || run !== this.run) return;
      if (error instanceof InputProblem) this.post({ kind: 'problem', message: error.message });
      else this.defect(error);
    }
    if (run !== this.run) return;
    this.work = work;
    this.post({ kind: 'advice', run, ...(work ?? { advice: null, openings: [], record: [] }) });
  }

  close(): void {
    this.analysing?.abort(new DOMException('the page was closed', 'AbortError'));
    this.advising?.abort(new DOMException('the page was closed', 'AbortError'));
    this.ready = false;
    this.report = null;
    this.run = ++this.readings;
  }

  private async answer(message: ToHost): Promise<void> {
    const { services, take, run } = this;
    switch (message.kind) {
      case 'ready':
        this.ready = true;
        return this.refresh();
      case 'clips':
        return this.sendClips(message);
      case 'pin': {
        const takes = await this.pinInTakes(message.channel, message.step);
        if (run === this.run) this.post({ kind: 'pin', run, request: message.request, takes });
        return;
      }
      case 'history': {
        const machine = await services.machineOf(take);
        const own = this.report === null ? undefined : withItsTune(this.report, machine).tune;
        const reports = (await services.takesOfMachine(take))
          .map(({ report }) => withItsTune(report, machine))
          .filter(({ tune }) => tune === own);
        const channels = historyOf(machine, reports);
        if (run === this.run) this.post({ kind: 'history', run, request: message.request, channels });
        return;
      }
      case 'show-pin':
        return services.showPin(take, message.channel, message.step);
      case 'show-finding': {
        const finding = this.report?.findings.at(message.finding);
        return finding === undefined ? undefined : services.showFinding(take, finding);
      }
      case 'review':
        return services.review(take);
      case 'open-strokes':
        return services.openStrokes(take);
      case 'show-newest':
        return services.showNewest(take);
      case 'stop':
        this.analysing?.abort(asAbort(new Stopped()));
        return;
      case 'analyse':
      case 'correct':
      case 'take-back':
      case 'accept':
      case 'fitted':
      case 'hear':
      case 'save-picture':
        // The page does not offer these where nothing may change; a message all the same is not obeyed.
        return services.mayChange ? this.change(message) : undefined;
    }
  }

  private async change(
    message: Extract<
      ToHost,
      { kind: 'analyse' | 'correct' | 'take-back' | 'accept' | 'fitted' | 'hear' | 'save-picture' }
    >,
  ): Promise<void> {
    switch (message.kind) {
      case 'analyse':
        return this.analyse();
      case 'correct':
        return this.correct(message.row);
      case 'take-back':
        return this.takeBack(message.place, message.row);
      case 'accept':
        await this.refuseOlder();
        return this.accept(message);
      case 'hear':
        return this.hear();
      case 'save-picture':
        return this.tell(await this.services.savePicture(this.take, message.png));
      case 'fitted':
        await this.refuseOlder();
        return this.tell(await this.services.fitted(this.take));
    }
  }

  /** Work is noted after the newest take alone: an older one's proposals are of another day. */
  private async refuseOlder(): Promise<void> {
    const { newest } = await this.services.standing(this.take);
    if (newest !== null)
      throw new InputProblem(this.report?.take ?? '', '', `${newest} is newer`, 'note the work on its page');
  }

  /** What the page shows as proposed now, which is what the person says was fitted. */
  private proposed(adjusters: readonly string[]): Record<string, number> {
    const settings = this.work?.advice.settings ?? [];
    if (settings.length === 0)
      throw new InputProblem('machine.jsonc', '', 'what to change is still being worked out', 'choose again');
    return Object.fromEntries(
      settings
        .filter(({ adjuster }) => adjusters.includes(adjuster))
        .map(({ adjuster, proposed }) => [adjuster, proposed]),
    );
  }

  private async accept({ adjusters, others }: Extract<ToHost, { kind: 'accept' }>): Promise<void> {
    const typed: Fitted = Object.fromEntries(others.map(({ adjuster, setting }) => [adjuster, setting]));
    const asProposed = adjusters.length === 0 ? {} : this.proposed(adjusters);
    const message = await this.services.accept(this.take, asProposed, typed);
    this.post({ kind: 'noted', done: message !== null, message });
  }

  private tell(message: string | null): void {
    if (message !== null) this.post({ kind: 'notice', message });
  }

  private async correct(row: Correction): Promise<void> {
    await this.services.changeCorrections(this.take, (before) => addCorrection(before, row));
    await this.analyse();
  }

  private async takeBack(place: number, row: Correction): Promise<void> {
    await this.services.changeCorrections(this.take, (before) => {
      const after = takeBackCorrection(before, place, row);
      if (after !== null) return after;
      throw new InputProblem(
        'corrections.csv',
        '',
        'the correction is no longer in it',
        'look at the file; the page will show it anew after the next analysis',
      );
    });
    await this.analyse();
  }

  /** One at a time: a later wish stops the earlier run. */
  private async analyse(): Promise<void> {
    this.analysing?.abort(new DOMException('a newer analysis was asked for', 'AbortError'));
    const own = (this.analysing = new AbortController());
    const progress = (stage: string, fraction: number) => {
      if (this.analysing === own) this.post({ kind: 'progress', stage, fraction });
    };
    progress('reading', 0);
    try {
      await this.services.analyse(this.take, progress, own.signal);
      if (this.analysing === own) await this.refresh();
    } finally {
      if (this.analysing === own) {
        this.analysing = null;
        this.post({ kind: 'progress', stage: null, fraction: 1 });
      }
    }
  }

  /** Writing a long take anew takes a while; Stop ends it as it ends an analysis. */
  private async hear(): Promise<void> {
    if (this.report === null || this.analysing !== null) return;
    const own = (this.analysing = new AbortController());
    this.post({ kind: 'progress', stage: 'rewriting', fraction: 0 });
    try {
      // As the page shows it: what to change now, where that is known.
      const shown = { ...this.report, advice: this.work?.advice ?? this.report.advice };
      this.tell(await this.services.hear(this.take, shown, own.signal));
    } finally {
      if (this.analysing === own) {
        this.analysing = null;
        this.post({ kind: 'progress', stage: null, fraction: 1 });
      }
    }
  }

  private async sendClips(message: Extract<ToHost, { kind: 'clips' }>): Promise<void> {
    const { run, request, wants } = message;
    const take = message.take ?? this.take;
    let found: Awaited<ReturnType<typeof soundOf>>;
    try {
      const report = await this.reportOf(take);
      found =
        report === null
          ? { clips: wants.map(() => null), why: 'That take is no longer there.' }
          : await soundOf(this.services, take, report, wants);
    } catch (error) {
      if (!(error instanceof InputProblem)) throw error;
      found = { clips: wants.map(() => null), why: error.message };
    }
    if (run === this.run) this.post({ kind: 'clips', run, request, ...found });
  }

  /** The page may ask only about takes of this machine. */
  private async reportOf(take: TakeAddress): Promise<Report | null> {
    return take === this.take ? this.report : this.services.readReport(take);
  }

  private async pinInTakes(channel: string, step: number): Promise<PinInTake[]> {
    const takes = await this.services.takesOfMachine(this.take);
    const rows: PinInTake[] = [];
    for (const [i, { take, report }] of takes.entries()) {
      if (report.tune !== this.report?.tune) continue;
      const pin = report.pins.find((row) => row.channel === channel && row.step === step);
      const isNew = takes.length - i <= mostTakesWithStrokes || take === this.take;
      const whole = isNew ? await this.reportOf(take) : null;
      const strokes = (whole?.hits ?? []).flatMap((hit) =>
        hit.channel === channel &&
        hit.step === step &&
        hit.latenessMs !== null &&
        hit.turn !== null &&
        hit.track !== null
          ? [{ timeS: hit.timeS, track: hit.track, turn: hit.turn, latenessMs: hit.latenessMs }]
          : [],
      );
      rows.push({
        take,
        name: report.take,
        recorded: report.recorded,
        meanMs: pin?.meanMs ?? null,
        ci95Ms: pin?.ci95Ms ?? null,
        strokes: evenlyWithEnds(strokes, mostStrokesOfPin),
      });
    }
    return rows;
  }
}

function isAbort(error: unknown): boolean {
  return error instanceof Error && error.name === 'AbortError';
}
