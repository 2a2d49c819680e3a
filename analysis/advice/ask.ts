/** Puts questions about a belief to the integer solver, adding tangents until a solution is judged as it really is. */
import type { IntegerSolver, Run } from '../ports.ts';
import { endMs, predict, type Belief } from './belief.ts';
import type { Choice } from './choices.ts';
import { programFor, roundedIn, solvedSettings, valuesFor } from './program.ts';
import { costOfPlan, minutesOf, SLACK_MINUTES } from './minutes.ts';
import { stockAllows } from './stock.ts';
import { beyondReachMs, countedShare, excessShare, keeping, scoreFor, strictestMs } from './question.ts';
import { weightsOf, WEIGHT_OF_REACH, type Question } from './question.ts';
import { search } from './search.ts';
import { tangentAt, type Tangent } from './tangents.ts';

/** A solution that breaks a bound by less than this (ms) keeps it: the solver's own tolerance is 1e-6. */
export const SLACK_MS = 1e-5;
/** An end that is judged too kindly by less than this (ms) is judged well enough. */
const CLOSE_MS = 0.01;
/** Rounds of tangents. Each mends every group that was judged too kindly, so that a few suffice. */
const MOST_ROUNDS = 12;

/**
 * Up to this size (groups × adjusters) the integer program is solved, within these bounds, which small machines do not use
 * up. Beyond, it takes minutes; the search's answer then stands, and the relaxed program says how far from the best it
 * can be at most.
 */
export const SMALL = 400;

/** Whether a machine is beyond what is solved to its end. */
export function isLarge({ groups, machine }: Belief): boolean {
  return groups.length * machine.description.adjusters.length > SMALL;
}

/** Up to this size it is asked whether a plan is the cheapest. */
const MODERATE = 1000;
/** A plan that is cheaper by less than this share is as cheap. */
const LEAST_CHEAPER = 1e-3;
/** Programs of the benches take two nodes at most; so many are a second or two, and the same answer on every computer. */
export const NODE_LIMIT = 500;

/** Tangents are true of the belief, not of one question, so that later questions start from all found so far. */
export class Asker {
  private readonly tangents: Tangent[];
  private readonly small: boolean;
  private proven = true;
  private gap: number | null = 0;

  constructor(
    private readonly belief: Belief,
    private readonly choices: readonly Choice[],
    private readonly solve: IntegerSolver,
    private readonly run: Run,
  ) {
    const installed = choices.map((choice) => choice.installed);
    this.tangents = belief.groups.map((_, g) => tangentAt(belief, g, installed));
    this.small = belief.groups.length * choices.length <= SMALL;
  }

  /** Whether all that was asked was answered with proof, and the largest gap left. */
  proof(): { proven: boolean; gap: number | null } {
    return { proven: this.proven, gap: this.gap };
  }

  /**
   * What the search alone makes of a question. Where the cost is given, what stands as installed in `start` stays so.
   *
   * @param start settings to start from
   * @returns settings by adjuster index; they break the question's bounds where the search finds none that keep them
   */
  search(question: Question, start: readonly number[]): readonly number[] {
    return this.searched(this.keeping(question), start);
  }

  private keeping(question: Question): Question {
    const installed = this.choices.map((choice) => choice.installed);
    return keeping(this.belief, question, installed);
  }

  private searched(question: Question, start: readonly number[]): readonly number[] {
    const { belief, choices } = this;
    const movable = choices.flatMap(({ installed }, a) =>
      isBounded(question) && start[a] === installed ? [] : [a],
    );
    return search(belief, choices, start, movable, scoreFor(belief, choices, question));
  }

  /**
   * @param start settings to start the search from; what it makes of them is the answer where the solver finds none
   *   better within its nodes
   * @returns settings by adjuster index; null where there are none, or none was found
   * @throws the signal's reason when the run is stopped
   */
  async ask(wanted: Question, start: readonly number[]): Promise<readonly number[] | null> {
    const question = this.keeping(wanted);
    const asked = this.small || question.minutesAtMost !== undefined;
    return asked ? this.solved(question, start) : this.bounded(question, start);
  }

  private async solved(question: Question, start: readonly number[]): Promise<readonly number[] | null> {
    const { belief, choices } = this;
    const first = this.searched(question, start);
    let best = this.judge(question, first).allowed ? first : null;
    for (let round = 0; round < MOST_ROUNDS; round++) {
      this.run.signal?.throwIfAborted();
      const answer = await this.solve(programFor(belief, choices, this.tangents, question), {
        nodeLimit: NODE_LIMIT,
        start: best === null ? undefined : valuesFor(belief, choices, best),
      });
      if (answer.status === 'infeasible') return best;
      const settings = answer.objective === null ? null : solvedSettings(belief, choices, answer.values);
      const judged = settings && this.judge(question, settings, answer.values);
      if (settings !== null && judged?.allowed) best = this.better(question, settings, best);
      if (answer.status !== 'optimal') {
        this.unproven(best === null ? null : gapTo(answer.bound, this.value(question, best)));
        return best;
      }
      if (judged === null || judged.missing.length === 0) return best;
      this.tangents.push(...judged.missing);
    }
    this.unproven(null);
    return best;
  }

  private async bounded(question: Question, start: readonly number[]): Promise<readonly number[] | null> {
    const { belief, choices } = this;
    this.run.signal?.throwIfAborted();
    if (question.costAtMost !== undefined) {
      // What a given cost allows is a refinement; how good the whole is, the questions before have said.
      this.proven = false;
      return this.searched(question, start);
    }
    const relaxed = await this.solve(programFor(belief, choices, this.tangents, question, true));
    if (relaxed.status === 'infeasible') return null;
    const first = this.searched(question, start);
    let best = this.judge(question, first).allowed ? first : null;
    // What a relaxed program of costs changes, it changes by fractions: rounding that leads nowhere.
    if (relaxed.status === 'optimal' && question.aim !== 'cost') {
      const rounded = withinLimits(belief, choices, roundedIn(belief, choices, relaxed.values));
      const settings = this.searched(question, rounded);
      const { missing, allowed } = this.judge(question, settings, relaxed.values);
      if (allowed) best = this.better(question, settings, best);
      this.tangents.push(...missing);
    }
    const bound = relaxed.status === 'optimal' ? relaxed.objective : null;
    if (best === null) {
      // Nothing found and nothing disproved: the next question's gap then says how good the answer is.
      this.proven = false;
      return null;
    }
    const gap = gapTo(bound, this.value(question, best));
    if ((gap === null || gap > PROVEN) && !(await this.isCheapest(question, best))) this.unproven(gap);
    return best;
  }

  /** Whether nothing cheaper keeps the question's bounds; so few changes are left to try that larger programs are solved for it. */
  private async isCheapest(question: Question, best: readonly number[]): Promise<boolean> {
    const { belief, choices, tangents } = this;
    if (question.aim !== 'cost' || belief.groups.length * choices.length > MODERATE) return false;
    const cheaper = { ...question, costAtMost: this.costOf(best) * (1 - LEAST_CHEAPER) };
    const program = programFor(belief, choices, tangents, cheaper);
    return (await this.solve(program, { nodeLimit: NODE_LIMIT })).status === 'infeasible';
  }

  private better(
    question: Question,
    settings: readonly number[],
    best: readonly number[] | null,
  ): readonly number[] {
    return best === null || this.value(question, settings) < this.value(question, best) ? settings : best;
  }

  /** Tangents where a solution was judged too kindly, and whether it keeps the question's bounds all the same. */
  private judge(question: Question, settings: readonly number[], values?: ReadonlyMap<string, number>) {
    const { aim, weight, within, atMost, costAtMost = Infinity, minutesAtMost } = question;
    const { groups } = this.belief;
    const worst = values?.get('W') ?? Infinity;
    const missing: Tangent[] = [];
    const reached =
      aim !== 'cost' || settings.every((x, a) => beyondReachMs(this.belief, question, a, x) <= SLACK_MS);
    const inTime =
      minutesAtMost === undefined ||
      minutesOf(this.belief.machine, settings) <= minutesAtMost + SLACK_MINUTES;
    let allowed =
      reached &&
      inTime &&
      this.costOf(settings) <= costAtMost + 1e-6 &&
      stockAllows(this.belief.machine, settings);
    predict(this.belief, settings).forEach((prediction, g) => {
      const counted = endMs(prediction, weight);
      const broken =
        Math.abs(prediction.meanMs) > (groups[g].meanAtMostMs ?? Infinity) + SLACK_MS ||
        endMs(prediction) > (within?.[g] ?? Infinity) + SLACK_MS ||
        counted > (atMost?.[g] ?? Infinity) + SLACK_MS;
      const more =
        aim === 'worst'
          ? countedShare(groups[g], counted) - worst
          : excessShare(groups[g], counted, weight) - (values?.get(`x${g}`) ?? Infinity);
      const tooKind = aim !== 'cost' && more * groups[g].toleranceMs > CLOSE_MS;
      if (broken) allowed = false;
      if (broken || tooKind) missing.push(tangentAt(this.belief, g, settings));
    });
    return { missing, allowed };
  }

  /** What the question minimises, as it really is. */
  private value(question: Question, settings: readonly number[]): number {
    if (question.aim === 'cost') return this.costOf(settings);
    const { groups } = this.belief;
    const { aim, weight } = question;
    const weights = weightsOf(aim, groups.length);
    let worst = 0;
    let others = 0;
    predict(this.belief, settings).forEach((prediction, g) => {
      const counted = endMs(prediction, weight);
      worst = Math.max(worst, countedShare(groups[g], counted));
      others +=
        (weights.all * counted) / groups[g].toleranceMs +
        weights.excess * excessShare(groups[g], counted, weight);
    });
    settings.forEach((x, a) => {
      const beyond = beyondReachMs(this.belief, question, a, x);
      worst = Math.max(worst, (WEIGHT_OF_REACH * beyond) / strictestMs(this.belief));
    });
    return weights.worst * worst + others;
  }

  private costOf(settings: readonly number[]): number {
    return costOfPlan(this.belief.machine, settings);
  }

  private unproven(gap: number | null): void {
    this.proven = false;
    this.gap = gap === null || this.gap === null ? null : Math.max(this.gap, gap);
  }
}

/** Whether the cost is given: then what stands as installed stays so in the search. */
function isBounded({ costAtMost, minutesAtMost }: Question): boolean {
  return costAtMost !== undefined || minutesAtMost !== undefined;
}

/** Rounding may break a limit on a sum: the adjusters that went farthest that way stay as installed, until it is kept. */
function withinLimits(belief: Belief, choices: readonly Choice[], settings: readonly number[]): number[] {
  const kept = [...settings];
  const { adjusters, limits } = belief.machine.description;
  for (const { adjusters: ids, sumMin = -Infinity, sumMax = Infinity } of limits) {
    const members = adjusters.flatMap(({ id }, a) => (ids.includes(id) ? [a] : []));
    for (;;) {
      const sum = members.reduce((total, a) => total + kept[a], 0);
      const way = sum > sumMax ? 1 : sum < sumMin ? -1 : 0;
      const ahead = members.filter((a) => way * (kept[a] - choices[a].installed) > 0);
      if (ahead.length === 0) break;
      const farthest = ahead.reduce((a, b) =>
        way * (kept[b] - choices[b].installed) > way * (kept[a] - choices[a].installed) ? b : a,
      );
      kept[farthest] = choices[farthest].installed;
    }
  }
  return kept;
}

/** A relative gap as small as the solver's own tolerance. */
const PROVEN = 1e-6;

function gapTo(bound: number | null, value: number): number | null {
  if (bound === null) return null;
  if (value - bound <= SLACK_MS) return 0;
  return Math.max(0, (value - bound) / value);
}
