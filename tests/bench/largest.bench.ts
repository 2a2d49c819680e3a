/** The largest machine that is let in, with a pin of every channel in every sector: a take of markers, analysed and advised on. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { seededRandom } from '../../samples/random.ts';
import { figure, type Table } from './bench.ts';
import { timed } from './timed.ts';

/** As analysis/machine/schema.ts lets in. */
const largest = { channels: 200, sectors: 200, adjusters: 300 };
const turns = 3;
const secondsPerTurn = 60;

export default async function bench(): Promise<Table[]> {
  const rows: string[][] = [];
  for (const share of [0.5, 1]) {
    const size = {
      channels: largest.channels * share,
      sectors: largest.sectors * share,
      adjusters: largest.adjusters * share,
    };
    const folder = mkdtempSync(join(tmpdir(), 'largest-'));
    try {
      writeMachine(folder, size);
      const { seconds, peakMb } = await timed('node', [
        'dist/cli.js',
        'analyze',
        join(folder, 'takes', 'one'),
        '--quiet',
      ]);
      rows.push([...Object.values(size).map(String), figure(seconds), figure(peakMb)]);
    } finally {
      rmSync(folder, { recursive: true });
    }
  }
  return [
    {
      title: `A machine of many parts, ${turns} turns of markers, analysed`,
      columns: ['channels', 'sectors', 'adjusters', 's', 'MB'],
      rows,
    },
  ];
}

function writeMachine(folder: string, size: typeof largest): void {
  const random = seededRandom(1);
  const perSector = 2;
  const steps = perSector * size.sectors;
  const strikers = Array.from({ length: size.channels - 1 }, (_, i) => ({
    id: `c${i}`,
    latenessS: 0.004 * random.normal(),
  }));
  const shiftsOf = (i: number) =>
    i < strikers.length
      ? { channels: [strikers[i].id] }
      : { sectors: [`s${(i - strikers.length) % size.sectors}`] };
  const pins = [
    ...strikers.flatMap(({ id, latenessS }, c) =>
      Array.from({ length: size.sectors }, (_, s) => ({
        step: perSector * s + (c % perSector),
        id,
        latenessS,
      })),
    ),
    ...Array.from({ length: size.sectors }, (_, s) => ({ step: perSector * s, id: 'ref', latenessS: 0 })),
  ];
  const markers = Array.from({ length: turns }, (_, turn) =>
    pins.map(({ step, id, latenessS }) => ({
      timeS: 0.5 + (turn + step / steps) * secondsPerTurn + latenessS + 0.0005 * random.normal(),
      id,
    })),
  )
    .flat()
    .sort((a, b) => a.timeS - b.timeS);
  mkdirSync(join(folder, 'takes', 'one'), { recursive: true });
  writeFileSync(
    join(folder, 'machine.jsonc'),
    JSON.stringify({
      name: 'Market hall barrel',
      barrel: {
        steps,
        stepsPerBeat: 4,
        diameterMm: 200,
        sectors: Array.from({ length: size.sectors }, (_, s) => ({ id: `s${s}`, from: perSector * s })),
      },
      reference: 'ref',
      channels: [{ id: 'ref', onBarrel: false }, ...strikers.map(({ id }) => ({ id }))],
      adjusters: Array.from({ length: size.adjusters }, (_, i) => ({
        id: `a${i}`,
        unit: 'shim',
        installed: 3,
        min: 0,
        max: 8,
        perUnit: { mm: 0.1 },
        shifts: shiftsOf(i),
      })),
    }),
  );
  writeFileSync(
    join(folder, 'pattern.csv'),
    `step,channel\n${pins.map(({ step, id }) => `${step},${id}`).join('\n')}\n`,
  );
  writeFileSync(
    join(folder, 'takes', 'one', 'marks.csv'),
    `time,label\n${markers.map(({ timeS, id }) => `${timeS.toFixed(6)},${id}`).join('\n')}\n`,
  );
}
