/** How exactly strikes are heard, on takes made from real recordings placed at known fractional-sample times. */
import { hear } from '../../analysis/hits/hear.ts';
import type { ColourRange } from '../../samples/colour.ts';
import { usualColour } from '../../samples/colour.ts';
import type { Sound } from '../../samples/place.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';
import { timeBoundS } from '../rig/bound.ts';
import { recordings, recordingsMissing, strikePower, type Recording } from '../rig/recordings.ts';
import { median, score, type Score } from '../rig/score.ts';
import { makeTake } from '../rig/take.ts';
import { aubioMissing, aubioOnsets } from './aubio.ts';
import { figure, type Table } from './bench.ts';

const sampleRate = 48_000;
const channels = ['reference', 'one', 'two', 'three'];
const bpm = 120;
const turns = 4;
/** Strikes fall anywhere between samples, and as unevenly as a machine's do. */
const repeatabilityMs = Object.fromEntries(channels.map((id) => [id, 1]));

interface Row {
  readonly name: string;
  readonly snrDb: number;
  readonly gainDb?: number;
  readonly colour?: ColourRange;
  readonly bleed?: { readonly db: number; readonly delayS: number };
  /** For each take the sounds of its four channels. */
  readonly takes: readonly (readonly (readonly Sound[])[])[];
}

/** For each take, for each channel. */
interface Measured {
  readonly row: Row;
  readonly ours: readonly (readonly Score[])[];
  /** Empty where aubio is not installed. */
  readonly theirs: readonly (readonly Score[])[];
}

export default async function bench(): Promise<Table[]> {
  if (recordingsMissing)
    return [{ title: 'Hearing', columns: ['take'], rows: [], notes: [recordingsMissing] }];
  const measured: Measured[] = [];
  for (const row of rowsFrom(recordings(sampleRate))) measured.push(await measure(row));
  return [
    {
      title: `Hearing, one channel a track: 3 takes × 4 tracks, each ${turns} turns at ${bpm} bpm, ${sampleRate / 1000} kHz, seed 1`,
      columns: [
        'hits',
        'SNR',
        'F1',
        'spread µs',
        'worst',
        'bound µs',
        'worst',
        'means ms',
        'aubio F1',
        'spread µs',
        'means ms',
      ],
      rows: measured.map(summary),
      notes: [
        'F1 at ±5 ms, the worst track. Spread: standard deviation of heard − played on a track, the median track and the worst.',
        'Bound: Cramér–Rao for a strike known beforehand (Kay 1993, 3.11), the median track and the worst.',
        'Means: how far the tracks’ mean errors lie apart within a take, the worst take. SNR: first 50 ms against noise, full band.',
        'Asked at 30 dB: F1 ≥ 0.99, spread ≤ 10 µs (≤ 3 µs identical), means ≤ 0.3 ms; 40 to 10 dB: spread ≤ 3 bounds or 2 µs.',
        'aubioonset at its defaults, its own delay (the median error) taken off before matching; its spread is 1.4826 × the median absolute deviation.',
        ...(aubioMissing ? [aubioMissing] : []),
      ],
    },
    ...measured.filter(({ row }) => row.name === 'identical' && row.snrDb === 30).map(trackByTrack),
    ...measured.filter(({ row }) => row.name.startsWith('gain ±')).map(trackByTrack),
  ];
}

function rowsFrom(all: readonly Recording[]): Row[] {
  const shuffled = seededRandom(1).shuffle(all);
  const takes = [0, 1, 2].map((take) => channels.map((_, c) => [shuffled[take * channels.length + c]]));
  const kind = (name: string) => all.filter((recording) => recording.kind === name);
  const kinds = ['Wood_Block', 'Tom', 'Snare', 'Agogo'].map(kind);
  const varied = { gainDb: 3, colour: usualColour };
  return [
    { name: 'identical', snrDb: 30, takes },
    { name: 'identical', snrDb: 40, takes },
    { name: 'identical', snrDb: 20, takes },
    { name: 'identical', snrDb: 10, takes },
    { name: 'gain ±3 dB, colour ±2 dB', snrDb: 30, takes, ...varied },
    {
      name: 'the same, colour of zero phase',
      snrDb: 30,
      takes,
      gainDb: 3,
      colour: { ...usualColour, phase: 'zero' },
    },
    {
      name: 'gain, colour, neighbours at −20 dB',
      snrDb: 30,
      takes,
      ...varied,
      bleed: { db: -20, delayS: 0.002 },
    },
    { name: 'different recordings of one kind', snrDb: 30, takes: [kinds] },
  ];
}

async function measure(row: Row): Promise<Measured> {
  const ours: Score[][] = [];
  const theirs: Score[][] = [];
  for (const [t, sounds] of row.takes.entries()) {
    const machine = rigMachine({ channels, seed: 10 + t });
    const { strikes, durationS } = play(machine, { repeatabilityMs }, { bpm, turns }, seededRandom(20 + t));
    const tracks = channels.map((_, c) => [c]);
    const options = { ...row, sampleRate, durationS: durationS + 1, strikes, sounds, tracks, seed: 30 + t };
    const { take, samples } = makeTake(machine, options);
    const { hits } = await hear(take, machine, {});
    const played = (c: number) =>
      strikes.filter((strike) => strike.channel === c).map((strike) => strike.timeS);
    ours.push(
      channels.map((_, c) =>
        score(
          played(c),
          [...hits.timeS].filter((_, i) => hits.channel[i] === c),
        ),
      ),
    );
    if (aubioMissing) continue;
    theirs.push(samples.map((track, c) => withoutDelay(played(c), aubioOnsets(track, sampleRate)!)));
  }
  return { row, ours, theirs };
}

function summary({ row, ours, theirs }: Measured): string[] {
  const worstF1 = (scores: Measured['ours']) => figure(Math.min(...scores.flat().map((s) => s.f1)));
  const apart = (scores: Measured['ours']) =>
    figure(Math.max(...scores.map((take) => range(take.map((s) => s.biasMs)))), 2);
  const spreads = ours.flat().map((s) => s.spreadUs);
  return [
    row.name,
    `${row.snrDb} dB`,
    worstF1(ours),
    figure(median(spreads)),
    figure(Math.max(...spreads)),
    ...boundOf(row),
    apart(ours),
    ...(theirs.length > 0
      ? [worstF1(theirs), figure(median(theirs.flat().map((s) => s.robustSpreadUs))), apart(theirs)]
      : ['–', '–', '–']),
  ];
}

function trackByTrack({ row, ours, theirs }: Measured): Table {
  return {
    title: `Track by track: ${row.name}, ${row.snrDb} dB`,
    columns: [
      'recording',
      'played',
      'heard',
      'F1',
      'mean ms',
      'spread µs',
      'aubio F1',
      'spread µs',
      'delay ms',
    ],
    rows: ours.flatMap((take, t) =>
      take.map((own, c) => {
        const other = theirs[t]?.[c];
        return [
          row.takes[t][c].map((sound) => sound.name).join(', '),
          ...[own.played, own.heard, own.f1, own.biasMs, own.spreadUs].map((value) => figure(value)),
          ...(other
            ? [other.f1, other.robustSpreadUs, other.biasMs].map((value) => figure(value))
            : ['–', '–', '–']),
        ];
      }),
    ),
  };
}

/** What no estimate can beat where strikes are identical, of the median track and the worst, µs. */
function boundOf({ takes, snrDb, colour, gainDb }: Row): string[] {
  if (colour || gainDb || takes.flat().some((sounds) => sounds.length > 1)) return ['', ''];
  const noise = (sound: Sound) => Math.sqrt(strikePower(sound) / 10 ** (snrDb / 10));
  const bounds = takes.flat().map(([sound]) => 1e6 * timeBoundS(sound.samples, sampleRate, noise(sound)));
  return [figure(median(bounds)), figure(Math.max(...bounds))];
}

/** A detector that is late by always the same is not to be blamed for it: matched within 50 ms, its median taken off, scored again; its bias is kept. */
function withoutDelay(played: readonly number[], heard: readonly number[]): Score {
  const delay = median(score(played, heard, 0.05).errorsS);
  const corrected = score(
    played,
    heard.map((time) => time - delay),
  );
  return { ...corrected, biasMs: 1000 * delay };
}

function range(values: readonly number[]): number {
  return Math.max(...values) - Math.min(...values);
}
