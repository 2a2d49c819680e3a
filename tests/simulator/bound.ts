/**
 * What no settings can beat: the least worst |mean lateness| were settings not whole, for a machine whose truth is known.
 * A linear program of its own, written from the machine's truth and not from any advice; its answer shows how far best.ts,
 * whose settings are whole and whose search proves nothing, can be from the best at most.
 */
import { moves } from '../../analysis/machine/effects.ts';
import type { IntegerSolver } from '../../analysis/ports.ts';
import type { TruePin } from './loop.ts';
import { trueShiftOf, type Faulty } from './machines.ts';

/** @param pins every pin's true lateness with the adjusters as built */
export async function leastWorstMs(
  faulty: Faulty,
  pins: readonly TruePin[],
  solve: IntegerSolver,
): Promise<number> {
  const { machine } = faulty;
  const { description, reference } = machine;
  const { adjusters, channels, barrel, limits } = description;
  const effect = trueShiftOf(faulty);
  const rows: string[] = [];
  channels.forEach(({ id }, c) =>
    barrel.sectors.forEach((sector, s) => {
      const here = pins.filter((pin) => pin.channel === id && pin.sector === sector.id);
      if (here.length === 0) return;
      const mean = here.reduce((sum, { ms }) => sum + ms, 0) / here.length;
      // The reference is not on these barrels, so that one of its sectors tells for all.
      const sum = adjusters
        .map((adjuster, a) => {
          const own = Number(moves(machine, adjuster, c, s)) - Number(moves(machine, adjuster, reference, 0));
          return own === 0 ? '' : own > 0 ? `+ z${a}` : `- z${a}`;
        })
        .filter((term) => term !== '');
      const minus = sum.map((term) => (term.startsWith('+') ? `-${term.slice(1)}` : `+${term.slice(1)}`));
      rows.push(` W ${minus.join('\n ')} >= ${mean}`, ` W ${sum.join('\n ')} >= ${-mean}`);
    }),
  );
  for (const { adjusters: ids, sumMax } of limits) {
    // Shims: so many ms a unit, the same for each.
    const members = adjusters.flatMap(({ id }, a) => (ids.includes(id) ? [a] : []));
    const now = members.reduce((sum, a) => sum + adjusters[a].installed, 0);
    const units = members.map((a) => `+ ${1 / effect(a, adjusters[a].installed + 1)} z${a}`);
    if (sumMax !== undefined) rows.push(` ${units.join('\n ')} <= ${sumMax - now}`);
  }
  const bounds = adjusters.map(({ min, max }, a) => ` ${effect(a, min)} <= z${a} <= ${effect(a, max)}`);
  const text = `Minimize\n W\nSubject To\n${rows.map((row, i) => ` r${i}:${row}`).join('\n')}\nBounds\n${bounds.join('\n')}\nEnd\n`;
  const { objective } = await solve(text);
  return objective ?? NaN;
}
