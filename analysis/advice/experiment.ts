/**
 * Where the plan cannot be promised because of what adjusters do a unit: the one change that would teach most of it and makes
 * nothing worse meanwhile, and the shortest take that settles it. It teaches most that leaves the least variance of the
 * lateness as planned, each group's as a share of its tolerance squared (a design for prediction, V-optimal: Fedorov 1972,
 * Theory of Optimal Experiments, from memory).
 */
import { NORMAL_95 } from '../numbers/normal.ts';
import { shiftOf } from './effects.ts';
import type { Advice, EarlierReport } from '../results/results.ts';
import { SLACK_MS } from './ask.ts';
import { changedSinceTake, endMs, geometricShiftMs, installedOf, predict, type Belief } from './belief.ts';
import { choicesOf, type Choice } from './choices.ts';
import {
  knownOf,
  learntFrom,
  wanderOf,
  type Known,
  type ExpectedLearning,
  type Noise,
} from './expected-learning.ts';
import { experimentWords } from './experiment-words.ts';
import { costOfPlan, minutesOf } from './minutes.ts';
import { withinMs } from './question.ts';
import type { SparingPlan } from './sparing.ts';
import { stockAllows } from './stock.ts';
import { promisedWanderMs } from './wander.ts';
import { noiseMs2, noiseOf, turnsHeard } from './take-noise.ts';

export type Experiment = NonNullable<Advice['experiment']>;

/** Longer takes nobody records for the sake of one adjuster: at half a minute a turn, half an hour. */
const MOST_TURNS = 60;
/** Each pin has to come round twice, or nothing tells chance. */
const LEAST_TURNS = 2;
/** Of fewer than three strokes no mean is given (strokes/groups.ts); one more, since one may be missed. */
const LEAST_STROKES = 4;
/** What teaches less by no more than this share teaches as much: then the cheaper change is taken, and what improves more. */
const AS_MUCH = 0.02;
/** A change that takes off less of the variance than this is no experiment. */
const LEAST_TAUGHT = 0.1;
/** Settings that are tried, over all adjusters, and of each at least: the work grows with the cube of the adjusters. */
const MOST_TRIED = 800;
const LEAST_TRIED = 5;

export interface Candidate {
  readonly adjuster: number;
  readonly settings: readonly number[];
  /** Σ variance as planned over tolerance squared, of the groups that are too unsure now. */
  readonly left: number;
  readonly cost: number;
  /** Σ |mean lateness| of the groups that it moves, ms. */
  readonly laterMs: number;
  /** Whole units. */
  readonly steps: number;
}

export interface Lessons {
  /** What a take after all changes of the plan settles. */
  readonly whole: NonNullable<Advice['settling']>;
  /** null where no single change teaches much and makes nothing worse */
  readonly single: Experiment | null;
}

/**
 * @param belief of the newest take, at its tempo; `report` that take
 * @param plan  that is to be promised; `isCut`: the work may not take long enough for it
 * @param minutes how long the work may take
 * @returns null where the plan can be promised, or it is not the effects that stand in the way, or work was done since the
 *   take (what it did is to be measured first)
 */
export function experimentOf(
  belief: Belief,
  plan: SparingPlan & { readonly isCut: boolean },
  report: EarlierReport,
  minutes = Infinity,
): Lessons | null {
  if (belief.effects.some((_, a) => changedSinceTake(belief, a))) return null;
  const unsure = unsureOf(belief, plan);
  if (unsure.length === 0) return null;
  const take = new Take(belief, report);
  const usualMs = wanderOf(belief);
  const promisedMs = usualMs.map((ms) => promisedWanderMs(ms, belief.rounds.length));
  const { settings } = plan;
  const known = knownOf(belief, settings, take.standingMs2, usualMs);
  const promised = knownOf(belief, settings, take.standingMs2, promisedMs);
  const lesson = { unsure, take, known, promised, promisedMs };
  const best = bestOf(candidates(lesson, minutes), leftOf(lesson, varianceOf(belief, settings)));
  const whole = wholeOf(lesson);
  return { whole, single: best === null ? null : described(lesson, best, whole, plan.isCut) };
}

/** What is to be learnt. */
export interface ExperimentQuestion {
  readonly known: Known;
  /** Groups that the plan cannot be promised for. */
  readonly unsure: readonly number[];
  readonly take: Take;
  /** As `known`, with takes that wander as far as is to be reckoned with; by group that wander, ms. */
  readonly promised: Known;
  readonly promisedMs: readonly number[];
}

/** Σ variance as planned over tolerance squared, of the groups that are too unsure. */
function leftOf({ known, unsure }: ExperimentQuestion, plannedMs2: readonly number[]): number {
  const { groups } = known.belief;
  return unsure.reduce((sum, g) => sum + plannedMs2[g] / groups[g].toleranceMs ** 2, 0);
}

/** Groups whose interval as planned reaches beyond what is asked, and would not if the effects were known. */
export function unsureOf(belief: Belief, { settings, aside }: SparingPlan): number[] {
  const certain = predict({ ...belief, ...without(belief) }, settings);
  return predict(belief, settings).flatMap((prediction, g) => {
    const most = withinMs(belief.groups[g]) + SLACK_MS;
    return endMs(prediction) > most && endMs(certain[g]) <= most && !aside.includes(g) ? [g] : [];
  });
}

/** Whether some interval would reach beyond what is asked were the effects known: its mean lies too near the edge. */
export function isAtEdge(belief: Belief, settings: readonly number[]): boolean {
  return predict({ ...belief, ...without(belief) }, settings).some(
    (prediction, g) => endMs(prediction) > withinMs(belief.groups[g]) + SLACK_MS,
  );
}

function without({
  factorCovariance,
  groupCovariance,
}: Belief): Pick<Belief, 'factorCovariance' | 'groupCovariance'> {
  return {
    factorCovariance: factorCovariance.map((row) => new Float64Array(row.length)),
    groupCovariance: groupCovariance.map((row) => new Float64Array(row.length)),
  };
}

function varianceOf(belief: Belief, settings: readonly number[]): number[] {
  return predict(belief, settings).map(({ ci95Ms }) => (ci95Ms / NORMAL_95) ** 2);
}

/** The take to come, as the newest one tells of it. */
export class Take {
  /** NaN where nothing tells. */
  readonly turns: number;
  readonly standingMs2: readonly number[];
  private readonly noise;
  private readonly known = new Map<string, readonly number[]>();

  constructor(
    private readonly belief: Belief,
    report: EarlierReport,
  ) {
    const { channels, barrel } = belief.machine.description;
    this.turns = turnsHeard(report);
    this.noise = belief.groups.map(({ channel, sector }) =>
      noiseOf(report, channels[channel].id, barrel.sectors[sector].id),
    );
    this.standingMs2 = this.noise.map((noise) => noise?.standingMs2 ?? 0);
  }

  /** Whether so many turns give a group strokes enough; false where the newest take does not tell. */
  measures(g: number, turns: number): boolean {
    const noise = this.noise[g];
    return noise !== null && turns * noise.strokesPerTurn >= LEAST_STROKES;
  }

  /** A take of so many turns; of one like the newest where they are left out. */
  of(turns?: number): Noise {
    const key = `${turns}`;
    const groupMs2 =
      this.known.get(key) ??
      this.noise.map((noise, g) =>
        noise === null || turns === undefined
          ? (this.belief.groups[g].measuredCi95Ms / NORMAL_95) ** 2 - this.standingMs2[g]
          : noiseMs2(noise, turns, true),
      );
    this.known.set(key, groupMs2);
    const reference = (this.belief.rounds.at(-1)?.referenceSdMs ?? 0) ** 2;
    const shorter = turns === undefined || Number.isNaN(this.turns) ? 1 : this.turns / turns;
    return { groupMs2, referenceMs2: reference * shorter };
  }
}

/** Every single change that is allowed and makes nothing worse. */
export function candidates(lesson: ExperimentQuestion, minutes: number): Candidate[] {
  const { known, unsure, take } = lesson;
  const { belief } = known;
  const { machine } = belief;
  const installed = installedOf(machine);
  const most = Math.max(LEAST_TRIED, Math.floor(MOST_TRIED / belief.effects.length));
  return choicesOf(belief).flatMap((choice) => {
    const a = choice.adjuster;
    if (!unsure.some((g) => belief.share[g][a] !== 0) || belief.factorCovariance[a][a] === 0) return [];
    return settingsOf(choice, known.plan[a], most).flatMap((setting) => {
      const settings = installed.map((own, b) => (b === a ? setting : own));
      if (minutes < Infinity && minutesOf(machine, settings) > minutes) return [];
      if (!keepsLimits(belief, settings) || worsens(belief, a, setting) || !stockAllows(machine, settings))
        return [];
      return [
        {
          settings,
          adjuster: a,
          left: leftOf(lesson, learntFrom(known, settings, take.of()).plannedMs2),
          cost: costOfPlan(machine, settings),
          laterMs: latenessLeft(belief, a, setting),
          steps: Math.abs(setting - choice.installed),
        },
      ];
    });
  });
}

/** So many at most, evenly spread, and what the plan has. */
function settingsOf({ spans }: Choice, planned: number, most: number): number[] {
  const all = spans.flatMap(({ lo, hi }) => Array.from({ length: hi - lo + 1 }, (_, i) => lo + i));
  const stride = Math.ceil(all.length / most);
  return all.filter((setting, i) => i % stride === 0 || setting === planned);
}

/** A sum that the machine breaks as it stands may not get worse. */
function keepsLimits({ machine }: Belief, settings: readonly number[]): boolean {
  const { adjusters, limits } = machine.description;
  return limits.every(({ adjusters: ids, sumMin = -Infinity, sumMax = Infinity }) => {
    const members = adjusters.flatMap(({ id }, a) => (ids.includes(id) ? [a] : []));
    const now = members.reduce((sum, a) => sum + adjusters[a].installed, 0);
    const then = members.reduce((sum, a) => sum + settings[a], 0);
    return then <= Math.max(sumMax, now) && then >= Math.min(sumMin, now);
  });
}

/** Σ |mean| of the groups that an adjuster moves, once it is changed, ms. */
function latenessLeft(belief: Belief, a: number, setting: number): number {
  const shift = geometricShiftMs(belief, a, setting) * belief.effects[a].factor;
  return belief.groups.reduce((sum, { meanMs }, g) => {
    const share = belief.share[g][a];
    return share === 0 ? sum : sum + Math.abs(meanMs + share * shift);
  }, 0);
}

/** Whether a group's mean, or the far end of its interval, comes out farther than it is and than is asked. */
function worsens(belief: Belief, a: number, setting: number): boolean {
  const { effects, factorCovariance, groupCovariance } = belief;
  const shift = geometricShiftMs(belief, a, setting);
  const { factor, refitMs } = effects[a];
  return belief.groups.some(({ meanMs, ci95Ms, toleranceMs }, g) => {
    const move = belief.share[g][a] * shift;
    if (belief.share[g][a] === 0) return false;
    const variance =
      (ci95Ms / NORMAL_95) ** 2 +
      2 * move * groupCovariance[g][a] +
      move ** 2 * factorCovariance[a][a] +
      (belief.share[g][a] * refitMs) ** 2;
    const then = Math.abs(meanMs + move * factor);
    const end = then + NORMAL_95 * Math.sqrt(Math.max(0, variance));
    const most = Math.max(withinMs(belief.groups[g]), Math.abs(meanMs) + ci95Ms);
    return then > Math.max(toleranceMs, Math.abs(meanMs)) + SLACK_MS || end > most + SLACK_MS;
  });
}

/** Of those that teach as much the cheapest, then the one that leaves least lateness, then the smallest step. */
function bestOf(all: readonly Candidate[], before: number): Candidate | null {
  const least = Math.min(...all.map(({ left }) => left));
  if (!(before - least >= LEAST_TAUGHT * before)) return null;
  const asGood = all.filter(({ left }) => before - left >= (1 - AS_MUCH) * (before - least));
  const order = (x: Candidate, y: Candidate) => x.cost - y.cost || x.laterMs - y.laterMs || x.steps - y.steps;
  return asGood.reduce((x, y) => (order(y, x) < 0 ? y : x));
}

function wholeOf(lesson: ExperimentQuestion): Lessons['whole'] {
  const { turns, groups } = settledBy(lesson, lesson.known.plan);
  return { turns, settled: groups.length, unsure: lesson.unsure.length };
}

function described(
  lesson: ExperimentQuestion,
  { adjuster: a, settings, left }: Candidate,
  whole: Lessons['whole'],
  isCut: boolean,
): Experiment {
  const { known, unsure } = lesson;
  const { belief, plan } = known;
  const { adjusters, channels, barrel } = belief.machine.description;
  const adjuster = adjusters[a];
  const { installed } = adjuster;
  const alone = settledBy(lesson, settings);
  const together = learntFrom(known, plan, lesson.take.of(whole.turns ?? undefined));
  const now = varianceOf(belief, plan);
  const unitMs = Math.abs(
    shiftOf(belief, adjuster, installed, installed + Math.sign(settings[a] - installed)),
  );
  const experiment = {
    adjuster: adjuster.id,
    unit: adjuster.unit,
    from: installed,
    to: settings[a],
    msPerUnit: Math.abs(belief.effects[a].factor * unitMs),
    ci95Ms: NORMAL_95 * Math.sqrt(belief.factorCovariance[a][a]) * unitMs,
    thenCi95Ms: NORMAL_95 * alone.learnt.factorSd[a] * unitMs,
    turns: alone.turns,
    groups: unsure
      .filter((g) => belief.share[g][a] !== 0 || alone.groups.includes(g))
      .map((g) => ({
        channel: channels[belief.groups[g].channel].id,
        sector: barrel.sectors[belief.groups[g].sector].id,
        ci95Ms: NORMAL_95 * Math.sqrt(now[g]),
        thenCi95Ms: NORMAL_95 * Math.sqrt(alone.learnt.plannedMs2[g]),
        wanderMs: lesson.promisedMs[g],
        neededMs: Math.max(0, neededMs(belief, g)),
        settled: alone.groups.includes(g),
      })),
    whole: { ...whole, teachesLess: left < leftOf(lesson, together.plannedMs2) },
  };
  const isAll = settings.every((setting, b) => setting === plan[b]);
  return { ...experiment, message: experimentWords(experiment, isAll, isCut, plan[a]) };
}

/**
 * Which groups a take with these settings can settle, and the shortest that does; null turns where there are none. What is
 * learnt is by that take, or by one like the newest.
 */
function settledBy({ promised: known, unsure, take }: ExperimentQuestion, settings: readonly number[]) {
  const after = (turns?: number) => learntFrom(known, settings, take.of(turns));
  const isSettled = ({ plannedMs2 }: ExpectedLearning, g: number, turns: number) =>
    take.measures(g, turns) && NORMAL_95 * Math.sqrt(plannedMs2[g]) <= neededMs(known.belief, g);
  const long = after(MOST_TURNS);
  const groups = unsure.filter((g) => isSettled(long, g, MOST_TURNS));
  const turns =
    groups.length === 0
      ? null
      : fewest((n) => {
          const learnt = after(n);
          return groups.every((g) => isSettled(learnt, g, n));
        });
  return { groups, turns, learnt: turns === null ? after() : after(turns) };
}

/**
 * The half-width that the decision needs, ms: whatever the effect turns out to be, the nearest whole unit of the finest
 * adjuster leaves the mean off by up to half of it, and the interval has to fit into the rest of the tolerance.
 */
function neededMs(belief: Belief, g: number): number {
  const { adjusters } = belief.machine.description;
  const units = choicesOf(belief).flatMap(({ adjuster: a, installed, spans }) => {
    if (spans.length === 0 || belief.share[g][a] === 0) return [];
    const to = spans.some(({ hi }) => hi > installed) ? installed + 1 : installed - 1;
    return [
      Math.abs(belief.share[g][a] * belief.effects[a].factor * shiftOf(belief, adjusters[a], installed, to)),
    ];
  });
  return belief.groups[g].toleranceMs - Math.min(...units) / 2;
}

/** The fewest turns at which it holds, as it does at MOST_TURNS: more turns never tell less. */
function fewest(holds: (turns: number) => boolean): number {
  let [low, high] = [LEAST_TURNS, MOST_TURNS];
  while (low < high) {
    const middle = Math.floor((low + high) / 2);
    if (holds(middle)) high = middle;
    else low = middle + 1;
  }
  return high;
}
