/**
 * A group whose pins lie at two places, far apart: pins of a swing, or some that sit a part of a step off. Their mean is the place
 * of none of them, and a shim that goes by it puts right pins wrong.
 */
import { sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { grouped } from '../numbers/grouped.ts';
import { mean } from '../numbers/statistics.ts';
import type { Strokes } from './strokes.ts';

/** Pins drilled for the same place differ by less than this: ms, and steps. Common practice, no source. */
const apartMs = 8;
const apartSteps = 0.1;
/** Least number of pins at each of the two places, and least share of the group's. */
const fewestPins = 2;
const leastShare = 0.25;

const known = new WeakMap<Strokes, ReadonlyMap<string, number>>();

/** How far apart the two places are, ms; null where all pins of the group lie at one. Worked out once for strokes. */
export function placesApartMs(
  strokes: Strokes,
  machine: Machine,
  channel: number,
  sector: number | null,
): number | null {
  let groups = known.get(strokes);
  if (groups === undefined) {
    groups = groupsApart(strokes, machine);
    known.set(strokes, groups);
  }
  if (sector !== null) return groups.get(`${channel} ${sector}`) ?? null;
  const own = machine.description.barrel.sectors.flatMap((_, s) => groups.get(`${channel} ${s}`) ?? []);
  return own.length === 0 ? null : Math.max(...own);
}

function groupsApart(strokes: Strokes, { description }: Machine): ReadonlyMap<string, number> {
  const { hits, step, why, latenessMs, rotation } = strokes;
  const used = [...why.keys()].filter((i) => why[i] === null && step[i] >= 0);
  const pins = [...grouped(used, (i) => `${hits.channel[i]} ${step[i]}`).values()].map((own) => ({
    channel: hits.channel[own[0]],
    sector: sectorOf(description, step[own[0]]),
    ms: mean(own.map((i) => latenessMs[i])),
  }));
  const least = Math.max(apartMs, (apartSteps * 1000 * rotation.secondsPerTurn) / description.barrel.steps);
  const apart = new Map<string, number>();
  for (const own of grouped(pins, ({ channel }) => channel).values()) {
    const sectors = [...grouped(own, ({ channel, sector }) => `${channel} ${sector}`)];
    const gaps = (fewest: number) =>
      sectors.flatMap(([key, each]) => {
        const gapMs = widestGap(
          each.map(({ ms }) => ms),
          fewest,
        );
        return gapMs >= least ? [[key, gapMs] as const] : [];
      });
    // One pin alone may sit wrong; where the channel has two places elsewhere it belongs to the second.
    if (gaps(fewestPins).length > 0) for (const [key, gapMs] of gaps(1)) apart.set(key, gapMs);
  }
  return apart;
}

/** Between pins that are enough on either side, ms; 0 where there are too few. */
function widestGap(values: readonly number[], fewest: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  const least = Math.max(fewest, leastShare * sorted.length);
  let widest = 0;
  for (let i = 1; i < sorted.length; i++)
    if (i >= least && sorted.length - i >= least) widest = Math.max(widest, sorted[i] - sorted[i - 1]);
  return widest;
}
