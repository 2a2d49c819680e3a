/**
 * A quick search for good settings, one adjuster or a pair at a time, judged exactly as the belief predicts. It gives the
 * integer solver a place to start, and is the answer for machines so large that the solver runs out of time; how far
 * it may be from the best is then what the solver's bound says.
 */
import { changedSinceTake, geometricShiftMs, NORMAL_95, type Belief } from './belief.ts';
import type { Choice } from './choices.ts';

/** What makes settings bad; everything is added up. */
export interface Score {
  /** From a group's mean lateness, the standard deviation a change brings, and its interval's half-width, ms. */
  readonly group: (g: number, meanMs: number, changeSdMs: number, ci95Ms: number) => number;
  /** For each changed adjuster. */
  readonly cost: (adjuster: number) => number;
}

/** Passes over all adjusters; a search that still finds something then is stopped where it is. */
const MOST_PASSES = 30;
/** Settings that are tried for one adjuster in one pass: all of a short range, else some near and far. */
const MOST_TRIED = 60;
/** Pairs are tried among so many adjusters; those that move most groups come first. */
const MOST_PAIRED = 14;
/** An improvement smaller than this share of the score is none. */
const LEAST_GAIN = 1e-9;

/**
 * @param start   settings by adjuster index, within limits
 * @param movable indices of the adjusters that may be changed
 * @returns settings at least as good as `start`
 */
export function search(
  belief: Belief,
  choices: readonly Choice[],
  start: readonly number[],
  movable: readonly number[],
  score: Score,
): number[] {
  const state = new State(belief, choices, start, score);
  const paired = [...movable]
    .sort((a, b) => state.movedBy[b].length - state.movedBy[a].length || a - b)
    .slice(0, MOST_PAIRED);
  for (let pass = 0; pass < MOST_PASSES; pass++) {
    let better = false;
    for (const a of movable)
      for (const setting of tried(choices[a], state.settings[a])) {
        if (state.take([[a, setting]])) better = true;
      }
    if (better) continue;
    for (const a of paired)
      for (const b of paired) {
        if (a === b) continue;
        for (const [da, db] of PAIR_STEPS) {
          if (db !== null && a > b) continue;
          const change: [number, number][] = [
            [a, state.settings[a] + da],
            [b, db === null ? choices[b].installed : state.settings[b] + db],
          ];
          if (state.take(change)) better = true;
        }
      }
    if (!better) break;
  }
  return state.settings;
}

/** Steps of a pair; null puts the second back to where it is installed. */
const PAIR_STEPS: readonly (readonly [number, number | null])[] = [
  [1, -1],
  [-1, 1],
  [1, 1],
  [-1, -1],
  [2, -2],
  [-2, 2],
  [1, null],
  [-1, null],
  [2, null],
  [-2, null],
];

function tried({ installed, spans }: Choice, current: number): number[] {
  const all = spans.reduce((sum, { lo, hi }) => sum + hi - lo + 1, 0);
  const settings = new Set([installed]);
  for (const { lo, hi } of spans) {
    if (all <= MOST_TRIED) for (let setting = lo; setting <= hi; setting++) settings.add(setting);
    else
      for (let step = 1; step <= hi - lo + 1; step = Math.ceil(step * 1.5))
        for (const setting of [current - step, current + step, lo + step - 1, hi - step + 1])
          if (setting >= lo && setting <= hi) settings.add(setting);
  }
  return [...settings];
}

class State {
  readonly settings: number[];
  /** Groups that each adjuster moves. */
  readonly movedBy: readonly (readonly number[])[];
  /** Groups that a pair of adjusters moves. */
  private readonly unions = new Map<string, readonly number[]>();
  private readonly compact: readonly Compact[];
  /** 1 where an adjuster has been or would be apart since the take. */
  private readonly apart: Uint8Array;
  /** Own geometric shift since the take, ms. */
  private readonly shift: Float64Array;
  private readonly groupScore: Float64Array;
  private readonly limits: readonly { members: readonly number[]; least: number; most: number }[];

  constructor(
    private readonly belief: Belief,
    private readonly choices: readonly Choice[],
    start: readonly number[],
    private readonly score: Score,
  ) {
    const { adjusters, limits } = belief.machine.description;
    this.settings = [...start];
    this.compact = belief.groups.map((_, g) => compactOf(belief, g));
    this.apart = Uint8Array.from(start, (setting, a) => this.isApart(a, setting));
    this.movedBy = adjusters.map((_, a) => belief.share.flatMap((share, g) => (share[a] === 0 ? [] : [g])));
    this.shift = Float64Array.from(start, (setting, a) => geometricShiftMs(belief, a, setting));
    this.groupScore = Float64Array.from(belief.groups, (_, g) => this.scoreOf(g));
    this.limits = limits.map(({ adjusters: ids, sumMin = -Infinity, sumMax = Infinity }) => {
      const members = adjusters.flatMap(({ id }, a) => (ids.includes(id) ? [a] : []));
      return { members, least: sumMin, most: sumMax };
    });
  }

  /** Makes the change where it is allowed and better; says whether it did. */
  take(change: readonly (readonly [number, number])[]): boolean {
    const before = change.map(([a]) => this.settings[a]);
    if (change.every(([a, setting]) => this.settings[a] === setting)) return false;
    if (!change.every(([a, setting]) => allows(this.choices[a], setting))) return false;
    const touched = change.length === 1 ? this.movedBy[change[0][0]] : this.touchedBy(change);
    let was = this.costOf(change);
    for (const g of touched) was += this.groupScore[g];
    this.set(change);
    let is = this.costOf(change);
    if (!this.keepsLimits(change)) is = Infinity;
    const scores: number[] = [];
    for (const g of touched) {
      if (is >= was) break;
      const score = this.scoreOf(g);
      scores.push(score);
      is += score;
    }
    if (scores.length === touched.length && is < was - LEAST_GAIN * Math.abs(was)) {
      touched.forEach((g, i) => (this.groupScore[g] = scores[i]));
      return true;
    }
    this.set(change.map(([a], i) => [a, before[i]] as const));
    return false;
  }

  private touchedBy(change: readonly (readonly [number, number])[]): readonly number[] {
    const key = change.map(([a]) => a).join(' ');
    const known = this.unions.get(key) ?? [...new Set(change.flatMap(([a]) => this.movedBy[a]))];
    this.unions.set(key, known);
    return known;
  }

  private costOf(change: readonly (readonly [number, number])[]): number {
    return change.reduce(
      (sum, [a]) => sum + (this.settings[a] === this.choices[a].installed ? 0 : this.score.cost(a)),
      0,
    );
  }

  private set(change: readonly (readonly [number, number])[]): void {
    for (const [a, setting] of change) {
      this.settings[a] = setting;
      this.shift[a] = geometricShiftMs(this.belief, a, setting);
      this.apart[a] = this.isApart(a, setting);
    }
  }

  private isApart(a: number, setting: number): number {
    return setting !== this.belief.takeSettings[a] || changedSinceTake(this.belief, a) ? 1 : 0;
  }

  /** A limit that the machine breaks as it stands may stay broken only while its adjusters stay. */
  private keepsLimits(change: readonly (readonly [number, number])[]): boolean {
    return this.limits.every(({ members, least, most }) => {
      if (!change.some(([a]) => members.includes(a))) return true;
      const sum = members.reduce((total, a) => total + this.settings[a], 0);
      const asInstalled = members.every((a) => this.settings[a] === this.choices[a].installed);
      return asInstalled || (sum >= least && sum <= most);
    });
  }

  private scoreOf(g: number): number {
    const { adjusters, mean, covariance, refit, quadratic, ownVariance } = this.compact[g];
    const { shift, apart } = this;
    const n = adjusters.length;
    let meanMs = this.belief.groups[g].meanMs;
    let changeVariance = 0;
    let withOwn = 0;
    for (let i = 0; i < n; i++) {
      const a = adjusters[i];
      if (apart[a] === 1) changeVariance += refit[i];
      const move = shift[a];
      if (move === 0) continue;
      meanMs += move * mean[i];
      withOwn += move * covariance[i];
      // The matrix is symmetric: twice what lies left of the diagonal, and the diagonal.
      const row = i * n;
      let sum = 0;
      for (let j = 0; j < i; j++) sum += quadratic[row + j] * shift[adjusters[j]];
      changeVariance += move * (2 * sum + quadratic[row + i] * move);
    }
    const variance = Math.max(0, ownVariance + changeVariance + 2 * withOwn);
    const ci95Ms = NORMAL_95 * Math.sqrt(variance);
    return this.score.group(g, meanMs, Math.sqrt(Math.max(0, changeVariance)), ci95Ms);
  }
}

/** What a group's prediction needs of the belief, for the adjusters that move it alone: the search asks it very often. */
interface Compact {
  readonly adjusters: Int32Array;
  /** Per ms of each adjuster's own geometric shift. */
  readonly mean: Float64Array;
  readonly covariance: Float64Array;
  /** Variance that refitting it brings. */
  readonly refit: Float64Array;
  /** Variance per product of two shifts, row by row. */
  readonly quadratic: Float64Array;
  readonly ownVariance: number;
}

function compactOf(
  { effects, factorCovariance, groupCovariance, groups, share }: Belief,
  g: number,
): Compact {
  const adjusters = Int32Array.from(effects.flatMap((_, a) => (share[g][a] === 0 ? [] : [a])));
  const of = (value: (a: number) => number) => Float64Array.from(adjusters, value);
  const quadratic = new Float64Array(adjusters.length ** 2);
  adjusters.forEach((a, i) =>
    adjusters.forEach((b, j) => {
      quadratic[i * adjusters.length + j] = share[g][a] * factorCovariance[a][b] * share[g][b];
    }),
  );
  return {
    adjusters,
    mean: of((a) => share[g][a] * effects[a].factor),
    covariance: of((a) => share[g][a] * groupCovariance[g][a]),
    refit: of((a) => (share[g][a] * effects[a].refitMs) ** 2),
    quadratic,
    ownVariance: (groups[g].ci95Ms / NORMAL_95) ** 2,
  };
}

function allows({ installed, spans }: Choice, setting: number): boolean {
  return setting === installed || spans.some(({ lo, hi }) => setting >= lo && setting <= hi);
}
