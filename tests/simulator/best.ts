/**
 * The least worst |mean lateness| that whole units allow within their limits, for a machine whose truth is known. It is
 * found in another way than advice finds it: with joints and ring given, each channel stands alone, and the best of
 * its own settings is found exactly; joints and ring are then searched from many starts. What it finds can be
 * reached; that nothing is better is not proven.
 */
import { moves } from '../../analysis/machine/effects.ts';
import type { Random } from '../../samples/random.ts';
import type { TruePin } from './loop.ts';
import { trueShiftOf, type Faulty } from './machines.ts';

const STARTS = 12;

/** @param pins every pin's true lateness with the adjusters as built */
export function bestWorstMs(faulty: Faulty, pins: readonly TruePin[], random: Random): number {
  const { machine } = faulty;
  const { description, reference } = machine;
  const { adjusters, channels, barrel, limits } = description;
  const effect = trueShiftOf(faulty);
  const own = channels.map((_, c) => ownShifts(c));
  const shared = adjusters.flatMap(({ shifts, id }, a) =>
    shifts.channels === undefined || shifts.channels[0] === channels[reference].id ? [{ a, id }] : [],
  );
  const bounds = limits.map(({ adjusters: ids, sumMax = Infinity }) => ({ ids: new Set(ids), sumMax }));

  /** All shifts that a channel's own adjusters can make together, ascending. */
  function ownShifts(c: number): number[] {
    let sums = [0];
    adjusters.forEach(({ shifts, min, max }, a) => {
      if (c === reference || shifts.channels?.[0] !== channels[c].id) return;
      const one = Array.from({ length: max - min + 1 }, (_, i) => effect(a, min + i));
      sums = sums.flatMap((sum) => one.map((shift) => sum + shift));
    });
    return sums.sort((x, y) => x - y);
  }

  const means = channels.map((channel) =>
    barrel.sectors.map((sector) => {
      const here = pins.filter((pin) => pin.channel === channel.id && pin.sector === sector.id);
      return here.reduce((sum, { ms }) => sum + ms, 0) / here.length;
    }),
  );
  const moved = shared.map(({ a }) =>
    channels.map((_, c) => barrel.sectors.map((__, s) => moves(machine, adjusters[a], c, s))),
  );

  function worstWith(settings: readonly number[], giveUpAt: number): number {
    const shifts = shared.map(({ a }, i) => effect(a, settings[i]));
    // The reference is not on these barrels: what moves it moves all else the other way.
    const ofReference = shifts.reduce((sum, shift, i) => sum + (moved[i][reference][0] ? shift : 0), 0);
    let worst = 0;
    for (let c = 0; c < channels.length; c++) {
      let least = Infinity;
      let most = -Infinity;
      for (let s = 0; s < barrel.sectors.length; s++) {
        if (Number.isNaN(means[c][s])) continue;
        let ms = means[c][s] - ofReference;
        for (let i = 0; i < shifts.length; i++) if (moved[i][c][s]) ms += shifts[i];
        least = Math.min(least, ms);
        most = Math.max(most, ms);
      }
      worst = Math.max(worst, centred(own[c], least, most));
      if (worst >= giveUpAt) return Infinity;
    }
    return worst;
  }

  function allowed(settings: readonly number[]): boolean {
    const within = settings.every(
      (x, i) => x >= adjusters[shared[i].a].min && x <= adjusters[shared[i].a].max,
    );
    return (
      within &&
      bounds.every(({ ids, sumMax }) => {
        const sum = settings.reduce((total, x, i) => total + (ids.has(shared[i].id) ? x : 0), 0);
        return sum <= sumMax;
      })
    );
  }

  let best = Infinity;
  for (let start = 0; start < STARTS; start++) {
    let settings = shared.map(({ a }) => adjusters[a].installed + (start === 0 ? 0 : random.integer(9) - 4));
    if (!allowed(settings)) settings = shared.map(({ a }) => adjusters[a].installed);
    let worst = worstWith(settings, Infinity);
    for (let better = true; better;) {
      better = false;
      for (const next of neighbours(settings)) {
        if (!allowed(next)) continue;
        const value = worstWith(next, worst);
        if (value >= worst - 1e-9) continue;
        [settings, worst, better] = [next, value, true];
      }
    }
    best = Math.min(best, worst);
  }
  return best;
}

/** Of the shifts, the one that centres a range best; what is left is its worse end. */
function centred(shifts: readonly number[], least: number, most: number): number {
  const wanted = -(least + most) / 2;
  let low = 0;
  let high = shifts.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (shifts[middle] < wanted) low = middle + 1;
    else high = middle;
  }
  const left = (shift: number) => Math.max(Math.abs(least + shift), Math.abs(most + shift));
  return Math.min(left(shifts[low]), low > 0 ? left(shifts[low - 1]) : Infinity);
}

/** One setting moved by 1 to 4, and two moved against each other. */
function* neighbours(settings: readonly number[]): Generator<number[]> {
  const moved = (changes: readonly (readonly [number, number])[]) => {
    const next = [...settings];
    for (const [i, by] of changes) next[i] += by;
    return next;
  };
  for (let i = 0; i < settings.length; i++) {
    for (const by of [-4, -2, -1, 1, 2, 4]) yield moved([[i, by]]);
    for (let j = 0; j < settings.length; j++)
      if (i !== j) for (const by of [1, 2, 3]) yield moved([[i, by], [j, -by]]); // prettier-ignore
  }
}
