/**
 * A quick search for good settings, judged exactly as the belief predicts. It gives the integer solver a place to
 * start, and is the answer for machines so large that the solver would take minutes.
 *
 * What moves many channels at once (a joint, a ring) is tried together with the adjusters of each channel alone: a joint
 * is worth moving only where every lever follows it.
 */
import { SearchState, type SettingChange, type Objective } from './search-state.ts';
import type { Belief } from './belief.ts';
import type { Choice } from './choices.ts';

/** Rounds of all the ways there are; a search that still finds something then is stopped where it is. */
const MOST_PASSES = 30;
/** Settings that are tried for one adjuster in one pass: all of a short range, else some near and far. */
const MOST_TRIED = 60;
/** Pairs are tried among so many adjusters; those that move most groups come first. */
const MOST_PAIRED = 14;

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
  score: Objective,
): number[] {
  const state = new SearchState(belief, choices, start, movable, score);
  const paired = state.shared.slice(0, MOST_PAIRED);
  const followed = movable.filter((a) => state.hasFollowers(a));
  for (let pass = 0; pass < MOST_PASSES; pass++) {
    let better = false;
    for (const a of movable)
      for (const setting of tried(choices[a], state.settings[a]))
        if (state.take([[a, setting]])) better = true;
    if (better) continue;
    for (const a of followed)
      for (const by of STEPS) {
        const setting = by === null ? choices[a].installed : state.settings[a] + by;
        if (state.takeFollowed([[a, setting]])) better = true;
      }
    for (const a of paired)
      for (const b of paired)
        for (const [byA, byB] of PAIR_STEPS) {
          if (a === b || (byB !== null && a > b)) continue;
          const change: SettingChange = [
            [a, state.settings[a] + byA],
            [b, byB === null ? choices[b].installed : state.settings[b] + byB],
          ];
          if (state.takeFollowed(change)) better = true;
        }
    if (!better) break;
  }
  return state.settings;
}

/** Steps of one adjuster that others follow; null puts it back to where it is installed. */
const STEPS: readonly (number | null)[] = [1, -1, 2, -2, 4, -4, null];

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
