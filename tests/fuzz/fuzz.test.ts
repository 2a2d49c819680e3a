/** A few spoilt files for every reader, and text that fast-check makes up; "npm run fuzz" tries millions. */
import fc from 'fast-check';
import { describe, expect, test, vi } from 'vitest';
import { markerReaders } from '../../analysis/take/markers/index.ts';
import { readers } from './readers.ts';
import { inputOf, longestMs, tryOne } from './trial.ts';

const seed = Number(process.env.FUZZ_SEED ?? 20_261_125);
const runs = Number(process.env.FUZZ_RUNS ?? 150);
console.info(`spoilt files: seed ${seed}, ${runs} of each kind`);

describe.each(readers)('$name', (reader) => {
  test('whole files are read', async () => {
    for (const bytes of reader.whole) expect((await tryOne(reader, bytes)).refused).toBe(false);
  });

  test(`${runs} spoilt ones are read or refused in one line (seed ${seed})`, async () => {
    for (let i = 0; i < runs; i++) {
      const trial = await tryOne(reader, inputOf(reader, seed + i)).catch((error: unknown) => {
        throw new Error(`seed ${seed + i}: ${String(error)}`, { cause: error });
      });
      expect(trial.ms, `seed ${seed + i}`).toBeLessThan(longestMs());
    }
  });

  test('so is text that is made up, JSON of any shape and any bytes', async () => {
    const anything = fc.oneof(
      fc.string({ unit: 'binary', maxLength: 300 }),
      fc.json({ maxDepth: 5, stringUnit: 'binary' }),
      fc
        .array(fc.array(fc.oneof(fc.double().map(String), fc.string({ unit: 'binary' }))), { maxLength: 20 })
        .map((rows) => rows.map((row) => row.join(',')).join('\n')),
    );
    const bytes = fc.oneof(
      anything.map((text) => new TextEncoder().encode(text)),
      fc.uint8Array({ maxLength: 300 }),
    );
    await fc.assert(
      fc.asyncProperty(bytes, async (input) => void (await tryOne(reader, input))),
      { seed, numRuns: Math.min(runs, 100) },
    );
  });
});

test('every marker reader finds markers in a whole file of this list, so that none goes unspoilt', async () => {
  const spies = markerReaders.map((reader) => ({ reader, read: vi.spyOn(reader, 'read') }));
  for (const reader of readers) for (const bytes of reader.whole) await reader.read(bytes);
  const idle: string[] = [];
  for (const { reader, read } of spies) {
    const found = await Promise.all(read.mock.settledResults.map(({ value }) => value as unknown));
    if (!found.some((one) => one !== null && (one as { markers: unknown[] }).markers.length > 0))
      idle.push(reader.what);
    read.mockRestore();
  }
  expect(idle).toEqual([]);
});
