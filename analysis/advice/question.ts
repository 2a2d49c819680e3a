/** What can be asked of a belief, and how settings are judged by it: the same for the search and for the solver. */
import { shiftMs } from '../machine/effects.ts';
import { endMs, predict, type Belief, type BelievedGroup } from './belief.ts';
import type { Choice } from './choices.ts';
import { costOfChange, openingsOf } from './minutes.ts';
import type { Objective } from './search-state.ts';

/** Arrays run beside the belief's groups, `reach` beside its adjusters. */
export interface Question {
  /**
   * `cost`: least cost of the changed adjusters. `worst`: least worst lateness as a share of tolerance. `beyond`: least lateness
   * beyond tolerance as shares of it, summed over the groups: where not all can be mended, most of it.
   */
  readonly aim: 'cost' | 'worst' | 'beyond';
  /** How much of a half-width counts in a group's lateness: 1 is the interval's far end, 0 its mean. */
  readonly weight: number;
  /** Every group's predicted interval must lie within ± this, ms. */
  readonly within?: readonly number[];
  /** Every group's lateness, so weighed, must be at most this, ms. */
  readonly atMost?: readonly number[];
  /** A bound in questions of cost; where the worst is asked, going beyond counts as lateness does. */
  readonly reach?: readonly Reach[];
  readonly costAtMost?: number;
  /** Time that the work may take; only of machines that say how long each change takes. */
  readonly minutesAtMost?: number;
}

/** Own geometric shift of an adjuster from its installed setting, ms. */
export interface Reach {
  readonly fromMs: number;
  readonly toMs: number;
}

/** What a change of adjuster `a` costs as the search counts it: what has to be opened for it is shared by none. */
function costOf({ machine }: Belief, a: number): number {
  const opening = openingsOf(machine).find(({ members }) => members.includes(a));
  return costOfChange(machine, a) + (opening?.openMinutes ?? 0);
}

/** Among equals, all groups' lateness decides. So small a weight moves the worst by less than a thousandth of itself. */
const WEIGHT_OF_ALL = 1e-3;
/** Excess of the groups that are not the worst: it must not hide behind one that nothing can mend. */
const WEIGHT_OF_EXCESS = 0.02;
/** Of plans that leave as much beyond tolerance in all, the one with the lesser worst. Chosen as the two above are. */
const WEIGHT_OF_WORST = 0.02;

/** How much the worst share of tolerance counts in what is minimised, each group's excess beyond it, and each one's lateness. */
export function weightsOf(aim: 'worst' | 'beyond', groups: number) {
  const all = WEIGHT_OF_ALL / groups;
  return aim === 'worst'
    ? { worst: 1, excess: WEIGHT_OF_EXCESS / groups, all }
    : { worst: WEIGHT_OF_WORST, excess: 1, all };
}

/** One ms beyond an adjuster's reach counts as so much of a group's lateness. Chosen with plan.ts's constants. */
export const WEIGHT_OF_REACH = 0.5;

/** Half-widths within which a mean cannot be told from zero, counted from the interval's far end. */
const TOLD_FROM_ZERO = 2;
/**
 * The same where the interval is twice the tolerance or wider. A group that is moved by its measured mean ends up as far out as the
 * mean was wrong, so it gets worse where less than half of the mean was true: of normal errors once in a hundred at a mean of
 * 4.7 standard errors, 2.4 half-widths.
 */
const WORTH_A_MOVE = 3.4;

/**
 * A group's interval must lie within ± this, ms: its tolerance. Where the interval is wider than the tolerance's half, a
 * mean that cannot be told from zero is all that can be asked: then this is twice the interval, and more where the interval is
 * wider than the tolerance itself, since a move may then do harm. One rule for all widths, so that a hair of interval
 * more or less never turns two shims into none.
 */
export function withinMs({
  toleranceMs,
  ci95Ms,
  allowedMs,
}: Pick<BelievedGroup, 'toleranceMs' | 'ci95Ms' | 'allowedMs'>): number {
  const wider = Math.min(1, Math.max(0, ci95Ms / toleranceMs - 1));
  const halves = TOLD_FROM_ZERO + (WORTH_A_MOVE - TOLD_FROM_ZERO) * wider;
  return allowedMs ?? Math.max(toleranceMs, halves * ci95Ms);
}

/**
 * The question with what no answer may do where groups are kept: none of those leaves its tolerance or goes farther out, and
 * no other comes farther out than the farthest is.
 */
export function keeping(belief: Belief, question: Question, installed: readonly number[]): Question {
  const { groups } = belief;
  if (!groups.some(({ kept }) => kept === true)) return question;
  const now = predict(belief, installed).map((prediction) => endMs(prediction, question.weight));
  const farthest = Math.max(...now.map((ms, g) => ms / groups[g].toleranceMs));
  const atMost = groups.map(({ kept, toleranceMs }, g) =>
    Math.min(
      question.atMost?.[g] ?? Infinity,
      Math.max(toleranceMs, kept === true ? now[g] : farthest * toleranceMs),
    ),
  );
  return { ...question, atMost };
}

/** Lateness (ms) as a share of tolerance, what cannot be resolved left out; may be negative. */
export function countedShare(group: BelievedGroup, ms: number): number {
  return (ms - (withinMs(group) - group.toleranceMs)) / group.toleranceMs;
}

/**
 * What of a group's lateness, so weighed (ms), lies beyond tolerance, as a share of it.
 *
 * @param weight how much of the half-width counts in `ms`
 */
export function excessShare(group: BelievedGroup, ms: number, weight: number): number {
  return Math.max(0, ms - withinMs(group) + (1 - weight) * group.ci95Ms) / group.toleranceMs;
}

/** The tolerance that goes with going beyond a reach, ms: the strictest. */
export function strictestMs({ groups }: Belief): number {
  return Math.min(...groups.map(({ toleranceMs }) => toleranceMs));
}

/** Ms by which a setting goes beyond an adjuster's reach. */
export function beyondReachMs(belief: Belief, { reach }: Question, a: number, setting: number): number {
  if (reach === undefined) return 0;
  const { description } = belief.machine;
  const adjuster = description.adjusters[a];
  const own = shiftMs(adjuster, adjuster.installed, setting, description, belief.secondsPerTurn);
  return Math.max(0, own - reach[a].toMs, reach[a].fromMs - own);
}

/** Breaking a bound by one ms is worse than changing every adjuster there is. */
const BREACH = 1e5;

/**
 * The question as the search sees it. It goes downhill in a sum, not in the worst group alone: the eighth power of each
 * share of tolerance lets the worst decide and still rewards mending another.
 */
export function scoreFor(belief: Belief, choices: readonly Choice[], question: Question): Objective {
  const { aim, weight, within, atMost } = question;
  const { groups } = belief;
  const strictest = strictestMs(belief);
  const beyond = choices.map((choice) => beyondReach(belief, question, choice));
  const breach = (g: number, meanMs: number, ci95Ms: number) =>
    BREACH *
    (Math.max(0, Math.abs(meanMs) + ci95Ms - (within?.[g] ?? Infinity)) +
      Math.max(0, Math.abs(meanMs) + weight * ci95Ms - (atMost?.[g] ?? Infinity)) +
      Math.max(0, Math.abs(meanMs) - (groups[g].meanAtMostMs ?? Infinity)));
  if (aim === 'cost') {
    const costs = choices.map((_, a) => costOf(belief, a));
    return {
      cost: (a, setting) => costs[a] + BREACH * beyond[a](setting),
      group: breach,
    };
  }
  return {
    cost: (a, setting) => eighth((WEIGHT_OF_REACH * beyond[a](setting)) / strictest),
    group: (g, meanMs, ci95Ms) => {
      const end = Math.abs(meanMs) + ci95Ms;
      const counted = Math.abs(meanMs) + weight * ci95Ms;
      const out =
        aim === 'worst'
          ? eighth(Math.max(0, countedShare(groups[g], counted)))
          : excessShare(groups[g], counted, weight);
      return out + 1e-6 * end + breach(g, meanMs, ci95Ms);
    },
  };
}

/** beyondReachMs of one adjuster, remembered: the search asks it very often. */
function beyondReach(
  belief: Belief,
  question: Question,
  { adjuster, installed, spans }: Choice,
): (setting: number) => number {
  if (question.reach === undefined) return () => 0;
  const least = Math.min(installed, ...spans.map(({ lo }) => lo));
  const most = Math.max(installed, ...spans.map(({ hi }) => hi));
  const known = new Float64Array(most - least + 1).fill(NaN);
  return (setting) => {
    if (Number.isNaN(known[setting - least]))
      known[setting - least] = beyondReachMs(belief, question, adjuster, setting);
    return known[setting - least];
  };
}

function eighth(x: number): number {
  const fourth = x * x * x * x;
  return fourth * fourth;
}
