/**
 * Hearing: from a take's tracks and markers to its hits. On each track a first sweep finds the moments at which
 * something started to sound (listen.ts); the moments teach what there is to hear (sounds.ts, voice.ts); each is then
 * explained by what was learnt, to a fraction of a sample (explain.ts, colour.ts). Which voice is whose is known where
 * a channel has a track to itself (alone.ts) and told by its rhythm where not (label.ts). What several tracks heard of
 * one strike becomes one hit (merge.ts), and markers name what they stand beside (markers.ts).
 */
import type { Machine } from '../machine/machine.ts';
import type { Run } from '../ports.ts';
import type { Take } from '../take/take.ts';
import type { Hearing } from './hits.ts';
import { nameByMarkers } from './markers.ts';
import { mergeTracks } from './merge.ts';
import { hearTrack, type TrackStrikes } from './track.ts';
import { whoseVoices } from './whose.ts';

/**
 * Hears a take.
 *
 * @returns every strike once, ascending in time; empty where nothing sounds
 * @throws the signal's reason when the run is stopped
 */
export async function hear(take: Take, machine: Machine, run: Run): Promise<Hearing> {
  const total = take.tracks.reduce((sum, track) => sum + track.length, 0);
  const heard: TrackStrikes[] = [];
  let done = 0;
  for (const track of take.tracks) {
    const share = total === 0 ? 0 : track.length / total;
    const before = done;
    heard.push(await hearTrack(track, run, (f) => run.progress?.('hearing', before + share * f)));
    done += share;
  }
  const owned = await whoseVoices(heard, take, machine, run);
  const found = mergeTracks(owned.heard, owned.labels, take, machine.description.channels.length);
  const hits = nameByMarkers(found, take);
  run.progress?.('hearing', 1);
  return {
    hits,
    tracks: heard.map(({ noiseDb, clippedSamples, badSamples }) => ({ noiseDb, clippedSamples, badSamples })),
  };
}
