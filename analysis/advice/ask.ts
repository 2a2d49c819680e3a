/** Puts questions about a belief to the integer solver, adding tangents until a solution is judged as it really is. */
import type { IntegerSolver, Run } from '../ports.ts';
import { predict, type Belief } from './belief.ts';
import type { Choice } from './choices.ts';
import { programFor, settingsIn, unresolvedMs, type Question, type Tangent } from './program.ts';
import { expectedMs, expectedTangent, intervalTangent } from './tangents.ts';

/** A solution that breaks a bound by less than this (ms) keeps it: the solver's own tolerance is 1e-6. */
export const SLACK_MS = 1e-5;
/** Expected |lateness| that is judged too kindly by less than this (ms) is judged well enough. */
const CLOSE_MS = 0.01;
/** Rounds of tangents. Each mends every group that was judged too kindly, so that a few suffice. */
const MOST_ROUNDS = 12;
/** Seconds for one program. Advice asks for a handful; beyond this a better proof is not worth the wait. */
const TIME_LIMIT_S = 3;

/** Tangents are true of the belief, not of one question, so that later questions start from all found so far. */
export class Asker {
  private readonly tangents: Tangent[];
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
  }

  /** Whether all that was asked was answered with proof, and the largest gap left. */
  proof(): { proven: boolean; gap: number | null } {
    return { proven: this.proven, gap: this.gap };
  }

  /**
   * @returns settings by adjuster index; null where there are none, or none could be found in time
   * @throws the signal's reason when the run is stopped
   */
  async ask(question: Question): Promise<readonly number[] | null> {
    let start: ReadonlyMap<string, number> | undefined;
    let best: { settings: readonly number[]; worst: number } | null = null;
    for (let round = 0; round < MOST_ROUNDS; round++) {
      this.run.signal?.throwIfAborted();
      const model = programFor(this.belief, this.choices, this.tangents, question);
      const answer = await this.solve(model, { timeLimitS: TIME_LIMIT_S, start });
      if (answer.objective === null) {
        if (answer.status !== 'infeasible') this.unproven(null);
        return best?.settings ?? null;
      }
      if (answer.status !== 'optimal') this.unproven(answer.gap);
      const settings = settingsIn(this.belief, this.choices, answer.values);
      const { missing, allowed } = this.judge(question, settings, answer.values.get('W') ?? 0);
      const worst = question.aim === 'worst' ? this.worstOf(settings) : 0;
      if (allowed && (best === null || worst < best.worst)) best = { settings, worst };
      if (missing.length === 0) return settings;
      this.tangents.push(...missing);
      start = answer.values;
    }
    this.unproven(null);
    return best?.settings ?? null;
  }

  /** Tangents where a solution was judged too kindly, and whether it keeps the question's bounds all the same. */
  private judge({ aim, within, expectedAtMost }: Question, settings: readonly number[], worst: number) {
    const { belief } = this;
    const missing: Tangent[] = [];
    let allowed = true;
    const expected = expectedMs(belief, settings);
    predict(belief, settings).forEach(({ meanMs, ci95Ms }, g) => {
      const { toleranceMs, ci95Ms: measuredMs } = belief.groups[g];
      if (within !== undefined && Math.abs(meanMs) + ci95Ms > within[g] + SLACK_MS) {
        missing.push(intervalTangent(belief, g, settings));
        allowed = false;
      }
      const most = Math.min(
        expectedAtMost?.[g] ?? Infinity,
        aim === 'worst' ? worst * toleranceMs + unresolvedMs(toleranceMs, measuredMs) : Infinity,
      );
      if (expected[g] <= most + CLOSE_MS) return;
      const tangent = expectedTangent(belief, g, settings);
      if (tangent !== null) missing.push(tangent);
      if (expected[g] > (expectedAtMost?.[g] ?? Infinity) + CLOSE_MS) allowed = false;
    });
    return { missing, allowed };
  }

  private worstOf(settings: readonly number[]): number {
    const { belief } = this;
    return expectedMs(belief, settings).reduce((worst, ms, g) => {
      const { toleranceMs, ci95Ms } = belief.groups[g];
      return Math.max(worst, (ms - unresolvedMs(toleranceMs, ci95Ms)) / toleranceMs);
    }, 0);
  }

  private unproven(gap: number | null): void {
    this.proven = false;
    this.gap = gap === null || this.gap === null ? null : Math.max(this.gap, gap);
  }
}
