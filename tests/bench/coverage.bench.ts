/**
 * How often the 95 % intervals of groups hold the truth, cell by cell: each cell is the usual machine with one thing
 * changed. Groups of a take share its reference, so the figure has the scatter of takes, given beside it.
 */
import type { Hearing } from '../../analysis/hits/hits.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import type { Take } from '../../analysis/take/take.ts';
import { figure, type Table } from './bench.ts';
import { playCase, usual, type Case, type PlayedCase } from './coverage-machines.ts';

const takes = Number(process.env.COVERAGE_TAKES ?? 30);

const cells: readonly (readonly [string, Partial<Case>])[] = [
  ['usual', {}],
  ...[0, 1, 2].map((ms) => [`reference pins scatter ${ms} ms`, { referencePinMs: ms }] as const),
  ['reference pins 1 ms, repeat 0.03 ms', { referencePinMs: 1, referenceChanceMs: 0.03 }],
  ['reference unrepeatable, 1.5 ms', { referenceChanceMs: 1.5 }],
  ...[1.2, 2, 8, 30].map((turns) => [`${turns} turns`, { turns }] as const),
  ...[2, 20, 60].map((channels) => [`${channels} channels`, { channels }] as const),
  ...[1, 12].map((sectors) => [`${sectors} sectors`, { sectors }] as const),
  ...[2, 4, 8, 16].map((everyBeats) => [`reference on ${everyBeats} beats`, { everyBeats }] as const),
  ...(['steady', 'hunts', 'slows'] as const).map((drive) => [`drive ${drive}`, { drive }] as const),
  ...[4, 8, 16].map(
    (everyBeats) => [`hunts, reference on ${everyBeats}`, { everyBeats, drive: 'hunts' }] as const,
  ),
  ['2 ms, 1.2 turns', { referencePinMs: 2, turns: 1.2 }],
  ['2 channels, reference on 8', { channels: 2, everyBeats: 8 }],
];

export function hearingOf({ strikes }: PlayedCase, timeSdS = 5e-6): Hearing {
  const count = strikes.length;
  return {
    tracks: [],
    hits: {
      count,
      timeS: Float64Array.from(strikes, ({ timeS }) => timeS),
      timeSdS: new Float64Array(count).fill(timeSdS),
      track: new Int32Array(count).fill(-1),
      channel: Int32Array.from(strikes, ({ channel }) => channel),
      levelDb: new Float32Array(count).fill(-12),
      why: strikes.map(() => null),
    },
  };
}

export function takeOf({ bpm }: PlayedCase): Take {
  return {
    name: 'cell',
    description: { tempo: bpm },
    recorded: null,
    settings: {},
    tracks: [],
    markers: [],
    notices: [],
  };
}

export function measured(one: Case, firstSeed: number, count: number) {
  const shares: number[] = [];
  let [held, all, doubted, width, off, msSpent] = [0, 0, 0, 0, 0, 0];
  for (let seed = firstSeed; seed < firstSeed + count; seed++) {
    const played = playCase(one, seed);
    const began = performance.now();
    const strokes = layOnBarrel(hearingOf(played), played.machine, takeOf(played));
    const groups = summariseGroups(strokes, played.machine);
    msSpent += performance.now() - began;
    let [own, ofOwn] = [0, 0];
    const { channels, barrel } = played.machine.description;
    for (const { channel, sector, meanMs, ci95Ms, doubt } of groups) {
      if (sector === null || channel === 'ref' || meanMs === null) continue;
      if (doubt !== undefined || ci95Ms === null) {
        doubted++;
        continue;
      }
      const c = channels.findIndex(({ id }) => id === channel);
      const s = barrel.sectors.findIndex(({ id }) => id === sector);
      const error = Math.abs(meanMs - played.truthMs(c, s));
      ofOwn++;
      width += ci95Ms;
      off += error ** 2;
      if (error <= ci95Ms) own++;
    }
    held += own;
    all += ofOwn;
    if (ofOwn > 0) shares.push(own / ofOwn);
  }
  const share = held / all;
  const scatter = Math.sqrt(shares.reduce((sum, one_) => sum + (one_ - share) ** 2, 0)) / shares.length;
  return {
    share,
    scatter,
    all,
    doubted,
    width: width / all,
    rms: Math.sqrt(off / all),
    msSpent: msSpent / count,
  };
}

export default function bench(): Promise<Table[]> {
  const words = (process.env.COVERAGE_CELLS ?? '').split(',').filter((word) => word !== '');
  const rows = cells
    .filter(([name]) => words.length === 0 || words.some((word) => name.includes(word)))
    .map(([name, change], i) => {
      const one = measured({ ...usual, ...change }, 1000 * (i + 1), takes);
      return [
        name,
        figure(100 * one.share),
        figure(100 * one.scatter, 2),
        `${one.all}`,
        `${one.doubted}`,
        figure(one.width),
        figure(one.rms),
        figure(one.msSpent),
      ];
    });
  return Promise.resolve([
    {
      title: `Intervals of groups that hold the truth, ${takes} takes a cell (93 to 97 of a hundred is asked)`,
      columns: [
        'cell',
        'hold, %',
        '± of that',
        'groups',
        'in doubt',
        'mean ± ms',
        'rms error, ms',
        'ms a take',
      ],
      rows,
    },
  ]);
}
