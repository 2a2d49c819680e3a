/** Whose the voices of a take are: by the track where a channel has one to itself, by rhythm where several share one. */
import type { Machine } from '../machine/machine.ts';
import { findRotation, type RoughRotation } from '../machine/rotation.ts';
import type { Take } from '../take/take.ts';
import { ownVoices } from './alone.ts';
import { labelVoices } from './label.ts';
import type { TrackStrikes } from './track.ts';

/** @returns for each track, for each of its voices, a channel index, or −1 where it is nobody's */
export function whoseVoices(heard: readonly TrackStrikes[], take: Take, machine: Machine): number[][] {
  const alone = ownVoices(heard, take);
  const open = take.tracks.some((track, t) => track.channels.length > 1 || new Set(alone[t]).size > 1);
  if (!open) return alone;
  const rotation = roughRotation(heard, alone, take, machine);
  if (!rotation.found) return alone;
  return take.tracks.map((track, t) =>
    track.channels.length > 1 ? labelVoices(heard[t], track, machine, rotation) : alone[t],
  );
}

/** How the barrel turned, as far as strikes tell that may each be of several channels. */
function roughRotation(
  heard: readonly TrackStrikes[],
  alone: readonly (readonly number[])[],
  take: Take,
  machine: Machine,
): RoughRotation {
  const strikes = heard.flatMap((track, t) => {
    const { channels } = take.tracks[t];
    return track.strikes
      .filter((strike) => channels.length > 1 || alone[t][strike.voice] === channels[0])
      .map((strike) => ({ timeS: strike.timeS, channels }));
  });
  strikes.sort((a, b) => a.timeS - b.timeS);
  return findRotation(
    machine,
    { timeS: Float64Array.from(strikes, (s) => s.timeS), candidates: strikes.map((s) => s.channels) },
    {
      bpm: take.description.tempo ?? null,
      startStep: take.description.startStep ?? null,
      sectorStarts: take.markers.flatMap(({ timeS, meaning }) =>
        meaning.kind === 'sector' ? [{ timeS, sector: meaning.sector }] : [],
      ),
    },
  );
}
