/**
 * Files of one take whose decoders delay them differently: an MP3 without its encoder's header begins some hundredths of a
 * second late beside a WAV of the same moment. It is set right by the sound that both hear, or nothing is claimed.
 */
import { expect } from 'vitest';
import { clocks as clocksCheck } from '../../analysis/checks/clocks.ts';
import { findClocks } from '../../analysis/clocks/find.ts';
import { openAudio } from '../../analysis/take/audio/open.ts';
import type { Track } from '../../analysis/take/take.ts';
import { writeWav } from '../../samples/wav.ts';
import { recordedTake } from '../rig/recorded.ts';
import { memoryFile } from './files.ts';
import { run, testWith } from './tools.ts';

const rate = 48_000;
/** LAME's frames begin 576 samples late, the decoder's filters 529 (LAME's own documentation, from memory). */
const mp3DelayS = (576 + 529) / rate;

/** Two microphones of one recorder, the second's file as an MP3. */
async function mixed(how: 'bare' | 'with header', bleedDb: number): Promise<Track[]> {
  const { take } = recordedTake({ startS: 0, ppm: 0, bleedDb, seed: 20, turns: 2 });
  const [first, second] = take.tracks;
  const wav = writeWav(rate, [await second.read(0, second.length)]);
  const xing = how === 'bare' ? ['-write_xing', '0'] : [];
  const coder = ['-c:a', 'libmp3lame', '-b:a', '256k', ...xing];
  const bytes = run(['ffmpeg', '-v', 'error', '-i', 'in.wav', ...coder, 'b.mp3'], { 'in.wav': wav }, 'b.mp3');
  const audio = await openAudio(memoryFile('b.mp3', bytes));
  const { coding, length } = audio;
  return [first, { ...second, file: 'b.mp3', coding, length, read: (from, to) => audio.read(0, from, to) }];
}

const said = (clocks: Awaited<ReturnType<typeof findClocks>>) =>
  clocksCheck.run({ take: { clocks } } as unknown as Parameters<typeof clocksCheck.run>[0]);

testWith(
  ['ffmpeg with libmp3lame'],
  'without header, heard by both: set right by the sound, and said',
  async () => {
    const clocks = await findClocks(await mixed('bare', -20), {});
    expect(clocks[1].how).toBe('found');
    // Its first sample is early by what the codec put before it.
    expect(Math.abs(clocks[1].startS + mp3DelayS)).toBeLessThan(0.0005);
    expect(said(clocks)).toMatchObject([
      { kind: 'clocks-apart', file: 'b.mp3', message: expect.stringMatching(/this was taken off/) as string },
    ]);
  },
);

testWith(['ffmpeg with libmp3lame'], 'without header, not heard by both: nothing is claimed', async () => {
  const clocks = await findClocks(await mixed('bare', -Infinity), {});
  expect(clocks[1]).toMatchObject({ how: 'unknown', startSdS: NaN });
  expect(said(clocks)).toMatchObject([
    {
      kind: 'clocks-unknown',
      message: expect.stringMatching(/lateness between the two is not known/) as string,
    },
  ]);
});

testWith(['ffmpeg with libmp3lame'], 'with header, heard by both: the files are in step', async () => {
  const clocks = await findClocks(await mixed('with header', -20), {});
  expect(['in-step', 'found']).toContain(clocks[1].how);
  expect(Math.abs(clocks[1].startS)).toBeLessThan(0.0005);
});
