/** One group's mean and variance with the settings of the moment, and how a change moves them: predict() in increments. */
import { NORMAL_95 } from '../numbers/normal.ts';
import { type Belief } from './belief.ts';

/** A change of one adjuster as groups see it. */
export interface GroupMove {
  readonly adjuster: number;
  /** Of its own geometric shift, ms. */
  readonly byMs: number;
  /** 1 where it is newly apart since the take, −1 where it is so no more. */
  readonly apart: number;
}

export class GroupState {
  private meanMs = 0;
  private variance = 0;
  /** Adjusters that move the group, and at each adjuster's index its place among them, or −1. */
  private readonly adjusters: readonly number[];
  private readonly place: Int16Array;
  /** Per ms of each adjuster's own geometric shift: mean, and variance that refitting it brings. */
  private readonly mean: Float64Array;
  private readonly refit: Float64Array;
  /** Variance per product of two shifts, row by row; half the variance's slope with each shift. */
  private readonly quadratic: Float64Array;
  private readonly slope: Float64Array;
  private readonly covariance: Float64Array;

  constructor(
    private readonly belief: Belief,
    private readonly g: number,
  ) {
    const { effects, factorCovariance, groupCovariance } = belief;
    const share = belief.share[g];
    this.adjusters = effects.flatMap((_, a) => (share[a] === 0 ? [] : [a]));
    this.place = new Int16Array(effects.length).fill(-1);
    this.adjusters.forEach((a, i) => (this.place[a] = i));
    const of = (value: (a: number) => number) => Float64Array.from(this.adjusters, value);
    this.mean = of((a) => share[a] * effects[a].factor);
    this.refit = of((a) => (share[a] * effects[a].refitMs) ** 2);
    this.covariance = of((a) => share[a] * groupCovariance[g][a]);
    this.slope = new Float64Array(this.adjusters.length);
    this.quadratic = Float64Array.from(
      this.adjusters.flatMap((a) => this.adjusters.map((b) => share[a] * factorCovariance[a][b] * share[b])),
    );
  }

  /** Works everything out anew, so that rounding errors never add up. */
  settle(shift: Float64Array, apart: Uint8Array): void {
    const { meanMs, ci95Ms } = this.belief.groups[this.g];
    const n = this.adjusters.length;
    this.meanMs = meanMs;
    this.variance = (ci95Ms / NORMAL_95) ** 2;
    this.adjusters.forEach((a, i) => {
      let slope = this.covariance[i];
      for (let j = 0; j < n; j++) slope += this.quadratic[i * n + j] * shift[this.adjusters[j]];
      this.slope[i] = slope;
      this.meanMs += shift[a] * this.mean[i];
      this.variance += shift[a] * (slope + this.covariance[i]) + apart[a] * this.refit[i];
    });
  }

  meanPerMs(adjuster: number): number {
    return this.mean[this.place[adjuster]];
  }

  meanAfter(moves: readonly GroupMove[]): number {
    let meanMs = this.meanMs;
    for (const { adjuster, byMs } of moves) {
      const i = this.place[adjuster];
      if (i !== -1) meanMs += byMs * this.mean[i];
    }
    return meanMs;
  }

  varianceAfter(moves: readonly GroupMove[]): number {
    const n = this.adjusters.length;
    let variance = this.variance;
    for (let m = 0; m < moves.length; m++) {
      const { adjuster, byMs, apart } = moves[m];
      const i = this.place[adjuster];
      if (i === -1) continue;
      variance += byMs * (2 * this.slope[i] + byMs * this.quadratic[i * n + i]) + apart * this.refit[i];
      for (let k = 0; k < m; k++) {
        const j = this.place[moves[k].adjuster];
        if (j !== -1) variance += 2 * byMs * moves[k].byMs * this.quadratic[i * n + j];
      }
    }
    return variance;
  }
}
