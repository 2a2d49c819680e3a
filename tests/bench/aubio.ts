/** Debian's aubio-tools, a general onset detector, for comparison: what one gets without knowing what is to be heard. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { writeWav } from '../../samples/wav.ts';

export const aubioMissing: string | null =
  spawnSync('aubioonset', ['--help']).error === undefined
    ? null
    : 'aubioonset is not installed (apt-get install aubio-tools): its column is empty';

/** Onsets in s that aubioonset finds at its defaults; null where it is not installed. */
export function aubioOnsets(samples: Float32Array, sampleRate: number): number[] | null {
  if (aubioMissing) return null;
  const folder = mkdtempSync(join(tmpdir(), 'onsets-'));
  try {
    const file = join(folder, 'track.wav');
    writeFileSync(file, writeWav(sampleRate, [samples], 'int24'));
    const { stdout } = spawnSync('aubioonset', ['-i', file], { encoding: 'utf8' });
    return stdout
      .split('\n')
      .filter((line) => line !== '')
      .map(Number);
  } finally {
    rmSync(folder, { recursive: true });
  }
}
