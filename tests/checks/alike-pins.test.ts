// Pins of a channel that are off alike may be meant so: that is said, and no flat order to re-seat them.
import { expect, test } from 'vitest';
import { readMachine } from '../../analysis/machine/read.ts';
import { analyse } from '../../analysis/pipeline.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { seededRandom } from '../../samples/random.ts';
import { memoryFile } from '../take/files.ts';

const drum = [0, 2, 3, 6, 7, 8, 10, 12, 13, 15];
const pins = [...[0, 2, 4, 6, 8, 10, 12, 14].map((step) => ({ step, channel: 'block' }))].concat(
  drum.map((step) => ({ step, channel: 'drum' })),
);
const description = JSON.stringify({
  name: 'Tiny',
  barrel: { steps: 16, stepsPerBeat: 4, diameterMm: 100, sectors: [{ id: 'A', from: 0 }] },
  pattern: 'pattern.csv',
  reference: 'block',
  channels: [{ id: 'block', onBarrel: false }, { id: 'drum' }],
  adjusters: [],
});

/** What is found of pins of the drum that are so many ms late. */
async function found(lateMs: Readonly<Record<number, number>>): Promise<string[]> {
  const random = seededRandom(3);
  const rows = [0, 1, 2, 3, 4, 5].flatMap((turn) =>
    pins.map(({ step, channel }) => {
      const ms = (channel === 'drum' ? (lateMs[step] ?? 0) : 0) + 0.1 * random.normal();
      return { timeS: 1 + (16 * turn + step) / 8 + ms / 1000, channel };
    }),
  );
  const text = rows
    .sort((a, b) => a.timeS - b.timeS)
    .map(({ timeS, channel }) => `${timeS.toFixed(6)},${channel}\n`)
    .join('');
  const csv = `step,channel\n${pins.map(({ step, channel }) => `${step},${channel}\n`).join('')}`;
  const machine = await readMachine('machine.jsonc', description, () =>
    Promise.resolve(new TextEncoder().encode(csv)),
  );
  const files = [memoryFile('hits.csv', `time,label\n${text}`)];
  const input = { machine, name: 'may', files, earlier: null, history: () => Promise.resolve([]) };
  const { findings } = await analyse(input, nodeSolver());
  return findings.flatMap(({ kind, message }) => (kind === 'pin-error' ? [message] : []));
}

test('three swung pins are asked about, one that is off by itself is not', async () => {
  const swung = await found({ 3: 12, 7: 12.5, 15: 11.6 });
  expect(swung).toHaveLength(1);
  expect(swung[0]).toMatch(
    /; all of them are off alike, by about 12\.0 ms: if that is meant \(a swing\), enter it in the pattern, else re-seat them/,
  );
  const [one] = await found({ 3: 12, 7: 5 });
  expect(one).toMatch(/step 3 .* step 7/);
  expect(one).not.toContain('meant');
});
