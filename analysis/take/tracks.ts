/** Which channels sound on which track: what a person said, else what the file's name says, else all of them. */
import type { AudioFile } from './audio/audio-file.ts';
import type { Machine } from '../machine/machine.ts';
import type { CheckedDescription } from './description.ts';
import type { Notice, Track } from './take.ts';

/** @throws InputProblem where take.jsonc names a track that its file does not have */
export function tracksOf(
  audio: readonly AudioFile[],
  checked: CheckedDescription | null,
  { description: { channels } }: Machine,
): { tracks: Track[]; leftOut: Notice[] } {
  if (checked) checkNumbers(audio, checked);
  const all = channels.map((_, i) => i);
  const tracks = audio.flatMap((file) =>
    Array.from({ length: file.tracks }, (_, track): Track => {
      const said = checked?.value.tracks?.find((entry) => entry.file === file.name && entry.track === track);
      const named = channelNamed(file.name, channels);
      const known = said?.channels.map((id) => channels.findIndex((channel) => channel.id === id)) ?? named;
      return {
        file: file.name,
        track,
        sampleRate: file.sampleRate,
        length: file.length,
        channels: known ?? all,
        assigned: known !== null,
        coding: file.coding,
        read: (from, to) => file.read(track, from, to),
      };
    }),
  );
  // Where every channel has a track of its own, a further one (the room, a talkback) can only hear strikes twice.
  const assigned = new Set(tracks.flatMap((track) => (track.assigned ? track.channels : [])));
  const spare = (track: Track) => !track.assigned && assigned.size === channels.length;
  return { tracks: tracks.filter((track) => !spare(track)), leftOut: tracks.filter(spare).map(leftOut) };
}

function channelNamed(file: string, channels: Machine['description']['channels']): readonly number[] | null {
  const stem = file.replace(/\.[^.]*$/, '').toLowerCase();
  const index = channels.findIndex((channel) => channel.id.toLowerCase() === stem);
  return index === -1 ? null : [index];
}

function checkNumbers(audio: readonly AudioFile[], { value, problem }: CheckedDescription): void {
  value.tracks?.forEach((entry, i) => {
    const file = audio.find((file) => file.name === entry.file);
    if (!file) throw problem(['tracks', i, 'file'], `${entry.file} holds no audio`, 'name an audio file');
    if (entry.track < file.tracks) return;
    const what = `${entry.file} has no track ${entry.track}`;
    const mend = file.tracks === 1 ? 'its only track is 0' : `its tracks are 0 to ${file.tracks - 1}`;
    throw problem(['tracks', i, 'track'], what, mend);
  });
}

function leftOut({ file, track }: Track): Notice {
  const message = `track ${track} of ${file} is not used: "tracks" or file names give every channel another track`;
  return { kind: 'unused-file', file, place: `track ${track}`, message };
}
