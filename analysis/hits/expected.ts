/** When the pattern expects which channel, once it is known roughly how the barrel turned. */
import type { Machine } from '../machine/machine.ts';
import type { RoughRotation } from '../machine/rotation.ts';
import type { Track } from '../take/take.ts';

/** A stroke that the pattern asks for. */
export interface Due {
  readonly channel: number;
  /** Roughly: the rotation's time and the channel's own lateness as far as it is known. */
  readonly timeS: number;
}

/** All strokes of a track's channels while the track runs, ascending in time. */
export function strokesExpected(track: Track, machine: Machine, rotation: RoughRotation): Due[] {
  const { steps } = machine.description.barrel;
  const durationS = track.length / track.sampleRate;
  const turns = [
    Math.floor(rotation.positionAt(0) / steps) - 1,
    Math.ceil(rotation.positionAt(durationS) / steps) + 1,
  ] as const;
  const due: Due[] = [];
  for (const { channel, step } of machine.pins) {
    if (!track.channels.includes(channel)) continue;
    for (let turn = turns[0]; turn <= turns[1]; turn++) {
      const timeS = rotation.timeAt(turn * steps + step) + rotation.offsetS[channel];
      if (timeS >= 0 && timeS <= durationS) due.push({ channel, timeS });
    }
  }
  return due.sort((a, b) => a.timeS - b.timeS || a.channel - b.channel);
}
