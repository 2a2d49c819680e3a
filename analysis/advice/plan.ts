/**
 * Which settings to change. Dismantling is the cost, so a plan first asks for the cheapest change that brings every
 * group's predicted interval within tolerance, and then, at that cost, for the least worst |mean lateness|. Where no
 * setting does that, it takes the least worst expected |lateness| and then the cheapest change that is nearly as good.
 * Lateness is weighed as a share of each channel's tolerance: with equal tolerances that is ms.
 */
import type { IntegerSolver, Run } from '../ports.ts';
import { Asker, SLACK_MS } from './ask.ts';
import { predict, type Belief, type BelievedGroup, type Prediction } from './belief.ts';
import { choicesOf } from './choices.ts';
import { costOf, unresolvedMs, type Question } from './program.ts';
import { search, type Score } from './search.ts';
import { expectedMs, foldedMean } from './tangents.ts';

export interface Plan {
  readonly outcome: 'nothing-to-do' | 'within-tolerance' | 'out-of-reach';
  /** By adjuster index. */
  readonly settings: readonly number[];
  /** Whether the solver proved every step of it optimal. */
  readonly proven: boolean;
  /** Largest relative gap between a step's solution and its bound; 0 when proven, null when unknown. */
  readonly gap: number | null;
}

/** "Nearly as good": so much of the least worst case … */
const NEARLY_SHARE = 0.05;
/** … or so much of a group's interval, whichever is more: less is not worth taking the machine apart. */
const NEARLY_INTERVAL = 0.25;

/** @throws the signal's reason when the run is stopped */
export async function planFor(belief: Belief, solve: IntegerSolver, run: Run): Promise<Plan> {
  const choices = choicesOf(belief);
  const installed = choices.map((choice) => choice.installed);
  if (goodEnough(belief, predict(belief, installed)))
    return { outcome: 'nothing-to-do', settings: installed, proven: true, gap: 0 };

  const asker = new Asker(belief, choices, solve, run);
  const all = choices.map(({ adjuster }) => adjuster);
  const changed = (settings: readonly number[]) => all.filter((a) => settings[a] !== installed[a]);
  const cost = (settings: readonly number[]) =>
    changed(settings).reduce((sum, a) => sum + costOf(belief, a), 0);
  /** The search for one score, among some adjusters; what it is given may break a limit, and is then put back first. */
  const seeker =
    (score: Score, movable: readonly number[]) =>
    (settings: readonly number[]): readonly number[] =>
      search(belief, choices, settings, movable, score);

  const level = seeker(leastWorst(belief), all);
  const levelled = level(installed);
  const within = belief.groups.map(withinMs);
  const toWithin = seeker(cheapestWithin(belief, within), all);
  const cheapest = await asker.ask({ aim: 'cost', within }, toWithin(levelled), toWithin);
  if (cheapest !== null) {
    const question: Question = { aim: 'worst', within, costAtMost: cost(cheapest) };
    const polish = seeker(leastWorst(belief, { within }), changed(cheapest));
    const best = await asker.ask(question, polish(cheapest), (settings) =>
      polish(settings.map((setting, a) => (cheapest[a] === installed[a] ? installed[a] : setting))),
    );
    return { outcome: 'within-tolerance', settings: best ?? cheapest, ...asker.proof() };
  }

  const excessBeyond = belief.groups.map(roomMs);
  const least = (await asker.ask({ aim: 'worst', excessBeyond }, levelled, level)) ?? levelled;
  const expectedAtMost = nearlyAsGood(belief, least);
  const toFew = seeker(cheapestAtMost(belief, expectedAtMost), all);
  const cheap = (await asker.ask({ aim: 'cost', expectedAtMost }, toFew(least), toFew)) ?? least;
  const question: Question = { aim: 'worst', excessBeyond, expectedAtMost, costAtMost: cost(cheap) };
  const polish = seeker(leastWorst(belief, { expectedAtMost }), changed(cheap));
  const best = await asker.ask(question, polish(cheap), (settings) =>
    polish(settings.map((setting, a) => (cheap[a] === installed[a] ? installed[a] : setting))),
  );
  return { outcome: 'out-of-reach', settings: best ?? cheap, ...asker.proof() };
}

/** Whether every interval lies within tolerance, as far as the take can tell. */
export function goodEnough(belief: Belief, predictions: readonly Prediction[]): boolean {
  return predictions.every(
    ({ meanMs, ci95Ms }, g) => Math.abs(meanMs) + ci95Ms <= withinMs(belief.groups[g]) + SLACK_MS,
  );
}

/**
 * A group's interval must lie within ± this, ms: its tolerance. Where the interval alone is wider than that, nothing
 * could bring it within; then all that can be asked is a mean that cannot be told from zero.
 */
function withinMs({ toleranceMs, ci95Ms }: BelievedGroup): number {
  return ci95Ms > toleranceMs ? 2 * ci95Ms : toleranceMs;
}

/** The mean may be ± this, ms, with the interval as the newest take has it. */
export function roomMs(group: BelievedGroup): number {
  return withinMs(group) - group.ci95Ms;
}

/** What each group's expected |lateness| may rise to in exchange for touching less. */
function nearlyAsGood(belief: Belief, settings: readonly number[]): number[] {
  const expected = expectedMs(belief, settings);
  const worst = Math.max(...expected.map((ms, g) => countedShare(belief.groups[g], ms)));
  return belief.groups.map((group, g) => {
    const nearly = Math.max(NEARLY_SHARE * worst * group.toleranceMs, NEARLY_INTERVAL * group.ci95Ms);
    return Math.max(roomMs(group), expected[g] + nearly);
  });
}

/** Lateness as a share of tolerance, what cannot be resolved left out; may be negative. */
function countedShare({ toleranceMs, ci95Ms }: BelievedGroup, ms: number): number {
  return (ms - unresolvedMs(toleranceMs, ci95Ms)) / toleranceMs;
}

/** Breaking a bound by one ms is worse than changing every adjuster there is. */
const BREACH = 1e5;
/**
 * The search goes downhill in a sum, not in the worst group alone: a high power of each group's share of tolerance lets
 * the worst decide and still rewards mending another.
 */
const POWER = 8;

function leastWorst(
  { groups }: Belief,
  { within, expectedAtMost }: Pick<Question, 'within' | 'expectedAtMost'> = {},
): Score {
  return {
    cost: () => 0,
    group: (g, meanMs, changeSdMs, ci95Ms) => {
      const ms = foldedMean(meanMs, changeSdMs);
      const beyond =
        Math.max(0, Math.abs(meanMs) + ci95Ms - (within?.[g] ?? Infinity)) +
        Math.max(0, ms - (expectedAtMost?.[g] ?? Infinity));
      const squared = Math.max(0, countedShare(groups[g], ms)) ** 2;
      return squared ** (POWER / 2) + 1e-6 * ms + BREACH * beyond;
    },
  };
}

function cheapestWithin(belief: Belief, within: readonly number[]): Score {
  return {
    cost: (a) => costOf(belief, a),
    group: (g, meanMs, _, ci95Ms) => BREACH * Math.max(0, Math.abs(meanMs) + ci95Ms - within[g]),
  };
}

function cheapestAtMost(belief: Belief, expectedAtMost: readonly number[]): Score {
  return {
    cost: (a) => costOf(belief, a),
    group: (g, meanMs, changeSdMs) =>
      BREACH * Math.max(0, foldedMean(meanMs, changeSdMs) - expectedAtMost[g]),
  };
}
