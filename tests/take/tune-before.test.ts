// A take from when the machine had one pattern is of the tune that has just its report's pins; else which it is of is asked.
import { expect, test } from 'vitest';
import { readMachine } from '../../analysis/machine/read.ts';
import { analyse } from '../../analysis/pipeline.ts';
import type { Report } from '../../analysis/results/results.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { memoryFile } from './files.ts';

const march = [0, 2, 4, 6].map((step) => `${step},block\n`).join('') + '1,drum\n3,drum\n7,drum\n';
const waltz = march.replace('7,drum', '5,drum');
const times = [0, 1, 2, 3].flatMap((turn) =>
  march
    .trim()
    .split('\n')
    .map((row) => row.split(','))
    .map(([step, channel]) => ({ timeS: 1 + (8 * turn + Number(step)) / 4, channel })),
);
const hits = times
  .sort((a, b) => a.timeS - b.timeS)
  .map(({ timeS, channel }) => `${timeS.toFixed(4)},${channel}\n`)
  .join('');

async function analysed(patterns: Record<string, string> | null, earlier: Report | null) {
  const description = {
    name: 'Tiny',
    barrel: { steps: 8, stepsPerBeat: 2, diameterMm: 100, sectors: [{ id: 'A', from: 0 }] },
    ...(patterns === null
      ? { pattern: 'march.csv' }
      : { patterns: Object.fromEntries(Object.keys(patterns).map((name) => [name, `${name}.csv`])) }),
    reference: 'block',
    channels: [{ id: 'block', onBarrel: false }, { id: 'drum' }],
    adjusters: [],
  };
  const texts = patterns ?? { march };
  const machine = await readMachine('machine.jsonc', JSON.stringify(description), (file) =>
    Promise.resolve(new TextEncoder().encode(`step,channel\n${texts[file.replace(/\.csv$/, '')]}`)),
  );
  const files = [memoryFile('hits.csv', `time,label\n${hits}`)];
  return analyse({ machine, name: 'may', files, earlier, history: () => Promise.resolve([]) }, nodeSolver());
}

test('its report tells the tune where one has its pins, and only then', async () => {
  const before = await analysed(null, null);
  expect(before.tune).toBeUndefined();
  const after = await analysed({ waltz, march }, before);
  expect(after.tune).toBe('march');
  expect(after.groups.map(({ meanMs }) => meanMs)).toEqual(before.groups.map(({ meanMs }) => meanMs));
  await expect(analysed({ waltz }, before)).rejects.toThrow(/which was recorded is not said/);
  await expect(analysed({ waltz, march }, null)).rejects.toThrow(/which was recorded is not said/);
});
