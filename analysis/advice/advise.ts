/**
 * The advice stage, and what the terminal and the editor call:
 *
 * - `advise(machine, reports, solve, run)` → `Advice`: settings to change, what they should do, in one sentence why
 * - `adviceFindings(machine, advice)` → `Finding[]`: tolerance out of reach, adjusters that contradict the machine file
 * - `driveTable(machine, reports, tempi)` → `DriveTable`: set-point, each channel's lateness and the best ring by tempo
 * - `didItWork(machine, reports)` → `Outcome`: the newest take against what the earlier ones predicted of it
 */
import { NORMAL_95 } from '../numbers/normal.ts';
import type { Machine } from '../machine/machine.ts';
import { ofTune } from '../machine/tune.ts';
import { asOfNow } from './meant.ts';
import type { IntegerSolver, Run } from '../ports.ts';
import { InputProblem } from '../input/problem.ts';
import type { Advice, EarlierReport, Outcome } from '../results/results.ts';
import { predict, worstMeanMs, type Belief } from './belief.ts';
import { doubtsOf } from './doubt-words.ts';
import { experimentOf, isAtEdge } from './experiment.ts';
import { settlingWords } from './experiment-words.ts';
import { effectsOf } from './effects.ts';
import { beliefFromTakes } from './learn.ts';
import { leavingWith, riskOf, type Risk } from './leaving.ts';
import { leavingWords, notProposedWords } from './leaving-words.ts';
import { loudnessOf, loudnessWords } from './level-bound.ts';
import { allowedPlan, type AllowedPlan } from './allowed-plan.ts';
import { piecesWords } from './pieces.ts';
import { goodEnough, roomMs } from './plan.ts';
import type { SparingPlan } from './sparing.ts';
import { obstaclesTo, type Obstacle } from './reach.ts';
import type { Upheld } from './supposition.ts';
import { setAside } from './set-aside.ts';
import { scattered, adviceStep, turnsToResolve } from './stop.ts';
import { summarise } from './summary.ts';
import { unmovedBy, unmovedWords } from './unmoved.ts';
import { unreached } from './unreached.ts';
import { meansWords, stockOf, workOf } from './work.ts';
import { atTempi, tempiOf, tempiWords, type AtTempi } from './tempi.ts';
import { conflictsOf, conflictWords, toldOf } from './conflicts.ts';
import { movedPinsWords, placesLeft, whyLeft } from './moved-pins.ts';
import {
  holdsAnyhow,
  ofSameTune,
  othersAreOut,
  ownTempiWords,
  tunesOf,
  tunesToRecord,
  tunesWords,
  withTunes,
  worstOfAll,
  worstOutOf,
} from './tunes.ts';
import { didItWork } from './outcome.ts';
import { newestOf, unheardIn, unmeasuredIn, withoutCopies } from './takes.ts';

export { driveTable } from './drive.ts';
export { adviceFindings } from './findings.ts';
export { didItWork };

/**
 * What to change on the machine as it stands now, judged by its newest take. The take's settings are where its
 * lateness was measured; `installed` in the machine is where work starts. Where the two differ, work has been done
 * since: it is counted in, and the summary says so.
 *
 * @param reports of the machine's takes, oldest first; the last is the take to act on. Numbers that it does not know
 *   (null) are left out.
 * @returns lateness in ms; `beforeMs` as the take measured it, `afterMs` and `ci95Ms` as predicted with the proposed
 *   settings; `worst…Ms` the largest |mean lateness| of all groups
 * @throws the signal's reason when the run is stopped
 */
export async function advise(
  given: Machine,
  reports: readonly EarlierReport[],
  solve: IntegerSolver,
  run: Run = {},
  { minutes, outcome }: Wishes = {},
): Promise<Advice> {
  run.progress?.('advising', 0);
  const { own, copies } = withoutCopies(reports.map((each) => asOfNow(each, given)));
  const report = own.at(-1);
  const machine = ofTune(given, report?.tune);
  if (report === undefined || report.tempo.secondsPerTurn === null) return nothingMeasured(report);
  const belief = beliefFromTakes(machine, own);
  if (belief.groups.length === 0) return nothingMeasured(report);
  if (minutes !== undefined) refuseUntimed(machine);
  const tempi = atTempi(belief, ofSameTune(own, report.tune));
  const planned = withTunes(tempi?.belief ?? belief, belief, report.tune);
  const allowed = await allowedPlan(planned, minutes, solve, run);
  const cut = isCut(allowed);
  const plan = { ...allowed.plan, aside: groupsOf(belief, tempi, allowed.plan.aside) };
  const { movedPins = [] } = plan;
  const toRecord = tunesToRecord(belief);
  const conflicts = cut ? [] : await conflictsOf(planned, allowed.plan, toRecord, { solve, run });
  const isOut = plan.outcome === 'out-of-reach' || plan.aside.length > 0;
  const left = {
    settings: plan.settings,
    roomMs: planned.groups.map(roomMs),
    known: new Map([
      ...whyLeft(movedPins),
      ...conflicts.map(({ g, message }) => [g, message] as const),
      ...lackingOf(planned, allowed),
    ]),
  };
  const hasReason = conflicts.length + plan.aside.length + movedPins.length > 0;
  const isToldOtherwise = cut || hasReason || machine.description.stock !== undefined;
  // What settings bring in by its mean, if not by its whole interval, is not out of reach.
  const isReachable = isOut && !isToldOtherwise && (await unreached(planned, solve, run)).length === 0;
  const obstacles = isOut && !cut && !isReachable ? await obstaclesTo(planned, left, solve, run) : [];
  run.progress?.('advising', 1);
  const tunes = await tunesOf(belief, report, plan.settings, solve, run);
  const told = toldOf(planned, conflicts);
  // Of a tune that has to be recorded first nothing can be said of the least.
  const isKnown = toRecord.length === 0;
  const notProposed = isKnown && !cut ? notProposedWords(planned, allowed.plan) : [];
  const basis = {
    report,
    copies,
    newest: newestOf(own),
    tunes,
    planned,
    overTempi: tempi === null ? null : planned,
    isConflict: conflicts.length > 0,
    isCut: cut,
    isAtEdge: isAtEdge(planned, plan.settings),
    risk: riskOf(planned, allowed.plan.settings),
    isKept: leavingWith(planned, allowed.plan.settings).length === 0,
    isHeldBack: notProposed.length > 0,
    standing: movedPins.map(({ movement }) => movement),
    movedPins: placesLeft(planned, movedPins),
  };
  const advice = written(belief, plan, obstacles, basis);
  const work = workOf(planned, allowed);
  const stock = stockOf(planned, allowed);
  const withoutBound = allowed.louder;
  const loudness = loudnessOf(
    machine,
    plan.settings,
    withoutBound === null ? null : worstMeanMs(planned, withoutBound.settings),
  );
  const overTempi = tempi === null ? null : await tempiOf(tempi, plan.settings, solve, run);
  const lessons = experimentOf(belief, toLearn(belief, tempi, allowed), report, minutes);
  const experiment = lessons?.single ?? null;
  const unmoved = unmovedBy(
    machine,
    outcome === undefined ? didItWork(given, reports) : outcome,
    advice.doubts ?? [],
  );
  return {
    ...advice,
    ...(experiment === null ? {} : { experiment }),
    ...(lessons === null || cut ? {} : { settling: lessons.whole }),
    ...(unmoved.length === 0 ? {} : { unmoved }),
    ...(work === null ? {} : { work }),
    ...(stock === null ? {} : { stock }),
    ...(overTempi === null ? {} : { tempi: overTempi }),
    ...(loudness === null ? {} : { loudness }),
    ...(tunes === null ? {} : { tunes: { ...tunes, ...(told.length === 0 ? {} : { conflicts: told }) } }),
    summary: [
      ...unmovedWords(unmoved),
      advice.summary,
      ...(lessons === null || experiment !== null || cut ? [] : settlingWords(lessons.whole)),
      ...leavingWords(planned, allowed.plan),
      ...movedPinsWords(planned, allowed.plan),
      ...conflictWords(told, isKnown),
      ...notProposed,
      ...(tunes === null ? [] : tunesWords(tunes, holdsAnyhow(belief, plan.settings))),
      ...ownTempiWords(belief),
      ...(overTempi === null ? [] : tempiWords(overTempi)),
      ...(loudness === null ? [] : loudnessWords(machine, loudness)),
      ...meansWords(work, stock, advice.worstAfterMs),
    ].join(' '),
  };
}

/** Groups that a few more pieces would bring in, by index, with what is missing. */
function lackingOf(belief: Belief, { wanting }: AllowedPlan): [number, string][] {
  if (wanting === null || wanting.built.buy.length === 0) return [];
  const message = `the drawer does not hold what it takes, ${piecesWords(wanting.built.buy)} more`;
  return predict(belief, wanting.plan.settings).flatMap(({ meanMs }, g): [number, string][] =>
    Math.abs(meanMs) <= roomMs(belief.groups[g]) ? [[g, message]] : [],
  );
}

/** Whether more time would do more: then what is out of tolerance is not out of reach. */
function isCut({ timed, plan }: AllowedPlan): boolean {
  return timed !== null && timed.whole.settings.some((setting, a) => setting !== plan.settings[a]);
}

/** The plan that is to be promised in the end: what is learnt in a short session is learnt for all that would help. */
function toLearn(belief: Belief, tempi: AtTempi | null, allowed: AllowedPlan) {
  const plan = allowed.timed?.whole ?? allowed.plan;
  return { ...plan, aside: groupsOf(belief, tempi, plan.aside), isCut: isCut(allowed) };
}

/** Groups at any tempo as groups of the take's; those of other tunes are no groups of its own. */
function groupsOf({ groups }: Belief, tempi: AtTempi | null, aside: readonly number[]): number[] {
  const of = tempi?.of ?? [...groups.keys()];
  return [...new Set(aside.flatMap((g) => (g < of.length ? [of[g]] : [])))];
}

/** What a person asks of a plan beside the least lateness. */
export interface Wishes {
  /** How long the work may take. */
  readonly minutes?: number;
  /** What didItWork says of the same reports, where it was asked already. */
  readonly outcome?: Outcome | null;
}

/** @throws InputProblem where the machine does not say how long its changes take */
function refuseUntimed({ file, description }: Machine): void {
  const untimed = description.adjusters.find(({ access, locked }) => access === undefined && locked !== true);
  if (untimed === undefined) return;
  throw new InputProblem(
    file,
    `adjusters: ${untimed.id}`,
    'has no "access", so how long its change takes is not known',
    'add it: "access": [ { "id": "bench", "openMinutes": 0, "changeMinutes": 5 } ] and "access": "bench" there',
  );
}

/** What makes the take unusable is said, where a finding knows it. */
function nothingMeasured(report: EarlierReport | undefined): Advice {
  const fault = report?.findings.find(({ severity }) => severity === 'error');
  const why =
    fault === undefined ? '.' : `: ${fault.message}${fault.mend === undefined ? '' : `; ${fault.mend}`}.`;
  return {
    settings: [],
    predicted: [],
    effects: [],
    summary: `Nothing was measured that advice could rest on${why}`,
    worstBeforeMs: null,
    worstAfterMs: null,
    proven: true,
  };
}

interface Basis {
  /** The take that is acted on. */
  readonly report: EarlierReport;
  readonly copies: NonNullable<Advice['copies']>;
  readonly newest: Advice['newest'];
  readonly tunes: Awaited<ReturnType<typeof tunesOf>>;
  /** Groups of all tunes and tempi. */
  readonly planned: Belief;
  /** Groups at all tempi that are meant; null where the machine names none. */
  readonly overTempi: Belief | null;
  /** Whether tunes ask for different settings. */
  readonly isConflict: boolean;
  /** Whether more time would bring more. */
  readonly isCut: boolean;
  /** Whether a mean within tolerance lies too near its edge to be promised, were the effects known. */
  readonly isAtEdge: boolean;
  /** Of the groups that surely lie within tolerance. */
  readonly risk: Risk;
  /** Whether all that is in tolerance stays there. */
  readonly isKept: boolean;
  /** Whether less lateness would take something out of it. */
  readonly isHeldBack: boolean;
  /** Movements of one tune's pins that nothing was done about. */
  readonly standing: readonly Upheld[];
  readonly movedPins: ReturnType<typeof placesLeft>;
}

function written(belief: Belief, plan: SparingPlan, obstacles: Obstacle[], basis: Basis): Advice {
  const { report, copies, newest, tunes, planned, overTempi, standing } = basis;
  const { channels, adjusters, barrel } = belief.machine.description;
  const after = predict(belief, plan.settings);
  const predicted = belief.groups.map(({ channel, sector, measuredMs, toleranceMs }, g) => ({
    channel: channels[channel].id,
    sector: barrel.sectors[sector].id,
    beforeMs: measuredMs,
    afterMs: after[g].meanMs,
    // Of the next take, one wandering later.
    ci95Ms: Math.hypot(after[g].ci95Ms, NORMAL_95 * belief.wanderMs[g]),
    toleranceMs,
  }));
  const settings = adjusters.flatMap(({ id, unit, installed }, a) =>
    plan.settings[a] === installed ? [] : [{ adjuster: id, unit, installed, proposed: plan.settings[a] }],
  );
  const unheard = unheardIn(belief.machine, report);
  const unmeasured = unmeasuredIn(belief.machine, report);
  const atTake = adviceStep(belief, plan);
  // Well at the take's tempo is not well at all that are meant.
  const isUnwell = overTempi !== null && !goodEnough(overTempi, predict(overTempi, plan.settings));
  const farthest = worstOutOf(planned, plan.settings);
  const atTempi = farthest.isOut ? ('out-of-reach' as const) : ('not-resolvable' as const);
  const own = isUnwell && atTake !== 'change' && atTake !== 'out-of-reach' ? atTempi : atTake;
  // Where another tune is out, or nobody knows whether it is, nobody is told to stop.
  const othersOut = othersAreOut(belief, plan.settings);
  const toRecord = tunesToRecord(belief);
  const isWell = own !== 'good-enough' || !(othersOut || toRecord.length > 0);
  const step = isWell ? own : ('not-resolvable' as const);
  const [, ...others] = tunes?.rows ?? [];
  const worst = worstOfAll(belief, report.tune, plan.settings);
  const isPartial = unheard.length + unmeasured.length > 0;
  const advice = {
    settings,
    predicted,
    effects: effectsOf(belief),
    worstBeforeMs: Math.max(
      ...predicted.map(({ beforeMs }) => Math.abs(beforeMs)),
      ...others.map(({ worstBeforeMs }) => worstBeforeMs),
    ),
    worstAfterMs: Math.abs(worst.meanMs),
    proven: plan.proven,
    gap: plan.gap,
    obstacles,
    // What was not measured may be out: nobody is told to stop.
    step: isPartial && step === 'good-enough' ? ('not-resolvable' as const) : step,
    turnsToResolve: turnsToResolve(belief, plan, report),
    scattered: scattered(belief, plan, report),
    doubts: doubtsOf(belief, belief.rounds, standing),
    setAside: setAside(belief, plan, obstacles),
    unheard,
    unmeasured,
    copies,
    ...(newest === undefined ? {} : { newest }),
  };
  const words = {
    ...basis,
    ...advice,
    othersOut,
    toRecord,
    worst: farthest,
  };
  return { ...advice, summary: summarise(belief, plan, words) };
}
