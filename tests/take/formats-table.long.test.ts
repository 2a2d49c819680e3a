/** The guide's table of formats, each row held against the same take as an outside program encodes it. */
import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import {
  codedAs,
  encodedAs,
  lossless,
  lossy,
  meansOf,
  refused,
  samplesOf,
  saidOf,
  wavOfTake,
  worstMs,
} from '../rig/formats.ts';
import type { Group } from '../../analysis/results/results.ts';
import { recordingsMissing } from '../rig/recordings.ts';
import { lineAbout } from './files.ts';
import { testWith } from './tools.ts';

/** Format → the row's other cells. `npm run bench -- formats` writes the table. */
const rows = new Map(
  Array.from(
    readFileSync('extension/guide/recording.md', 'utf8').matchAll(
      /^\| ([^|]+?) +\| ([^|]+?) +\| ([^|]+?) +\|$/gm,
    ),
    ([, format, worst, said]) => [format, { worst, said }],
  ),
);
/** A step of 16 bits: FLAC's, WavPack's and TTA's decoders take full scale for one step more. */
const step = 1 / 32768;

if (recordingsMissing !== null) test.skip(recordingsMissing, () => undefined);
else {
  const wav = wavOfTake();

  for (const format of lossless) {
    testWith(format.needs, `${format.name}: the samples are the WAV’s, so the means are`, async () => {
      expect(rows.get(format.name)).toEqual({ worst: '0.00 ms', said: 'intervals as of WAV' });
      const expected = await samplesOf('a.wav', wav);
      const found = await samplesOf(format.file, encodedAs(format, wav));
      expect(found.map(({ length }) => length)).toEqual(expected.map(({ length }) => length));
      const worst = found.map((samples, track) =>
        samples.reduce((most, x, i) => Math.max(most, Math.abs(x - expected[track][i])), 0),
      );
      expect(Math.max(...worst)).toBeLessThan(step);
    });
  }

  let original: Promise<Group[]> | null = null;
  for (const format of lossy) {
    testWith(format.needs, `${format.name}: the means lie within what is said`, async () => {
      original ??= meansOf({ 'a.wav': wav });
      const before = await original;
      const row = rows.get(format.name)!;
      const bytes = encodedAs(format, wav);
      // What is said goes by the file's coding; figures differ by an encoder's version, and only intervals bound them.
      const coded = await codedAs(before, format.file, bytes);
      expect(row.said).toBe(saidOf(coded));
      if (coded.every(({ ci95Ms }) => ci95Ms === null)) {
        expect(coded[0].doubt).toMatch(/is coded (at so low a rate|with WMA|with MP2)/);
        return;
      }
      const means = await meansOf({ [format.file]: bytes });
      expect(means.map(({ sector }) => sector)).toEqual(before.map(({ sector }) => sector));
      for (const mean of means) expect(worstMs([mean], before)).toBeLessThan(mean.ci95Ms ?? NaN);
      expect(parseFloat(row.worst)).toBeLessThan(Math.max(...means.map(({ ci95Ms }) => ci95Ms ?? NaN)));
    });
  }

  for (const format of refused) {
    testWith(format.needs, `${format.name}: refused by name`, async () => {
      expect(rows.get(format.name)).toEqual({ worst: '–', said: 'refused by name, with the way out' });
      const said = await lineAbout({ [format.file]: encodedAs(format, wav) });
      expect(said).toMatch(/cannot be decoded here.*; turn it into WAV or FLAC with any .* converter/);
      for (const word of format.name.split(', ')) expect(said).toContain(word);
    });
  }
}
