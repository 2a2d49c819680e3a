/** An hour of 96 kHz 24-bit stereo from the command line: time and memory. */
import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { figure, type Table } from './bench.ts';
import { sampleRate, writeLongTake } from './long-take.ts';
import { timed } from './timed.ts';

const minutes = 60;

export default async function bench(): Promise<Table[]> {
  if (spawnSync('node', ['extension/build/build.mjs'], { stdio: 'inherit' }).status !== 0)
    throw new Error('the build failed');
  const folder = mkdtempSync(join(tmpdir(), 'hour-'));
  try {
    const take = join(folder, 'takes', 'hour');
    mkdirSync(take, { recursive: true });
    writeLongTake(folder, take, minutes);
    const { seconds, peakMb } = await timed('node', ['dist/cli.js', 'analyze', take]);
    const report = JSON.parse(readFileSync(join(take, 'report.json'), 'utf8')) as { hits: unknown[] };
    return [
      {
        title: `Analysis of an hour of ${sampleRate / 1000} kHz 24-bit stereo, two strikers a track`,
        columns: ['hits', 'wall s', 'greatest memory MB'],
        rows: [[String(report.hits.length), figure(seconds), figure(peakMb)]],
        notes: ['Asked: below 300 MB.'],
      },
    ];
  } finally {
    rmSync(folder, { recursive: true });
  }
}
