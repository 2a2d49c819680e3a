import { WaveFile } from 'wavefile';
import { expect, test } from 'vitest';
import { writeWav } from '../../samples/wav.ts';

const tracks = [Float32Array.of(0, 0.5, -0.5, 1), Float32Array.of(0.25, -1, 0.125, 0)];

/** Read back by the npm package wavefile 11, which shares nothing with ours. */
test.each([
  ['int16', '16', 2 ** 15],
  ['int24', '24', 2 ** 23],
  ['int32', '32', 2 ** 31],
  ['float32', '32f', 1],
] as const)('%s is read back alike by another reader', (format, depth, scale) => {
  const file = new WaveFile(writeWav(44_100, tracks, format));
  expect(file.bitDepth).toBe(depth);
  expect((file.fmt as { sampleRate: number }).sampleRate).toBe(44_100);
  const read = file.getSamples(false) as unknown as Float64Array[];
  const top = format === 'float32' ? 1 : (scale - 1) / scale;
  expect(Array.from(read[0], (x) => x / scale)).toEqual([0, 0.5, -0.5, top]);
  expect(Array.from(read[1], (x) => x / scale)).toEqual([0.25, -1, 0.125, 0]);
});

test('cue points and their labels are read back alike by another reader', () => {
  const file = new WaveFile(
    writeWav(48_000, tracks, 'int16', [
      { sample: 1, label: 'gong' },
      { sample: 2, label: 'sector:B', lengthSamples: 2 },
    ]),
  );
  const cues = file.listCuePoints() as { position: number; label: string; end: number | null }[];
  expect(cues.map((cue) => [cue.position, cue.label])).toEqual([
    [1 / 48, 'gong'],
    [2 / 48, 'sector:B'],
  ]);
  expect(cues[1].end).toBeCloseTo(4 / 48, 9);
});
