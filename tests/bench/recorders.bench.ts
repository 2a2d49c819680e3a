/** Two recorders, each started by hand on a clock of its own, and what is found of when they began; files as they were taken before beside it. */
import { findClocks } from '../../analysis/clocks/find.ts';
import { recordedTake } from '../rig/recorded.ts';
import { figure, type Table } from './bench.ts';

const cases: readonly (readonly [startS: number, ppm: number, bleedDb: number])[] = [
  [0.04, 30, -20],
  [0.04, 100, -40],
  [0.4, 30, -30],
  [0.4, 100, -40],
  [5, 30, -40],
  [5, 100, -20],
  [0, 0, -20],
  [0.4, 30, -Infinity],
];

export default async function bench(): Promise<Table[]> {
  const rows: string[][] = [];
  for (const [i, [startS, ppm, bleedDb]] of cases.entries()) {
    const { take } = recordedTake({ startS, ppm, bleedDb, seed: 30 + i, turns: 2 });
    const [, clock] = await findClocks(take.tracks, {});
    rows.push([
      `${startS} s`,
      `${ppm}`,
      bleedDb === -Infinity ? 'none' : `${bleedDb} dB`,
      clock.how,
      figure(1000 * startS),
      figure(1000 * Math.abs(clock.startS - startS)),
      figure(1000 * 1.959964 * clock.startSdS),
      figure(Math.abs(1e6 * (1 / (1 + clock.drift) - 1) - ppm)),
    ]);
  }
  return [
    {
      title: 'Two recorders in a room of image sources, two strikers each, half a minute',
      columns: ['apart', 'ppm', 'bleed', 'how', 'ms off before', 'ms off', '± ms', 'ppm off'],
      rows,
      notes: [],
    },
  ];
}
