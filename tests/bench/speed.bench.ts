/** The whole analysis from the command line against a plain onset detector, both timed in the same run. */
import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { bodies, strike } from '../../samples/strikes.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { writeWav } from '../../samples/wav.ts';
import { rigMachine } from '../rig/machine.ts';
import { makeTake } from '../rig/take.ts';
import { aubioMissing } from './aubio.ts';
import { figure, type Table } from './bench.ts';
import { best, timed, type Run } from './timed.ts';

const sampleRate = 48_000;
const minutes = 10;
const bpm = 120;
/** The machine is not ours alone: the best of so many runs, one program after the other. */
const runs = 2;

export default async function bench(): Promise<Table[]> {
  if (spawnSync('node', ['extension/build/build.mjs'], { stdio: 'inherit' }).status !== 0)
    throw new Error('the build failed');
  const folder = mkdtempSync(join(tmpdir(), 'speed-'));
  try {
    const rows: string[][] = [];
    for (const layout of [['reference'], ['reference', 'drum', 'rim', 'bell']]) {
      const { wav, take } = writeFolder(join(folder, String(layout.length)), layout);
      const ours: Run[] = [];
      const theirs: Run[] = [];
      for (let i = 0; i < runs; i++) {
        if (!aubioMissing) theirs.push(await timed('aubioonset', ['-i', wav]));
        ours.push(await timed('node', ['dist/cli.js', 'analyze', take]));
      }
      const report = JSON.parse(readFileSync(join(take, 'report.json'), 'utf8')) as { hits: unknown[] };
      const [us, them] = [best(ours), best(theirs)];
      rows.push([
        `${layout.length} channel${layout.length > 1 ? 's' : ''} on the track, ${report.hits.length} hits`,
        figure(us.seconds),
        figure(them.seconds),
        figure(us.seconds / them.seconds),
        figure(us.peakMb),
        figure(them.peakMb),
      ]);
    }
    return [
      {
        title: `Analysis of ${minutes} minutes of ${sampleRate / 1000} kHz mono: wall time and greatest memory, best of ${runs}`,
        columns: ['take', 'analyze s', 'aubioonset s', 'ratio', 'analyze MB', 'aubioonset MB'],
        rows,
        notes: [
          'analyze: reading to report.json, report.md, report.svg and CALIBRATION.md, starting Node included. Aim: ratio 2, below 400 MB.',
          ...(aubioMissing ? [aubioMissing] : []),
        ],
      },
    ];
  } finally {
    rmSync(folder, { recursive: true });
  }
}

/** A machine with one ten-minute take, its channels all on one track. */
function writeFolder(folder: string, channels: readonly string[]): { wav: string; take: string } {
  const machine = rigMachine({ channels, seed: 3 });
  const secondsPerTurn =
    (machine.description.barrel.steps / machine.description.barrel.stepsPerBeat) * (60 / bpm);
  const how = { bpm, turns: (60 * minutes) / secondsPerTurn };
  const repeatabilityMs = Object.fromEntries(channels.map((id) => [id, 0.3]));
  const { strikes } = play(machine, { repeatabilityMs }, how, seededRandom(4));
  const all = [bodies.woodBlock, bodies.bassDrum, bodies.rim, bodies.bell];
  const sounds = channels.map((_, c) => [strike(all[c], sampleRate, seededRandom(5 + c))]);
  const tracks = [channels.map((_, c) => c)];
  const { samples } = makeTake(machine, {
    sampleRate,
    durationS: 60 * minutes,
    strikes,
    sounds,
    tracks,
    snrDb: 40,
    gainDb: 2,
    seed: 6,
  });
  const take = join(folder, 'takes', 'ten-minutes');
  mkdirSync(take, { recursive: true });
  const ids = machine.description.channels.map((channel) => channel.id);
  writeFileSync(join(folder, 'machine.jsonc'), JSON.stringify(machine.description));
  writeFileSync(
    join(folder, 'pattern.csv'),
    ['step,channel', ...machine.pins.map(({ step, channel }) => `${step},${ids[channel]}`), ''].join('\n'),
  );
  writeFileSync(
    join(take, 'take.jsonc'),
    JSON.stringify({ tempo: bpm, tracks: [{ file: 'take.wav', track: 0, channels: ids }] }),
  );
  const wav = join(take, 'take.wav');
  writeFileSync(wav, writeWav(sampleRate, samples));
  return { wav, take };
}
