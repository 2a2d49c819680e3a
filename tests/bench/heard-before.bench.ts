/** Hear it before: the moved hits measured again by the tool itself, and what hearing adds where nothing was moved by us. */
import { advise } from '../../analysis/advice/advise.ts';
import { voicesHeard } from '../../analysis/hits/hear.ts';
import { buildReport } from '../../analysis/report/report.ts';
import { studyOf } from '../rig/study.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { demoTake, demoTakeNames, type DemoTakeName } from '../rig/demo.ts';
import {
  heardAgain,
  movedBy,
  movedTake,
  soundsOff,
  wasHeard,
  writtenTakes,
  type HeardAgain,
} from '../rig/heard-again.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { usualColour } from '../../samples/colour.ts';
import { rigMachine } from '../rig/machine.ts';
import { recordings, recordingsMissing } from '../rig/recordings.ts';
import { makeTake } from '../rig/take.ts';
import { figure, type Table } from './bench.ts';

const sampleRate = 48_000;
const solve = nodeSolver();

export default async function bench(): Promise<Table[]> {
  const tables: Table[] = [];
  for (const name of demoTakeNames) tables.push(...(await demo(name)));
  tables.push(await apart());
  return tables;
}

const seeds = 6;
const channels = ['reference', 'one', 'two', 'three'];
/** Channels and sectors are sent so far at most, ms. */
const farthestMs = 6;

/** One striker a track: real recordings, sent anywhere. */
async function apart(): Promise<Table> {
  const title = `One striker a track, ${seeds} takes of real recordings: hits sent up to ${farthestMs} ms either way, ms off where they were sent`;
  if (recordingsMissing) return { title, columns: ['take'], rows: [], notes: [recordingsMissing] };
  const rows: string[][] = [];
  for (let seed = 1; seed <= seeds; seed++) {
    const random = seededRandom(seed);
    const machine = rigMachine({ channels, seed });
    const { strikes, durationS } = play(machine, {}, { bpm: 110, turns: 3 }, random.split('play'));
    const sounds = random.shuffle(recordings(sampleRate)).slice(0, channels.length);
    const { take } = makeTake(machine, {
      sampleRate,
      durationS: durationS + 1,
      strikes,
      sounds: sounds.map((sound) => [sound]),
      tracks: channels.map((_, c) => [c]),
      snrDb: 40,
      gainDb: 3,
      colour: usualColour,
      seed,
    });
    const measured = buildReport(await studyOf(machine, take), []);
    const predicted = channels.flatMap((channel, c) =>
      machine.description.barrel.sectors.map(({ id: sector }) => ({
        channel,
        sector,
        beforeMs: 0,
        afterMs: c === 0 ? 0 : random.between(-farthestMs, farthestMs),
        ci95Ms: 0.1,
      })),
    );
    const report = { ...measured, advice: { ...measured.advice, predicted } };
    const again = await heardAgain(machine, report, await movedTake(take, machine, report));
    const total = (of: (one: HeardAgain) => number) => `${again.reduce((sum, one) => sum + of(one), 0)}`;
    rows.push([
      sounds.map(({ name }) => name).join(', '),
      total(({ errorMs }) => errorMs.length),
      ...spread(again.flatMap(({ errorMs }) => errorMs)),
      total(({ lost }) => lost),
      total(({ setAside }) => setAside),
    ]);
  }
  return { title, columns: ['sounds', 'hits', 'heard again: 95 %', 'worst', 'lost', 'set aside'], rows };
}

async function demo(name: DemoTakeName): Promise<Table[]> {
  const { machine, take, played } = await demoTake(name);
  const measured = buildReport(await studyOf(machine, take), []);
  const report = { ...measured, advice: await advise(machine, [measured], solve) };
  const movedAs = await movedTake(take, machine, report);
  const voices = await voicesHeard(take, machine, {});
  const moved = await heardAgain(machine, report, movedAs, undefined, voices);
  const alone = await heardAgain(machine, report, movedAs);
  const anew = await demoTake(name, movedBy(machine, report));
  const ideal = await heardAgain(machine, report, anew.take, undefined, voices);
  // What was not heard was not moved; the table counts it.
  const known = anew.played.strikes.filter((_, i) => wasHeard(machine, report, played.strikes[i]));
  const off = await soundsOff(machine, movedAs, anew.take, known);
  const own: Table = {
    title: `${name}: hits moved as advised, ms off where they were sent`,
    columns: [
      'channel',
      'moved by up to',
      'hits',
      'heard again: 95 %',
      'worst',
      'sectors’ means',
      'lost',
      'set aside',
      'no voices kept: 95 %',
      'recorded anew: 95 %',
      'worst',
      'sound itself: 95 %',
      'worst',
      'not moved',
    ],
    rows: moved.map((one, c) => [
      one.channel,
      figure(one.farthestMs),
      `${one.errorMs.length}`,
      ...spread(one.errorMs),
      worst(one.sectorMs),
      `${one.lost}`,
      `${one.setAside}`,
      spread(alone[c].errorMs)[0],
      ...spread(ideal[c].errorMs),
      ...spread(off[c]),
      `${played.strikes.filter(({ channel }) => channel === c).length - off[c].length}`,
    ]),
    notes: [
      'Heard again: by the tool, in the moved take, each microphone by itself, with the take’s own voices kept. No voices kept:',
      'each beginning told anew. Sectors’ means: the worst, as advice predicts them. Recorded anew: the same strikes played at',
      'the times they were sent to, so what hearing alone is off. Sound itself: moved against recorded anew, without hearing.',
      'Lost: not heard again within 4 ms. Not moved: struck, but not heard in the take. Neither is in the other columns.',
    ],
  };
  const written = await writtenTakes(take, machine, report);
  const stay = () => 0;
  const asWas = await heardAgain(machine, report, written.before, stay, voices);
  const asAdvised = await heardAgain(machine, report, written.after, undefined, voices);
  const files: Table = {
    title: `${name}: the written files as takes of one track with all ${moved.length} channels, ms off where hits were sent`,
    columns: [
      'channel',
      'before.wav: 95 %',
      'worst',
      'lost',
      'after.wav: 95 %',
      'worst',
      'lost',
      'set aside',
    ],
    rows: asAdvised.map((one, c) => [
      one.channel,
      ...spread(asWas[c].errorMs),
      `${asWas[c].lost}`,
      ...spread(one.errorMs),
      `${one.lost}`,
      `${one.setAside}`,
    ]),
    notes: [
      'In before.wav nothing is moved: what is off there is what hearing all channels on one track is off from hearing them apart.',
    ],
  };
  return [own, files];
}

function worst(errorMs: readonly number[]): string {
  return figure(Math.max(...errorMs.map(Math.abs)));
}

function spread(errorMs: readonly number[]): string[] {
  const sorted = errorMs.map(Math.abs).sort((a, b) => a - b);
  return [0.95, 1].map((q) => figure(sorted[Math.ceil(q * sorted.length) - 1] ?? NaN));
}
