import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { readPatch } from './patch.ts';
import { recordings, recordingsMissing, strikePower } from './recordings.ts';

if (recordingsMissing) console.warn(recordingsMissing);

describe.skipIf(recordingsMissing)('Debian’s freepats', () => {
  test('every patch of the drum set ends where the layout says it ends', () => {
    const folder = '/usr/share/midi/freepats/Drum_000';
    const files = readdirSync(folder).filter((file) => file.endsWith('.pat'));
    expect(files.length).toBeGreaterThan(50);
    for (const file of files) expect(readPatch(readFileSync(`${folder}/${file}`)), file).toHaveLength(1);
  });

  test('at least two dozen one-shots have a clean onset, all at one rate and power', () => {
    const all = recordings(48_000);
    expect(all.length).toBeGreaterThanOrEqual(24);
    expect(new Set(all.map((sound) => sound.name)).size).toBe(all.length);
    for (const sound of all) {
      expect(sound.sampleRate).toBe(48_000);
      expect(10 * Math.log10(strikePower(sound))).toBeCloseTo(-30, 3);
    }
    const kinds = all.map((sound) => sound.kind);
    expect(kinds.filter((kind) => kind === 'Tom')).toHaveLength(6);
    expect(kinds.filter((kind) => kind === 'Wood_Block')).toHaveLength(2);
  });
});

test('a cut patch is refused', () => {
  expect(() => readPatch(new Uint8Array(300))).toThrow('not a GF1 patch');
});
