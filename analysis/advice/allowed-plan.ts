/**
 * The plan that can be carried out: with the pieces that lie in the drawer, and in the minutes that there are. Where neither
 * stands in the way it is the plain plan.
 */
import type { IntegerSolver, Run } from '../ports.ts';
import { Asker } from './ask.ts';
import { endMs, installedOf, predict, worstMeanMs, type Belief } from './belief.ts';
import { choicesOf } from './choices.ts';
import { changedIn, costOfPlan, minutesOf, openingsOf, SLACK_MINUTES } from './minutes.ts';
import { loudnessOf, preferringLevers, withoutLevels } from './level-bound.ts';
import { CAREFUL, goodEnough, nearlyAsGood, planFor as plainPlanFor, worstShare, type Plan } from './plan.ts';
import { sparingPlan, type SparingPlan } from './sparing.ts';
import { stacksInOrder } from './stacks-in-order.ts';
import { buildStacks, stockAllows, type Built } from './stock.ts';
import { excessShare, withinMs, type Question } from './question.ts';

const planFor = preferringLevers(plainPlanFor);

export interface AllowedPlan {
  readonly plan: SparingPlan;
  /** Pieces of the plan's stacks; null where nothing is built from a drawer. */
  readonly built: Built | null;
  /** The plan if no level were kept, where tolerance is out of reach with it; null where that would do no better. */
  readonly louder: Plan | null;
  /** What a few more pieces would do; null where the drawer does not stand in the way. */
  readonly wanting: { readonly plan: SparingPlan; readonly built: Built } | null;
  /** Where the time was given: the plan without it, and what the next session would bring. */
  readonly timed: {
    readonly minutes: number;
    readonly whole: SparingPlan;
    readonly next: { readonly plan: SparingPlan; readonly belief: Belief } | null;
  } | null;
}

/**
 * @param minutes how long the work may take; absent: as long as it takes
 * @throws the signal's reason when the run is stopped
 */
export async function allowedPlan(
  belief: Belief,
  minutes: number | undefined,
  solve: IntegerSolver,
  run: Run,
): Promise<AllowedPlan> {
  const free = await sparingPlan(withoutStock(belief), planFor, solve, run);
  const hasAll = stockAllows(belief.machine, free.settings);
  const whole = hasAll ? free : await sparingPlan(belief, planFor, solve, run);
  const plan =
    minutes === undefined ? whole : await sparingPlan(belief, within(minutes, whole.settings), solve, run);
  const wished = hasAll ? null : await buildStacks(belief.machine, free.settings, solve);
  const fewest =
    belief.machine.description.stock === undefined
      ? null
      : await buildStacks(belief.machine, plan.settings, solve);
  const built = fewest === null ? null : stacksInOrder(belief, plan.settings, fewest);
  const timed =
    minutes === undefined
      ? null
      : { minutes, whole, next: await nextSession(belief, plan, built, { minutes, solve, run }) };
  const louder = plan.outcome === 'out-of-reach' ? await louderPlan(belief, whole, solve, run) : null;
  return { plan, built, louder, wanting: wished === null ? null : { plan: free, built: wished }, timed };
}

/** What is left out of tolerance is less by more than this, ms, or it is not worth a word: a tenth of a shim's usual shift. */
const WORTH_SAYING_MS = 0.1;

async function louderPlan(belief: Belief, whole: Plan, solve: IntegerSolver, run: Run): Promise<Plan | null> {
  if (loudnessOf(belief.machine, whole.settings, null) === null) return null;
  const louder = await sparingPlan(withoutLevels(belief), planFor, solve, run);
  const gainMs = worstMeanMs(belief, whole.settings) - worstMeanMs(belief, louder.settings);
  return gainMs > WORTH_SAYING_MS && stockAllows(belief.machine, louder.settings) ? louder : null;
}

function withoutStock(belief: Belief): Belief {
  const { description } = belief.machine;
  if (description.stock === undefined) return belief;
  return { ...belief, machine: { ...belief.machine, description: { ...description, stock: undefined } } };
}

/**
 * Of all plans that take so many minutes the one that leaves the least beyond tolerance, summed over the groups, with none farther
 * out than the farthest is; of those that are nearly as good the quickest. The worst alone would leave every group out to bring
 * the farthest a little nearer.
 *
 * @param whole the plan without the bound
 */
function within(minutes: number, whole: readonly number[]) {
  return async (belief: Belief, solve: IntegerSolver, run: Run): Promise<Plan> => {
    const { machine } = belief;
    if (minutesOf(machine, whole) <= minutes + SLACK_MINUTES) return planFor(belief, solve, run);
    const choices = choicesOf(belief);
    const asker = new Asker(belief, choices, solve, run);
    const question: Question = {
      aim: 'beyond',
      weight: CAREFUL,
      minutesAtMost: minutes,
      atMost: noneFarther(belief, CAREFUL),
    };
    const best = (await asker.ask(question, cutDown(belief, whole, minutes))) ?? installedOf(machine);
    const nearly = { ...nearlyAsGood(belief, question, best), minutesAtMost: minutes };
    const quick = (await asker.ask(nearly, best)) ?? best;
    // In the same minutes, the settings that are best.
    const polish = { ...question, costAtMost: costOfPlan(machine, quick) + SLACK_MINUTES };
    const settings = (await asker.ask(polish, quick)) ?? quick;
    const isGood = goodEnough(belief, predict(belief, settings));
    return { outcome: isGood ? 'within-tolerance' : 'out-of-reach', settings, ...asker.proof() };
  };
}

/** Every group's lateness, so weighed, may be so much, ms: its tolerance, or as far beyond it as the farthest is now. */
function noneFarther(belief: Belief, weight: number): number[] {
  const farthest = Math.max(1, worstShare(belief, installedOf(belief.machine), weight));
  return belief.groups.map((group) => withinMs(group) + (farthest - 1) * group.toleranceMs);
}

/** A place to start from: of a plan that takes too long, what gains least for its minutes is left out until it fits. */
function cutDown(belief: Belief, whole: readonly number[], minutes: number): number[] {
  const { machine } = belief;
  const installed = installedOf(machine);
  let settings = [...whole];
  while (minutesOf(machine, settings) > minutes + SLACK_MINUTES) {
    const changed = changedIn(machine, settings);
    const openings = openingsOf(machine).map(({ members }) => members.filter((a) => changed.includes(a)));
    const parts = [...changed.map((a) => [a]), ...openings.filter((members) => members.length > 1)];
    const without = parts.map((part) =>
      settings.map((setting, a) => (part.includes(a) ? installed[a] : setting)),
    );
    const lossPerMinute = (left: readonly number[]) =>
      excessOf(belief, left) / Math.max(1, minutesOf(machine, settings) - minutesOf(machine, left));
    settings = without.reduce((a, b) => (lossPerMinute(b) < lossPerMinute(a) ? b : a));
  }
  return stockAllows(machine, settings) ? settings : installed;
}

/** What lies beyond tolerance, as shares of it, summed over the groups. */
function excessOf(belief: Belief, settings: readonly number[]): number {
  return predict(belief, settings).reduce(
    (sum, prediction, g) => sum + excessShare(belief.groups[g], endMs(prediction, CAREFUL), CAREFUL),
    0,
  );
}

interface Session {
  readonly minutes: number;
  readonly solve: IntegerSolver;
  readonly run: Run;
}

/** What as many minutes more would bring, once this plan is carried out; null where nothing is left to do. */
async function nextSession(
  belief: Belief,
  plan: SparingPlan,
  built: Built | null,
  { minutes, solve, run }: Session,
) {
  const then = afterwards(belief, plan, built);
  const whole = await sparingPlan(then, planFor, solve, run);
  const next = await sparingPlan(then, within(minutes, whole.settings), solve, run);
  return changedIn(then.machine, next.settings).length === 0 ? null : { plan: next, belief: then };
}

/** The machine once a plan is carried out, what is left in the drawer and what is in its stacks. */
function afterwards(belief: Belief, { settings }: Plan, built: Built | null): Belief {
  const { description } = belief.machine;
  const adjusters = description.adjusters.map((adjuster, a) => {
    const stack = built?.stacks.find((each) => each.adjuster === a);
    const pieces = stack?.holds.flatMap(({ mm, count }) => Array.from({ length: count }, () => mm));
    return { ...adjuster, installed: settings[a], ...(pieces === undefined ? {} : { stack: pieces }) };
  });
  const stock = built === null ? description.stock : [...built.left];
  return { ...belief, machine: { ...belief.machine, description: { ...description, adjusters, stock } } };
}
