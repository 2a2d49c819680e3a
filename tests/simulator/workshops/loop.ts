/** One machine through its rounds: recorded, analysed, advised, changed by a person, recorded again; each round is judged. */
import { advise } from '../../../analysis/advice/advise.ts';
import { readMachine } from '../../../analysis/machine/read.ts';
import { analyse } from '../../../analysis/pipeline.ts';
import type { IntegerSolver, SourceFile } from '../../../analysis/ports.ts';
import { InputProblem } from '../../../analysis/input/problem.ts';
import type { EarlierReport, Report } from '../../../analysis/results/results.ts';
import { byRecorded } from '../../../analysis/take/order.ts';
import { falselyGood, madeWorse, meansHeld, predictionsHeld, standing } from './judge.ts';
import { ideas, newestTold } from './kinds.ts';
import { fit, note } from './person.ts';
import { play } from './physics.ts';
import { chance } from './random.ts';
import type { Situation } from './situation.ts';
import { machineText, markerText, patternText, takeText, usualRecorder } from './texts.ts';
import { build, copyOf, usualShape, type World } from './world.ts';

export interface Round {
  /** Worst group as a multiple of tolerance, and groups within, while the take was recorded. */
  readonly worst: number;
  readonly within: number;
  readonly falseNothing: boolean;
  /** null where nothing was proposed; `foreseeable` is false where no take yet could have shown the fault. */
  readonly worse: boolean | null;
  readonly foreseeable: boolean;
  readonly kinds: readonly string[];
  readonly meansHeld: readonly boolean[];
  readonly errorsMs: readonly number[];
  readonly doubted: number;
  readonly predictionsHeld: readonly boolean[];
  /** What was proposed and what was said first, for a person who looks into one machine. */
  readonly told: string;
  readonly summary: string;
  /** The take could not be used: what was said. */
  readonly refused: string | null;
}

export interface Run {
  readonly seed: number;
  readonly rounds: readonly Round[];
  /** Worst after the last change. */
  readonly lastWorst: number;
  /** First take that could show the fault; null where the fault did not come about. */
  readonly evidentFrom: number | null;
}

interface Kept {
  readonly name: string;
  readonly recorded: string | null;
  readonly report: EarlierReport;
}

const encoder = new TextEncoder();
function file(name: string, text: string): SourceFile {
  const bytes = encoder.encode(text);
  return {
    name,
    sizeBytes: bytes.length,
    read: (from = 0, to = bytes.length) => Promise.resolve(bytes.slice(from, Math.max(from, to))),
  };
}

const usualTakes = 4;

export async function runWorkshop(situation: Situation, seed: number, solve: IntegerSolver): Promise<Run> {
  const world = build({ ...usualShape, ...situation.shape }, seed);
  const random = chance(seed, 'workshop');
  situation.prepare?.(world, random.apart('fault'));
  const rounds: Round[] = [];
  const kept: Kept[] = [];
  const stood: number[][] = [];
  let files: SourceFile[] = [];
  let evidentFrom: number | null = situation.act === undefined ? (situation.evidentFrom ?? 0) : null;
  for (let k = 0; k < (situation.takes ?? usualTakes); k++) {
    situation.before?.(world, k, random.apart(`before ${k}`));
    stood.push(world.parts.map(({ stands }) => stands));
    const name = situation.takeName?.(k) ?? `take-${k + 1}`;
    const recorder = { ...usualRecorder, ...situation.recorder?.(k) };
    const markers = markerText(play(world, random.apart(`take ${k}`)), world, recorder);
    const fresh = [file('markers.csv', markers), file('take.jsonc', takeText(world, k, recorder))];
    files = situation.repeats?.(k) ? [files[0], fresh[1]] : fresh;
    const before = standing(world, situation);
    const report = await reportOf(world, name, files, kept, solve);
    if (typeof report === 'string') {
      rounds.push({ ...nothingSaid, worst: before.worst, within: before.within, refused: report });
      continue;
    }
    const told = report.advice.settings.map(({ adjuster, installed, proposed }) => ({
      adjuster,
      from: installed,
      to: proposed,
    }));
    const asTold = copyOf(world);
    fit(asTold, told, random.apart(`as told ${k}`));
    // A copy of an earlier recording is of the machine as it stood then, and is named as that.
    const { held, errorsMs, doubted } = situation.repeats?.(k)
      ? nothingHeld
      : meansHeld(report, before, world);
    const foreseeable = !situation.standing || k >= (situation.evidentFrom ?? 0);
    rounds.push({
      worst: before.worst,
      within: before.within,
      falseNothing: falselyGood(report, before, world),
      worse: told.length === 0 ? null : madeWorse(before, asTold, situation),
      foreseeable,
      kinds: saidIn(report),
      meansHeld: held,
      errorsMs,
      doubted,
      predictionsHeld: foreseeable ? predictionsHeld(report, asTold) : [],
      told: told.map(({ adjuster, from, to }) => `${adjuster} ${from}→${to}`).join(', '),
      summary: report.advice.summary,
      refused: null,
    });
    const { done, noted, erred } = situation.act?.(told, world, k) ?? {
      done: told,
      noted: told,
      erred: false,
    };
    if (erred) evidentFrom ??= k + 1;
    fit(world, done, random.apart(`fit ${k}`));
    note(world, noted);
    if (evidentFrom !== null && k >= evidentFrom) settle(situation, world, report, kept, stood);
  }
  return { seed, rounds, lastWorst: standing(world, situation).worst, evidentFrom };
}

/** Kinds of finding, and where the advice says which take it takes for the newest, that. */
function saidIn({ findings, advice }: Report): string[] {
  const { newest } = advice as { readonly newest?: unknown };
  return [
    ...new Set<string>([...findings.map(({ kind }) => kind), ...(newest === undefined ? [] : [newestTold])]),
  ];
}

const nothingHeld = { held: [], errorsMs: [], doubted: 0 };

const nothingSaid: Omit<Round, 'worst' | 'within' | 'refused'> = {
  falseNothing: false,
  worse: null,
  foreseeable: true,
  kinds: [],
  meansHeld: [],
  errorsMs: [],
  told: '',
  summary: '',
  doubted: 0,
  predictionsHeld: [],
};

/** Analysed as the command does: takes in their order, and the advice that of the newest. The refusal where there is one. */
async function reportOf(
  world: World,
  name: string,
  files: readonly SourceFile[],
  kept: Kept[],
  solve: IntegerSolver,
): Promise<Report | string> {
  try {
    const machine = await readMachine('machine.jsonc', machineText(world), () =>
      Promise.resolve(encoder.encode(patternText(world))),
    );
    const history = () => {
      const recorded = recordedIn(files);
      return recorded.then((own) =>
        kept.filter((take) => byRecorded(take, { name, recorded: own }) < 0).map(({ report }) => report),
      );
    };
    const report = await analyse({ machine, name, files, earlier: null, history }, solve);
    kept.push({ name, recorded: report.recorded, report });
    kept.sort(byRecorded);
    if (kept[kept.length - 1].name === name) return report;
    const advice = await advise(machine, kept.map((take) => take.report), solve); // prettier-ignore
    return { ...report, advice };
  } catch (error) {
    if (error instanceof InputProblem) return error.message;
    throw error;
  }
}

async function recordedIn(files: readonly SourceFile[]): Promise<string | null> {
  const description = files.find((one) => one.name === 'take.jsonc')!;
  const said = JSON.parse(new TextDecoder().decode(await description.read())) as { recorded?: string };
  return said.recorded ?? null;
}

/**
 * Told that something is not as written, the person counts the units at each adjuster that the finding names, and corrects
 * machine.jsonc and the settings of the takes since.
 */
function settle(situation: Situation, world: World, report: Report, kept: Kept[], stood: number[][]): void {
  if (situation.part !== 'C' || situation.finding === undefined) return;
  const accepted: readonly string[] = ideas[situation.finding];
  const said = report.findings.filter(({ kind }) => accepted.includes(kind));
  if (said.length === 0) return;
  situation.settle?.(world);
  world.parts.forEach((part, a) => {
    const named = said.some(({ adjuster, message }) => adjuster === part.id || message.includes(part.id));
    if (!named) return;
    part.written = Math.round(part.stands);
    kept.forEach((take, k) => {
      const settings = { ...take.report.settings, [part.id]: Math.round(stood[k][a]) };
      kept[k] = { ...take, report: { ...take.report, settings } };
    });
  });
}
