/**
 * A quick search for good settings, one adjuster or a pair at a time, judged exactly as the belief predicts. It gives the
 * integer solver a place to start, and is the answer for machines so large that the solver runs out of time; how far
 * it may be from the best is then what the solver's bound says.
 */
import type { Belief } from './belief.ts';
import { geometricShiftMs, NORMAL_95 } from './belief.ts';
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
  /** Adjusters that move each group. */
  private readonly moving: readonly (readonly number[])[];
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
    this.moving = belief.share.map((share) => adjusters.flatMap((_, a) => (share[a] === 0 ? [] : [a])));
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

  private touchedBy(change: readonly (readonly [number, number])[]): number[] {
    return [...new Set(change.flatMap(([a]) => this.movedBy[a]))];
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
    }
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
    const { belief, shift, settings } = this;
    const { effects, factorCovariance, takeSettings } = belief;
    const share = belief.share[g];
    const withMs = belief.groupCovariance[g];
    const { meanMs, ci95Ms } = belief.groups[g];
    const moving = this.moving[g];
    let mean = meanMs;
    let changeVariance = 0;
    let covariance = 0;
    for (const a of moving) {
      const apart = settings[a] !== takeSettings[a] || this.choices[a].installed !== takeSettings[a];
      if (apart) changeVariance += (share[a] * effects[a].refitMs) ** 2;
      const move = share[a] * shift[a];
      if (move === 0) continue;
      mean += move * effects[a].factor;
      covariance += move * withMs[a];
      const row = factorCovariance[a];
      for (const b of moving) changeVariance += move * row[b] * share[b] * shift[b];
    }
    const own = (ci95Ms / NORMAL_95) ** 2;
    const ci = NORMAL_95 * Math.sqrt(Math.max(0, own + changeVariance + 2 * covariance));
    return this.score.group(g, mean, Math.sqrt(Math.max(0, changeVariance)), ci);
  }
}

function allows({ installed, spans }: Choice, setting: number): boolean {
  return setting === installed || spans.some(({ lo, hi }) => setting >= lo && setting <= hi);
}
