/** How well it is known which instant of a channel's strikes counts: one error a take and channel, the same at every strike. */
import type { Hearing } from '../hits/hits.ts';
import { speedOfSound, usualCelsius } from '../hits/instants.ts';
import type { Machine } from '../machine/machine.ts';

/** A distance that nobody gave, where others are given, may be anything up to the largest given, and up to this, mm. */
const usualMostMm = 1000;
/** The perceived onset of a sound that nobody heard may come so much after the physical one, ms: a slow bass drum's. */
const mostPerceivedMs = 20;

/** Channels without "microphoneMm" where others have one; none where no channel has. */
export function withoutDistance({ description: { channels } }: Machine): number[] {
  const without = [...channels.keys()].filter((c) => channels[c].microphoneMm === undefined);
  return without.length === channels.length ? [] : without;
}

/** Channels whose perceived onset nothing tells where it counts and others' is told. */
export function withoutPerceived({ instants = [] }: Hearing): number[] {
  const without = [...instants.keys()].filter((c) => Number.isNaN(instants[c].perceivedS));
  return without.length === instants.length ? [] : without;
}

/**
 * Standard deviation by channel, ms: of where its sound begins as it was heard, of its way to the microphone where it is
 * not known while others' is taken off, of its perceived onset where that is not known. What is not known counts as 0 in
 * the times, so what is uniform from 0 on has its root mean square as its error.
 */
export function instantSdsMs(hearing: Hearing, machine: Machine): Float64Array {
  const { channels } = machine.description;
  const mostMm = Math.max(usualMostMm, ...channels.map(({ microphoneMm = 0 }) => microphoneMm));
  const noDistance = new Set(withoutDistance(machine));
  const noPerceived = new Set(withoutPerceived(hearing));
  return Float64Array.from(channels, (_, c) =>
    Math.hypot(
      1000 * (hearing.onsetSdS?.[c] || 0),
      noDistance.has(c) ? mostMm / speedOfSound(usualCelsius) / Math.sqrt(3) : 0,
      noPerceived.has(c) ? mostPerceivedMs / Math.sqrt(3) : 0,
    ),
  );
}
