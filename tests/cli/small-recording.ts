/** The small machine's strikes as sound: eight turns of two seconds, a track for each striker; the drum 3 ms late. */
import { writeWav } from '../../samples/wav.ts';
import { struck } from '../hits/synthetic.ts';
import { markers } from './small-machine.ts';

export const sampleRate = 16_000;
export const ids = ['block', 'drum', 'bell'];

/** take.jsonc of it. */
export const recordingText = `{ "recorded": "2026-05-01",
  "tracks": [ ${ids.map((id, i) => `{ "file": "recording.wav", "track": ${i}, "channels": ["${id}"] }`).join(', ')} ] }`;

export function recording(): Uint8Array {
  const sounds = [struck(900, 0.1, sampleRate), struck(220, 0.2, sampleRate), struck(2000, 0.3, sampleRate)];
  const tracks = ids.map(() => new Float32Array(18 * sampleRate));
  for (const row of markers({ drum: 3 }).trim().split('\n').slice(1)) {
    const [time, channel] = row.split(',');
    const c = ids.indexOf(channel);
    const at = Math.round((Number(time) + 0.5) * sampleRate);
    sounds[c].samples.forEach((value, i) => {
      if (at + i < tracks[c].length) tracks[c][at + i] += value;
    });
  }
  return writeWav(sampleRate, tracks);
}
