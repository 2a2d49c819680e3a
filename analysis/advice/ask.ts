/** Puts questions about a belief to the integer solver, adding tangents until a solution is judged as it really is. */
import type { IntegerSolver, Run } from '../ports.ts';
import { predict, type Belief } from './belief.ts';
import type { Choice } from './choices.ts';
import { costOf, programFor, settingsIn, unresolvedMs, valuesFor } from './program.ts';
import { WEIGHT_OF_ALL, WEIGHT_OF_EXCESS, type Question, type Tangent } from './program.ts';
import { expectedMs, expectedTangent, intervalTangent } from './tangents.ts';

/** A solution that breaks a bound by less than this (ms) keeps it: the solver's own tolerance is 1e-6. */
export const SLACK_MS = 1e-5;
/** Expected |lateness| that is judged too kindly by less than this (ms) is judged well enough. */
const CLOSE_MS = 0.01;
/** Rounds of tangents. Each mends every group that was judged too kindly, so that a few suffice. */
const MOST_ROUNDS = 12;

/** Seconds for one program up to this size (groups × adjusters), which small machines do not use up … */
const TIME_LIMIT_S = 5;
const SMALL = 3000;
/** … and for a large one, where advice asks for four programs within two seconds. */
const LEAST_TIME_LIMIT_S = 0.35;

/** Tangents are true of the belief, not of one question, so that later questions start from all found so far. */
export class Asker {
  private readonly tangents: Tangent[];
  private readonly timeLimitS: number;
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
    const size = (belief.groups.length * choices.length) / SMALL;
    this.timeLimitS = Math.max(LEAST_TIME_LIMIT_S, TIME_LIMIT_S / Math.max(1, size) ** 2);
  }

  /** Whether all that was asked was answered with proof, and the largest gap left. */
  proof(): { proven: boolean; gap: number | null } {
    return { proven: this.proven, gap: this.gap };
  }

  /**
   * @param start settings to start from, and to fall back on where the solver finds none better in time
   * @returns settings by adjuster index; null where there are none, or none could be found in time
   * @throws the signal's reason when the run is stopped
   */
  async ask(question: Question, start: readonly number[]): Promise<readonly number[] | null> {
    const { belief, choices } = this;
    let best = this.judge(question, start).allowed ? start : null;
    for (let round = 0; round < MOST_ROUNDS; round++) {
      this.run.signal?.throwIfAborted();
      const answer = await this.solve(programFor(belief, choices, this.tangents, question), {
        timeLimitS: this.timeLimitS,
        start: best === null ? undefined : valuesFor(belief, choices, best),
      });
      if (answer.status === 'infeasible') return best;
      const settings = answer.objective === null ? null : settingsIn(belief, choices, answer.values);
      const judged = settings && this.judge(question, settings, answer.values.get('W'));
      if (
        settings &&
        judged?.allowed &&
        (best === null || this.value(question, settings) < this.value(question, best))
      )
        best = settings;
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

  /** Tangents where a solution was judged too kindly, and whether it keeps the question's bounds all the same. */
  private judge(
    { aim, within, expectedAtMost, costAtMost = Infinity }: Question,
    settings: readonly number[],
    worst = Infinity,
  ) {
    const { belief } = this;
    const missing: Tangent[] = [];
    let allowed = this.costOf(settings) <= costAtMost + 1e-6;
    const expected = expectedMs(belief, settings);
    predict(belief, settings).forEach(({ meanMs, ci95Ms }, g) => {
      const { toleranceMs, ci95Ms: measuredMs } = belief.groups[g];
      if (within !== undefined && Math.abs(meanMs) + ci95Ms > within[g] + SLACK_MS) {
        missing.push(intervalTangent(belief, g, settings));
        allowed = false;
      }
      const most = expectedAtMost?.[g] ?? Infinity;
      const said = aim === 'worst' ? worst * toleranceMs + unresolvedMs(toleranceMs, measuredMs) : Infinity;
      if (expected[g] <= Math.min(most, said) + CLOSE_MS) return;
      const tangent = expectedTangent(belief, g, settings);
      if (tangent !== null) missing.push(tangent);
      if (expected[g] > most + CLOSE_MS) allowed = false;
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

function gapTo(bound: number | null, value: number): number | null {
  if (bound === null || value === 0) return null;
  return Math.max(0, (value - bound) / value);
}
