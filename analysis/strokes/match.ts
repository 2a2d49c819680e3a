/** Which hit is which pin's: the strokes that the pattern asks for, and the hits nearest to them, one to one. */
import { sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { median } from '../numbers/statistics.ts';

/** A stroke that the pattern asks for. */
export interface Due {
  readonly channel: number;
  readonly step: number;
  readonly turn: number;
  /** turn · steps + step */
  readonly position: number;
  readonly sector: number;
  /** Lateness that is meant, s. */
  readonly targetS: number;
}

/**
 * When a stroke is due: when its place passes, and as much later as is meant. All lateness is against this, here and
 * nowhere else.
 *
 * @param timeAt when a position passed, s
 */
export function dueTimeS({ position, targetS }: Due, timeAt: (position: number) => number): number {
  return timeAt(position) + targetS;
}

/** All strokes between two positions, by channel, each list ascending. */
export function strokesDue(machine: Machine, from: number, to: number): Due[][] {
  const { steps } = machine.description.barrel;
  const due = machine.description.channels.map(() => [] as Due[]);
  for (let turn = Math.floor(from / steps); turn * steps <= to; turn++)
    for (const { step, channel, targetMs = 0 } of machine.pins) {
      const position = turn * steps + step;
      if (position < from || position > to) continue;
      const sector = sectorOf(machine.description, step);
      due[channel].push({ channel, step, turn, position, sector, targetS: targetMs / 1000 });
    }
  return due;
}

/** How late a channel lies in a sector, s, roughly: what is allowed for when hits are given to pins. */
export interface Offsets {
  readonly channelS: Float64Array;
  readonly sectorS: Float64Array;
}

export function offsetOf(
  machine: Machine,
  { channelS, sectorS }: Offsets,
  channel: number,
  sector: number,
): number {
  return channelS[channel] + (machine.description.channels[channel].onBarrel ? sectorS[sector] : 0);
}

/**
 * One-to-one within reach: of all pairs the nearest is taken first, then the nearest of what is left.
 *
 * @param hitS ascending
 * @param dueS ascending, where each hit is expected
 * @returns for each hit the index of its due stroke, −1 where it has none
 */
export function matchNearest(hitS: ArrayLike<number>, dueS: ArrayLike<number>, reachS: number): Int32Array {
  const pairs: { hit: number; due: number; miss: number }[] = [];
  for (let hit = 0, low = 0; hit < hitS.length; hit++) {
    while (low < dueS.length && dueS[low] < hitS[hit] - reachS) low++;
    for (let due = low; due < dueS.length && dueS[due] <= hitS[hit] + reachS; due++)
      pairs.push({ hit, due, miss: Math.abs(hitS[hit] - dueS[due]) });
  }
  pairs.sort((a, b) => a.miss - b.miss || a.hit - b.hit || a.due - b.due);
  const of = new Int32Array(hitS.length).fill(-1);
  const taken = new Uint8Array(dueS.length);
  for (const { hit, due } of pairs) {
    if (of[hit] >= 0 || taken[due]) continue;
    of[hit] = due;
    taken[due] = 1;
  }
  return of;
}

/** A hit with its due stroke and how late it is against the rotation, s. */
export interface MatchedHit {
  readonly hit: number;
  readonly due: Due;
  readonly latenessS: number;
}

const rounds = 4;

/**
 * Each channel's lateness and each sector's, by medians in turn (Tukey 1977, median polish), so that misplaced pins and
 * stray hits do not move them. The sectors' median is 0.
 *
 * @param from what is known of the sectors: of two that lie a whole step apart the medians cannot tell which channel has which
 */
export function polishOffsets(machine: Machine, pairs: readonly MatchedHit[], from: Offsets): Offsets {
  const { channels, barrel } = machine.description;
  const channelS = new Float64Array(channels.length);
  const sectorS = Float64Array.from(from.sectorS);
  for (let round = 0; round < rounds; round++) {
    const ofChannel = channels.map(() => [] as number[]);
    for (const { due, latenessS } of pairs)
      ofChannel[due.channel].push(latenessS - (channels[due.channel].onBarrel ? sectorS[due.sector] : 0));
    ofChannel.forEach((list, c) => (channelS[c] = list.length > 0 ? median(list) : 0));
    const ofSector = barrel.sectors.map(() => [] as number[]);
    for (const { due, latenessS } of pairs)
      if (channels[due.channel].onBarrel) ofSector[due.sector].push(latenessS - channelS[due.channel]);
    const medians = ofSector.map((list) => (list.length > 0 ? median(list) : NaN));
    const known = medians.filter((value) => !Number.isNaN(value));
    const middle = known.length > 0 ? median(known) : 0;
    medians.forEach((value, s) => (sectorS[s] = Number.isNaN(value) ? 0 : value - middle));
  }
  return { channelS, sectorS };
}
