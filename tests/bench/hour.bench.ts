/** An hour of 96 kHz 24-bit stereo from the command line: time and memory. */
import { spawnSync } from 'node:child_process';
import {
  closeSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readFileSync,
  rmSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { bodies, strike } from '../../samples/strikes.ts';
import { writeWav } from '../../samples/wav.ts';
import { rigMachine } from '../rig/machine.ts';
import { makeTake } from '../rig/take.ts';
import { figure, type Table } from './bench.ts';
import { timed } from './timed.ts';

const sampleRate = 96_000;
const minutes = 60;
const channels = ['reference', 'drum', 'rim', 'bell'];
/** Five whole turns a minute, so that one minute after the other goes on where the last left off. */
const bpm = 120;
const turnsAMinute = 5;

export default async function bench(): Promise<Table[]> {
  if (spawnSync('node', ['extension/build.mjs'], { stdio: 'inherit' }).status !== 0)
    throw new Error('the build failed');
  const folder = mkdtempSync(join(tmpdir(), 'hour-'));
  try {
    const take = join(folder, 'takes', 'hour');
    mkdirSync(take, { recursive: true });
    writeHour(folder, take);
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

function writeHour(folder: string, take: string): void {
  const machine = rigMachine({ channels, seed: 3 });
  const repeatabilityMs = Object.fromEntries(channels.map((id) => [id, 0.3]));
  const how = { bpm, turns: turnsAMinute, startPosition: -0.5 };
  const { strikes } = play(machine, { repeatabilityMs }, how, seededRandom(4));
  const sounds = [bodies.woodBlock, bodies.bassDrum, bodies.rim, bodies.bell].map((body, c) => [
    strike(body, sampleRate, seededRandom(5 + c)),
  ]);
  const { samples } = makeTake(machine, {
    sampleRate,
    durationS: 60,
    strikes,
    sounds,
    tracks: [
      [0, 1],
      [2, 3],
    ],
    snrDb: 40,
    gainDb: 2,
    seed: 6,
  });
  const minute = writeWav(sampleRate, samples, 'int24');
  const header = 44;
  const bytes = minute.length - header;
  const head = minute.slice(0, header);
  const view = new DataView(head.buffer);
  view.setUint32(4, header - 8 + minutes * bytes, true);
  view.setUint32(40, minutes * bytes, true);
  const file = openSync(join(take, 'take.wav'), 'w');
  writeSync(file, head);
  for (let i = 0; i < minutes; i++) writeSync(file, minute, header, bytes);
  closeSync(file);
  writeFileSync(join(folder, 'machine.jsonc'), JSON.stringify(machine.description));
  writeFileSync(
    join(folder, 'pattern.csv'),
    ['step,channel', ...machine.pins.map(({ step, channel }) => `${step},${channels[channel]}`), ''].join(
      '\n',
    ),
  );
  const tracks = [channels.slice(0, 2), channels.slice(2)].map((ids, track) => ({
    file: 'take.wav',
    track,
    channels: ids,
  }));
  writeFileSync(join(take, 'take.jsonc'), JSON.stringify({ tempo: bpm, tracks }));
}
