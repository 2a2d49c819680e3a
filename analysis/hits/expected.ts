/** When the pattern expects which channel, once it is known roughly how the barrel turned. */
import type { Machine } from '../machine/machine.ts';
import type { RoughRotation } from '../machine/rotation.ts';
import { median } from '../numbers/statistics.ts';
import type { Track } from '../take/take.ts';
import { lowerBound } from './prominent.ts';

/** A stroke that the pattern asks for. */
export interface Due {
  readonly channel: number;
  /** By the rotation and the channel's own lateness, as far as they are known. */
  readonly timeS: number;
}

/** As built, channels lie up to 40 ms late or early, and sectors some ms against each other. */
const farthestS = 0.06;
/** But never beyond this part of a step: there the next pin may be. */
const farthestSteps = 0.6;
/** Strokes of one channel lie this near each other, s, whatever the sector. */
const togetherS = 0.012;

/**
 * All strokes of all channels while the track runs, ascending in time, each channel's own lateness being told from
 * where most of the moments lie that can be its.
 *
 * @param momentsOf times, s, ascending, at which something that may be this channel was heard
 */
export function strokesExpected(
  track: Track,
  machine: Machine,
  rotation: RoughRotation,
  momentsOf: (channel: number) => Float64Array,
): Due[] {
  const { steps } = machine.description.barrel;
  const durationS = track.length / track.sampleRate;
  const first = Math.floor(rotation.positionAt(0) / steps) - 1;
  const last = Math.ceil(rotation.positionAt(durationS) / steps) + 1;
  const places = machine.description.channels.map(() => [] as number[]);
  for (const { channel, step } of machine.pins)
    for (let turn = first; turn <= last; turn++) {
      const timeS = rotation.timeAt(turn * steps + step);
      if (timeS >= 0 && timeS <= durationS) places[channel].push(timeS);
    }
  const reachS = Math.min(farthestS, farthestSteps * rotation.secondsPerStep);
  return places
    .flatMap((times, channel) => {
      const latenessS = usualLateness(times, momentsOf(channel), reachS);
      return times.map((timeS) => ({ channel, timeS: timeS + latenessS }));
    })
    .sort((a, b) => a.timeS - b.timeS || a.channel - b.channel);
}

/** The middle of where moments lie closest after (or before) these times; 0 where there are none. */
function usualLateness(times: readonly number[], moments: Float64Array, reachS: number): number {
  const apart: number[] = [];
  for (const timeS of times)
    for (let i = lowerBound(moments, timeS - reachS); i < moments.length && moments[i] <= timeS + reachS; i++)
      apart.push(moments[i] - timeS);
  apart.sort((a, b) => a - b);
  let best: readonly number[] = [];
  let from = 0;
  for (let to = 0; to < apart.length; to++) {
    while (apart[to] - apart[from] > togetherS) from++;
    if (to - from + 1 > best.length) best = apart.slice(from, to + 1);
  }
  return best.length > 0 ? median(best) : 0;
}
