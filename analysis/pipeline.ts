/** The whole way of the data: take → hits → strokes → checks → advice → report. Each stage has a folder of its own. */
import { advise, adviceFindings, didItWork } from './advice/advise.ts';
import { ofSameTune } from './advice/tunes.ts';
import { runChecks, sectionsOf } from './checks/index.ts';
import type { Check } from './checks/check.ts';
import {
  applyCorrections,
  unreadFindings,
  type Correction,
  type UnreadCorrection,
} from './hits/corrections.ts';
import { hearInStep } from './hits/hear-in-step.ts';
import { heardAsAnother } from './strokes/hear-tunes.ts';
import { countInstants } from './hits/instants.ts';
import type { SavedVoice } from './hits/learn/saved-voice.ts';
import type { Machine } from './machine/machine.ts';
import { ofTune, withItsTune } from './machine/tune.ts';
import type { IntegerSolver, Run, SourceFile } from './ports.ts';
import { fadingFindings } from './report/level-course.ts';
import { buildReport } from './report/report.ts';
import type { EarlierReport, Finding, Report } from './results/results.ts';
import { withCodingDoubts } from './hits/coding-error.ts';
import { summariseGroups } from './strokes/groups.ts';
import { withClocks } from './strokes/clock-error.ts';
import { withLevels } from './strokes/levels.ts';
import { layOnBarrel, notLaid } from './strokes/lay.ts';
import { summarisePins } from './strokes/pins.ts';
import type { MarkerReader } from './take/markers/marker-reader.ts';
import { readTake } from './take/read.ts';

/** What others added to the core; each runs after the built-in ones of its kind. */
export interface Extras {
  readonly extraChecks?: readonly Check[];
  readonly extraMarkerReaders?: readonly MarkerReader[];
}

/** What an analysis starts from. */
export interface TakeInput extends Extras {
  readonly machine: Machine;
  /** The take folder's name. */
  readonly name: string;
  readonly files: readonly SourceFile[];
  /** This take's report from an earlier analysis: its settings and date are frozen there. */
  readonly earlier: EarlierReport | null;
  /** What the host noticed before the take was read. */
  readonly noticed?: readonly Finding[];
  /** A person's word about hits; applied after hearing. */
  readonly corrections?: readonly Correction[];
  /** Rows that were meant for corrections and cannot be read. */
  readonly unreadCorrections?: readonly UnreadCorrection[];
  /** How channels sound, saved from other takes. */
  readonly voices?: readonly SavedVoice[];
  /**
   * Reports of the machine's earlier takes, oldest first; advice learns from them. Fetched once the take is measured:
   * of several takes at once each waits here for its turn.
   */
  readonly history: () => Promise<readonly EarlierReport[]>;
}

/**
 * Analyses one take.
 *
 * @throws InputProblem where a file of the take cannot be used; the signal's reason when the run is stopped
 */
export async function analyse(input: TakeInput, solve: IntegerSolver, run: Run = {}): Promise<Report> {
  const { machine, measured } = await measureTake(input, run);
  const reports = [...(await input.history()), measured];
  const outcome = didItWork(machine, reports);
  const advice = await advise(machine, reports, solve, run, { outcome });
  const findings = [
    ...measured.findings,
    ...adviceFindings(machine, advice),
    ...fadingFindings(
      machine,
      ofSameTune(
        reports.map((report) => withItsTune(report, machine)),
        machine.tune,
      ),
    ),
  ];
  return { ...measured, advice, findings, ...(outcome === null ? {} : { outcome }) };
}

/**
 * What the take alone tells: no advice, and nothing of other takes.
 *
 * @throws as analyse
 */
export async function measure(input: Omit<TakeInput, 'history'>, run: Run = {}): Promise<Report> {
  return (await measureTake(input, run)).measured;
}

async function measureTake(input: Omit<TakeInput, 'history'>, run: Run) {
  const { name, files, earlier, extraChecks, extraMarkerReaders } = input;
  const reading = { ...run, extraReaders: extraMarkerReaders };
  const read = await readTake(name, files, input.machine, frozenBy(earlier, input.machine), reading);
  const machine = ofTune(input.machine, read.description.tune);
  const first = await hearInStep(read, machine, run, input.voices);
  const otherTune = await heardAsAnother(read, first, machine, run, input.voices);
  const { take, hearing: heard } = first;
  const { hearing: mended, findings: corrected } = applyCorrections(heard, machine, input.corrections ?? []);
  const hearing = countInstants(mended, machine, take);
  const strokes = otherTune === null ? layOnBarrel(hearing, machine, take) : notLaid(hearing, otherTune);
  const clocked = withClocks(summariseGroups(strokes, machine), strokes, machine, take);
  const timed = withCodingDoubts(clocked, strokes.hits, machine, take);
  const groups = withLevels(timed, strokes, machine, hearing);
  const pins = summarisePins(strokes, machine);
  const study = { machine, take, hearing, strokes, groups, pins };
  const measured = {
    ...buildReport(study, [
      ...runChecks(study, extraChecks),
      ...corrected,
      ...unreadFindings(input.unreadCorrections ?? []),
      ...(input.noticed ?? []),
    ]),
    sections: sectionsOf(study, extraChecks),
  };
  return { machine, measured };
}

function frozenBy(earlier: EarlierReport | null, machine: Machine) {
  return {
    recordedBefore: earlier?.recorded ?? null,
    settingsBefore: earlier?.settings ?? null,
    tuneBefore: tuneOfBefore(earlier, machine),
  };
}

/** Of a report from when the machine had one pattern, the tune that has its pins now; null where none has. */
function tuneOfBefore(earlier: EarlierReport | null, machine: Machine): string | null {
  if (earlier === null || earlier.tune !== undefined) return null;
  return withItsTune(earlier, machine).tune ?? null;
}
