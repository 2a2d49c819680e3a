/**
 * Which settings to change. Dismantling is the cost, so a plan first asks for the cheapest change that brings every
 * group's predicted interval within tolerance, and then, at that cost, for the least worst lateness. Where no setting
 * does that, it takes the least worst lateness and then the cheapest change that is nearly as good. Lateness is weighed
 * as a share of each channel's tolerance: with equal tolerances that is ms.
 *
 * How much the uncertainty counts there depends on how much there is (dual control: Feldbaum 1960, from memory):
 * - carefully, a change whose effect is known is worth more than a better one that is a guess;
 * - but while hardly anything is known, care would leave untouched what has to move in the end, and nothing would be
 *   learned of it. Then the boldest of all plans that are about as safe is taken: the one that would be right if the
 *   effects were as believed, with range kept in reserve to put it right when they turn out weaker.
 */
import { shiftMs } from '../machine/effects.ts';
import type { IntegerSolver, Run } from '../ports.ts';
import { Asker, SLACK_MS } from './ask.ts';
import { endMs, predict, type Belief, type BelievedGroup, type Prediction } from './belief.ts';
import { choicesOf, type Choice } from './choices.ts';
import { costOfPlan } from './minutes.ts';
import { countedShare, withinMs, type Question, type Reach } from './question.ts';

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

// The next four were chosen on simulated machines, seeds 1 to 200 of tests/bench/advice.bench.ts. On seeds 201 to 300,
// which nothing was chosen on, 99 of 100 reach the target of that benchmark in two rounds.
/** How much of a half-width counts in a careful plan. */
export const CAREFUL = 0.6;
/** Careful plans whose worst end is so many times what effects as believed would allow are too careful. */
const TOO_CAREFUL = 2;
/** A bold plan's ends may be so much worse than the careful plan's worst. */
const ABOUT_AS_SAFE = 1.25;
/** So many standard deviations weaker than believed may an adjuster be, and still have the range to put it right. */
const RESERVE_SDS = 1.6;

/** @throws the signal's reason when the run is stopped */
export async function planFor(belief: Belief, solve: IntegerSolver, run: Run): Promise<Plan> {
  const choices = choicesOf(belief);
  const installed = choices.map((choice) => choice.installed);
  if (goodEnough(belief, predict(belief, installed)))
    return { outcome: 'nothing-to-do', settings: installed, proven: true, gap: 0 };

  const asker = new Asker(belief, choices, solve, run);
  /** At the cost of a plan, the least lateness. */
  const polished = async (plan: readonly number[], question: Question) => {
    const costAtMost = costOfPlan(belief.machine, plan);
    return (await asker.ask({ ...question, aim: 'worst', costAtMost }, plan)) ?? plan;
  };

  const careful: Question = { aim: 'worst', weight: CAREFUL };
  const carefully = asker.search(careful, installed);
  const within: Question = { aim: 'cost', weight: 1, within: belief.groups.map(withinMs) };
  const cheapest = await asker.ask(within, carefully);
  if (cheapest !== null)
    return {
      outcome: 'within-tolerance',
      settings: await polished(cheapest, within),
      ...asker.proof(),
    };

  const bold = boldly(belief, choices, carefully);
  const asBelieved = asker.search(bold, carefully);
  const tooCareful =
    worstShare(belief, carefully, 1) > TOO_CAREFUL * Math.max(1, worstShare(belief, asBelieved, 0));
  const [question, start] = tooCareful ? [bold, asBelieved] : [careful, carefully];
  const least = (await asker.ask(question, start)) ?? start;
  const nearly = nearlyAsGood(belief, question, least);
  const few = (await asker.ask(nearly, least)) ?? least;
  return { outcome: 'out-of-reach', settings: await polished(few, nearly), ...asker.proof() };
}

/** Whether every interval lies within tolerance, as far as the take can tell. */
export function goodEnough(belief: Belief, predictions: readonly Prediction[]): boolean {
  return predictions.every((prediction, g) => endMs(prediction) <= withinMs(belief.groups[g]) + SLACK_MS);
}

/** The mean may be ± this, ms, with the interval as the newest take has it. */
export function roomMs(group: BelievedGroup): number {
  return withinMs(group) - group.ci95Ms;
}

export function worstShare(belief: Belief, settings: readonly number[], weight: number): number {
  return Math.max(
    ...predict(belief, settings).map((prediction, g) =>
      countedShare(belief.groups[g], endMs(prediction, weight)),
    ),
  );
}

function boldly(belief: Belief, choices: readonly Choice[], carefully: readonly number[]): Question {
  const worst = ABOUT_AS_SAFE * worstShare(belief, carefully, 1);
  return {
    aim: 'worst',
    weight: 0,
    within: belief.groups.map((group) => Math.max(withinMs(group), worst * group.toleranceMs)),
    reach: choices.map((choice) => reachOf(belief, choice)),
  };
}

/** Own shifts from the installed setting that leave range in reserve, ms. */
function reachOf(belief: Belief, { adjuster: a, installed, spans }: Choice): Reach {
  const { factor } = belief.effects[a];
  const weaker = (RESERVE_SDS * Math.sqrt(belief.factorCovariance[a][a])) / Math.abs(factor);
  const share = Math.max(0, 1 - weaker);
  const ends = spans.flatMap(({ lo, hi }) => [lo, hi]).map((setting) => (setting - installed) * share);
  const { description } = belief.machine;
  const shifts = ends.map((units) =>
    shiftMs(
      description.adjusters[a],
      installed,
      installed + Math.trunc(units),
      description,
      belief.secondsPerTurn,
    ),
  );
  return { fromMs: Math.min(0, ...shifts), toMs: Math.max(0, ...shifts) };
}

/** The cheapest plan that leaves each group's lateness, and each adjuster's range, nearly as `settings` do. */
export function nearlyAsGood(belief: Belief, question: Question, settings: readonly number[]): Question {
  const { weight, within, reach } = question;
  const ends = predict(belief, settings).map((prediction) => endMs(prediction, weight));
  const worst = Math.max(...ends.map((ms, g) => countedShare(belief.groups[g], ms)));
  const { description } = belief.machine;
  return {
    aim: 'cost',
    weight,
    within,
    atMost: belief.groups.map((group, g) => {
      const nearly = Math.max(NEARLY_SHARE * worst * group.toleranceMs, NEARLY_INTERVAL * group.ci95Ms);
      return Math.max(roomMs(group) + weight * group.ci95Ms, ends[g] + nearly);
    }),
    reach: reach?.map(({ fromMs, toMs }, a) => {
      const adjuster = description.adjusters[a];
      const own = shiftMs(adjuster, adjuster.installed, settings[a], description, belief.secondsPerTurn);
      return { fromMs: Math.min(fromMs, own), toMs: Math.max(toMs, own) };
    }),
  };
}
