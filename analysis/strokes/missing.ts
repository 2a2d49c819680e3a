/** Strokes that the pattern asked for and nobody heard. */
import type { Hits } from '../hits/hits.ts';
import type { Machine } from '../machine/machine.ts';
import type { Track } from '../take/take.ts';
import { offsetOf, type Due, type Offsets, type MatchedHit } from './match.ts';
import type { Moved } from './misplaced.ts';
import type { MissingStroke } from './strokes.ts';

/**
 * Strokes due after the first hit and before the last, of channels that were heard at all, while the drive ran and while
 * the channel was recorded: the files of a take may end at different times.
 */
export function missingStrokes(
  machine: Machine,
  hits: Hits,
  laid: {
    readonly pairs: readonly MatchedHit[];
    readonly moved: Moved;
    readonly due: readonly (readonly Due[])[];
    readonly timeAt: (position: number) => number;
    readonly offsets: Offsets;
  },
  pieces: readonly { readonly from: number; readonly to: number }[],
  tracks: readonly Track[],
): MissingStroke[] {
  const { pairs, moved, due, timeAt, offsets } = laid;
  const heard = new Set([...pairs, ...moved.pairs].map(({ due: stroke }) => stroke));
  const present = new Set([...pairs, ...moved.pairs].map(({ due: stroke }) => stroke.channel));
  const { steps } = machine.description.barrel;
  const foundAt = new Map(
    moved.pins.map(({ channel, step, foundStep }) => {
      const by = foundStep - step;
      return [`${channel} ${step}`, by - steps * Math.round(by / steps)];
    }),
  );
  const all = [...pairs, ...moved.pairs].map(({ hit }) => hits.timeS[hit]);
  const first = all.reduce((a, b) => Math.min(a, b), Infinity);
  const last = all.reduce((a, b) => Math.max(a, b), -Infinity);
  const endS = machine.description.channels.map((_, channel) => recordedUntilS(tracks, channel));
  return due
    .flat()
    .filter((stroke) => present.has(stroke.channel) && !heard.has(stroke))
    .map((stroke) => ({
      channel: stroke.channel,
      step: stroke.step,
      turn: stroke.turn,
      position: stroke.position + (foundAt.get(`${stroke.channel} ${stroke.step}`) ?? 0),
      lateS: stroke.targetS + offsetOf(machine, offsets, stroke.channel, stroke.sector),
    }))
    .filter(({ position }) => pieces.some(({ from, to }) => position >= from && position <= to))
    .map(({ channel, step, turn, position, lateS }) => ({
      channel,
      step,
      turn,
      dueS: timeAt(position) + lateS,
    }))
    .filter(({ channel, dueS }) => dueS > first && dueS < Math.min(last, endS[channel]))
    .sort((a, b) => a.dueS - b.dueS || a.channel - b.channel);
}

/** When the last track ends on which a channel may sound, s; no track, as where markers alone name its hits: no end. */
function recordedUntilS(tracks: readonly Track[], channel: number): number {
  const its = tracks.filter(({ channels }) => channels.includes(channel));
  return its.length === 0 ? Infinity : Math.max(...its.map(({ length, sampleRate }) => length / sampleRate));
}
