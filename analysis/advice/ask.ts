/** Puts questions about a belief to the integer solver, adding tangents until a solution is judged as it really is. */
import type { IntegerSolver, Run } from '../ports.ts';
import { predict, type Belief } from './belief.ts';
import type { Choice } from './choices.ts';
import { costOf, programFor, roundedIn, settingsIn, unresolvedMs, valuesFor } from './program.ts';
import { WEIGHT_OF_ALL, WEIGHT_OF_EXCESS, type Question, type Tangent } from './program.ts';
import { expectedMs, expectedTangent, foldedMean, intervalTangent } from './tangents.ts';

/** A solution that breaks a bound by less than this (ms) keeps it: the solver's own tolerance is 1e-6. */
export const SLACK_MS = 1e-5;
/** Expected |lateness| that is judged too kindly by less than this (ms) is judged well enough. */
const CLOSE_MS = 0.01;
/** Rounds of tangents. Each mends every group that was judged too kindly, so that a few suffice. */
const MOST_ROUNDS = 12;

/**
 * Up to this size (groups × adjusters) the integer program is solved, within this time, which small machines do not use
 * up. Beyond, it takes minutes; the search's answer then stands, and the relaxed program says how far from the best it
 * can be at most.
 */
export const SMALL = 1200;
const TIME_LIMIT_S = 2;

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
    this.tangents = belief.groups.map((_, g) => intervalTangent(belief, g, installed));
    this.small = belief.groups.length * choices.length <= SMALL;
  }

  /** Whether all that was asked was answered with proof, and the largest gap left. */
  proof(): { proven: boolean; gap: number | null } {
    return { proven: this.proven, gap: this.gap };
  }

  /**
   * @param start   settings to start from, and to fall back on where the solver finds none better in time
   * @param improve the search that goes with the question
   * @returns settings by adjuster index; null where there are none, or none could be found in time
   * @throws the signal's reason when the run is stopped
   */
  async ask(
    question: Question,
    start: readonly number[],
    improve: (settings: readonly number[]) => readonly number[],
  ): Promise<readonly number[] | null> {
    const first = this.judge(question, start).allowed ? start : null;
    return this.small ? this.solved(question, first) : this.bounded(question, first, improve);
  }

  private async solved(
    question: Question,
    first: readonly number[] | null,
  ): Promise<readonly number[] | null> {
    const { belief, choices } = this;
    let best = first;
    for (let round = 0; round < MOST_ROUNDS; round++) {
      this.run.signal?.throwIfAborted();
      const answer = await this.solve(programFor(belief, choices, this.tangents, question), {
        timeLimitS: TIME_LIMIT_S,
        start: best === null ? undefined : valuesFor(belief, choices, best),
      });
      if (answer.status === 'infeasible') return best;
      const settings = answer.objective === null ? null : settingsIn(belief, choices, answer.values);
      const judged = settings && this.judge(question, settings, answer.values.get('W'));
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

  private async bounded(
    question: Question,
    first: readonly number[] | null,
    improve: (settings: readonly number[]) => readonly number[],
  ): Promise<readonly number[] | null> {
    const { belief, choices } = this;
    this.run.signal?.throwIfAborted();
    const relaxed = await this.solve(programFor(belief, choices, this.tangents, question, true), {
      timeLimitS: TIME_LIMIT_S,
    });
    if (relaxed.status === 'infeasible') return null;
    let best = first;
    if (relaxed.status === 'optimal') {
      const rounded = withinLimits(belief, choices, roundedIn(belief, choices, relaxed.values));
      const settings = improve(rounded);
      const { missing, allowed } = this.judge(question, settings, relaxed.values.get('W'));
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
    if (gap === null || gap > PROVEN) this.unproven(gap);
    return best;
  }

  private better(
    question: Question,
    settings: readonly number[],
    best: readonly number[] | null,
  ): readonly number[] {
    return best === null || this.value(question, settings) < this.value(question, best) ? settings : best;
  }

  /** Tangents where a solution was judged too kindly, and whether it keeps the question's bounds all the same. */
  private judge(
    { aim, within, expectedAtMost, costAtMost = Infinity }: Question,
    settings: readonly number[],
    worst = Infinity,
  ) {
    const { belief } = this;
    const missing: Tangent[] = [];
    let allowed = this.costOf(settings) <= costAtMost + 1e-6;
    predict(belief, settings).forEach(({ meanMs, ci95Ms, changeSdMs }, g) => {
      const expected = foldedMean(meanMs, changeSdMs);
      const { toleranceMs, ci95Ms: measuredMs } = belief.groups[g];
      if (within !== undefined && Math.abs(meanMs) + ci95Ms > within[g] + SLACK_MS) {
        missing.push(intervalTangent(belief, g, settings));
        allowed = false;
      }
      const most = expectedAtMost?.[g] ?? Infinity;
      const said = aim === 'worst' ? worst * toleranceMs + unresolvedMs(toleranceMs, measuredMs) : Infinity;
      if (expected <= Math.min(most, said) + CLOSE_MS) return;
      const tangent = expectedTangent(belief, g, settings, meanMs);
      if (tangent !== null) missing.push(tangent);
      if (expected > most + CLOSE_MS) allowed = false;
    });
    return { missing, allowed };
  }

  /** What the question minimises, as it really is. */
  private value({ aim, excessBeyond }: Question, settings: readonly number[]): number {
    if (aim === 'cost') return this.costOf(settings);
    const { groups } = this.belief;
    const expected = expectedMs(this.belief, settings);
    let worst = 0;
    let others = 0;
    expected.forEach((ms, g) => {
      const { toleranceMs, ci95Ms } = groups[g];
      worst = Math.max(worst, (ms - unresolvedMs(toleranceMs, ci95Ms)) / toleranceMs);
      const excess = excessBeyond === undefined ? 0 : Math.max(0, ms - excessBeyond[g]) / toleranceMs;
      others += (WEIGHT_OF_ALL * ms) / toleranceMs + WEIGHT_OF_EXCESS * excess;
    });
    return worst + others / groups.length;
  }

  private costOf(settings: readonly number[]): number {
    return this.choices.reduce(
      (sum, { installed }, a) => sum + (settings[a] === installed ? 0 : costOf(this.belief, a)),
      0,
    );
  }

  private unproven(gap: number | null): void {
    this.proven = false;
    this.gap = gap === null || this.gap === null ? null : Math.max(this.gap, gap);
  }
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
