/** Listening while a take is recorded: how far what is said lags behind the recorder, and memory with an hour recorded. */
import { spawn, spawnSync } from 'node:child_process';
import {
  closeSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readFileSync,
  renameSync,
  rmSync,
  writeSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { figure, type Table } from './bench.ts';
import { headerBytes, sampleRate, writeLongTake } from './long-take.ts';
import { timed } from './timed.ts';

const grownMinutes = 3;
const hour = 60;
/** Two tracks of 24 bits. */
const bytesASecond = sampleRate * 2 * 3;
const line = /^(\d+):(\d\d) /gm;

export default async function bench(): Promise<Table[]> {
  if (spawnSync('node', ['extension/build/build.mjs'], { stdio: 'inherit' }).status !== 0)
    throw new Error('the build failed');
  const lags = await lagsWhileGrowing();
  const { seconds, peakMb } = await overAnHour();
  return [
    {
      title: `Listening to ${sampleRate / 1000} kHz 24-bit stereo, two strikers a track, 12 s a turn`,
      columns: ['lines', 'least lag s', 'median lag s', 'greatest lag s', 'greatest gap s'],
      rows: [
        [
          String(lags.behind.length),
          ...[0, 0.5, 1].map((q) => figure(quantile(lags.behind, q))),
          figure(quantile(lags.gaps, 1)),
        ],
      ],
      notes: [
        `${grownMinutes} minutes written as fast as they sound; lag: from the last sample that a line is of to the line.`,
        'Asked: a line within a turn of the barrel, or five seconds where that is longer.',
      ],
    },
    {
      title: 'The same on a file that holds an hour, and its analysis at the end',
      columns: ['wall s', 'greatest memory MB'],
      rows: [[figure(seconds), figure(peakMb)]],
    },
  ];
}

async function lagsWhileGrowing(): Promise<{ behind: number[]; gaps: number[] }> {
  const folder = mkdtempSync(join(tmpdir(), 'listen-'));
  try {
    const take = join(folder, 'takes', 'now');
    mkdirSync(take, { recursive: true });
    writeLongTake(folder, take, grownMinutes);
    const whole = join(folder, 'whole.wav');
    renameSync(join(take, 'take.wav'), whole);
    const bytes = readFileSync(whole);
    const file = join(take, 'take.wav');
    const child = spawn('node', ['dist/cli.js', 'listen', folder, file], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    const startMs = performance.now();
    const said: { at: number; of: number }[] = [];
    child.stdout.setEncoding('utf8').on('data', (text: string) => {
      for (const [, m, s] of text.matchAll(line))
        said.push({ at: (performance.now() - startMs) / 1000, of: 60 * Number(m) + Number(s) });
    });
    const ended = new Promise((resolve) => child.once('close', resolve));
    const out = openSync(file, 'w');
    for (let at = 0; at < bytes.length;) {
      const due = headerBytes + Math.floor(((performance.now() - startMs) / 1000) * bytesASecond);
      const to = Math.min(bytes.length, due);
      if (to > at) writeSync(out, bytes, at, to - at);
      at = Math.max(at, to);
      await sleep(100);
    }
    closeSync(out);
    await ended;
    return {
      behind: said.map(({ at, of }) => at - of),
      gaps: said.slice(1).map(({ at }, i) => at - said[i].at),
    };
  } finally {
    rmSync(folder, { recursive: true });
  }
}

async function overAnHour() {
  const folder = mkdtempSync(join(tmpdir(), 'listen-'));
  try {
    const take = join(folder, 'takes', 'hour');
    mkdirSync(take, { recursive: true });
    writeLongTake(folder, take, hour);
    return await timed('node', ['dist/cli.js', 'listen', folder, join(take, 'take.wav')]);
  } finally {
    rmSync(folder, { recursive: true });
  }
}

function quantile(values: readonly number[], q: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.round(q * (sorted.length - 1))] ?? NaN;
}
