// What lies in the drawer and what has to be opened: faults of these keys against the rest of machine.jsonc, each in one line.
import { expect, test } from 'vitest';
import { applySettings, readMachine } from '../../analysis/machine/read.ts';

const lever = {
  id: 'lever',
  unit: 'shim',
  perUnit: { mm: 0.1 },
  shifts: { channels: ['bell'] },
  installed: 3,
  min: 0,
  max: 8,
};
const textOf = (adjuster: object, more: object = {}) =>
  JSON.stringify({
    name: 'Ferry steps barrel',
    barrel: { steps: 12, stepsPerBeat: 2, diameterMm: 100, sectors: [{ id: 'A', from: 0 }] },
    reference: 'clap',
    channels: [{ id: 'clap', onBarrel: false }, { id: 'bell' }],
    adjusters: [{ ...lever, ...adjuster }],
    access: [{ id: 'east cheek', openMinutes: 12, changeMinutes: 3 }],
    stock: [{ mm: 0.2, count: 4 }],
    ...more,
  });
const read = (adjuster: object, more: object = {}) =>
  readMachine('machine.jsonc', textOf(adjuster, more), () =>
    Promise.resolve(new TextEncoder().encode('step,channel\n0,clap\n7,bell\n')),
  );

test('a machine that says all of it is read', async () => {
  const { description } = await read({ access: 'east cheek', stack: [0.1, 0.2] });
  expect(description.adjusters[0]).toMatchObject({ access: 'east cheek', stack: [0.1, 0.2] });
});

test.each([
  [
    'an access that is not there',
    { access: 'west cheek' },
    /adjusters\[0\]\.access: there is no access "west cheek"; .*"east cheek"/,
  ],
  [
    'a stack of what is no mm',
    { perUnit: { degrees: 1 }, stack: [0.1] },
    /adjusters\[0\]\.stack: "lever" is not counted in mm; remove "stack", or give "perUnit" in mm/,
  ],
  [
    'fewer pieces than none',
    { min: -2 },
    /adjusters\[0\]\.min: no stack has -2 pieces; count settings from 0/,
  ],
])('%s', async (_, adjuster, line) => {
  const error: unknown = await read(adjuster).catch((thrown: unknown) => thrown);
  expect((error as Error).message).toMatch(/^machine\.jsonc: 1:\d+ [^\n]+$/);
  expect((error as Error).message).toMatch(line);
});

test.each([
  [
    'pieces of a unit that nothing is counted in',
    { stock: [{ unit: 'shmi', mm: 0.1, count: 5 }] },
    /stock\[0\]: no adjuster in mm is counted in "shmi"; use one of "shim"/,
  ],
  ['a tempo twice', { tempi: [96, 112, 96] }, /tempi\[2\]: 96 is there twice; remove one of the two/],
])('%s', async (_, more, line) => {
  const error: unknown = await read({}, more).catch((thrown: unknown) => thrown);
  expect((error as Error).message).toMatch(/^machine\.jsonc: 1:\d+ [^\n]+$/);
  expect((error as Error).message).toMatch(line);
});

test('pieces that were fitted stand beside their setting, or where they stood', () => {
  const text = textOf({});
  const once = applySettings(text, { lever: 4 }, 'machine.jsonc', { lever: [0.2, 0.2] });
  expect(once).toBe(text.replace('"installed":3', '"installed":4, "stack": [0.2, 0.2]'));
  const again = applySettings(once, { lever: 3 }, 'machine.jsonc', { lever: [0.2, 0.1] });
  expect(again).toBe(once.replace('4, "stack": [0.2, 0.2]', '3, "stack": [0.2, 0.1]'));
});
