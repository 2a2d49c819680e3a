/** Sound of a take in short clips, for the report page: read where it is asked for. */
import type { AudioFile } from '../../analysis/take/audio/audio-file.ts';
import type { SourceFile } from '../../analysis/ports.ts';
import { openAudio } from '../../analysis/take/audio/open.ts';
import type { SoundClip, ClipOrder } from './jobs.ts';

/**
 * @returns in the order asked for; null where the file is not there, has no such track or no sound at that time
 * @throws InputProblem where a file is no audio that can be read
 */
export async function readClips(
  files: readonly SourceFile[],
  wants: readonly ClipOrder[],
): Promise<(SoundClip | null)[]> {
  const opened = new Map<string, AudioFile | null>();
  const clips: (SoundClip | null)[] = [];
  for (const { file, track, fromS, toS } of wants) {
    let audio = opened.get(file);
    if (audio === undefined) {
      const source = files.find(({ name }) => name === file);
      audio = source === undefined ? null : await openAudio(source);
      opened.set(file, audio);
    }
    if (audio === null || track >= audio.tracks) {
      clips.push(null);
      continue;
    }
    const { sampleRate, length } = audio;
    const from = Math.max(0, Math.round(fromS * sampleRate));
    const to = Math.min(length, Math.round(toS * sampleRate));
    clips.push(
      to <= from
        ? null
        : { sampleRate, fromS: from / sampleRate, samples: await audio.read(track, from, to) },
    );
  }
  return clips;
}
