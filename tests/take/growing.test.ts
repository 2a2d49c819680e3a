/** A WAV that is still being written: what its recorder has put down so far is read, whatever its header says. */
import { describe, expect, it } from 'vitest';
import { openAudio } from '../../analysis/take/audio/open.ts';
import { stretchOf } from '../../analysis/take/audio/growing.ts';
import { seededRandom } from '../../samples/random.ts';
import { writeWav } from '../../samples/wav.ts';
import { memoryFile, ramp } from './files.ts';

const sampleRate = 1000;
const length = 5000;
const tracks = [ramp(length), ramp(length, 1)];
const whole = writeWav(sampleRate, tracks);
const dataAt = 44;
const frameBytes = 4;

/** What a recorder has written by then; sizes as they are put right at its end only. */
function unfinished(bytes: number, riffSays: number, dataSays: number): Uint8Array {
  const cut = whole.slice(0, bytes);
  const view = new DataView(cut.buffer);
  if (bytes >= 8) view.setUint32(4, riffSays, true);
  if (bytes >= dataAt) view.setUint32(dataAt - 4, dataSays, true);
  return cut;
}

async function expectLast(bytes: Uint8Array, frames: number, lastS: number) {
  const stretch = (await stretchOf(memoryFile('a.wav', bytes), lastS))!;
  const kept = Math.min(frames, Math.round(lastS * sampleRate));
  expect([stretch.recordedS, stretch.fromS]).toEqual([frames / sampleRate, (frames - kept) / sampleRate]);
  const audio = await openAudio(stretch.source);
  expect(audio).toMatchObject({ sampleRate, tracks: 2, length: kept, notices: [] });
  for (const t of [0, 1])
    expect(await audio.read(t, 0, kept)).toEqual(tracks[t].subarray(frames - kept, frames));
}

describe('a WAV that grows', () => {
  it.each([
    ['sizes of 0', 0, 0],
    ['sizes not yet known', 0xffffffff, 0xffffffff],
    ['sizes of the longest file', 0x7fffffff, 0x7fffffff - 36],
    ['sizes as they were a while ago', 36 + 400, 400],
  ])('is read to its end with %s', async (_, riff, data) => {
    const random = seededRandom(7);
    for (let i = 0; i < 20; i++) {
      const bytes = dataAt + 4000 + Math.floor(random.between(0, 4 * length - 4000));
      const frames = Math.floor((bytes - dataAt) / frameBytes); // a frame may be half written
      await expectLast(unfinished(bytes, riff, data), frames, random.between(0.01, 6));
    }
  });

  it('has none of what follows its samples once it is whole', async () => {
    const list = new Uint8Array([...new TextEncoder().encode('LIST'), 4, 0, 0, 0, 1, 2, 3, 4]);
    const bytes = new Uint8Array([...whole, ...list]);
    new DataView(bytes.buffer).setUint32(4, bytes.length - 8, true);
    await expectLast(bytes, length, 2);
  });

  it('is nothing before its first sample', async () => {
    for (const bytes of [0, 3, 11, 12, 30, dataAt, dataAt + 3])
      expect(await stretchOf(memoryFile('a.wav', unfinished(bytes, 0, 0)), 1)).toBeNull();
  });

  it('is refused in a line where it is no WAV', async () => {
    const flac = new TextEncoder().encode('fLaC and so on');
    await expect(stretchOf(memoryFile('a.flac', flac), 1)).rejects.toThrow(
      /^a\.flac: byte 0: cannot be followed while it is written; let the recorder write WAV/,
    );
  });
});
