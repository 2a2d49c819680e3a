import { describe, expect, test } from 'vitest';
import { readMachine } from '../../analysis/machine/read.ts';

const drop = `{ "id": "drop", "unit": "mm", "perUnit": { "dropMm": 1, "dropHeightMm": 20 }, "shifts": { "channels": ["bell"] },
  "installed": 0, "min": -9, "max": 9 }`;
const read = (keepLevel: string, adjusters = drop) =>
  readMachine(
    'machine.jsonc',
    `{ "name": "Ferry steps barrel", "reference": "clap",
       "barrel": { "steps": 12, "stepsPerBeat": 2, "diameterMm": 100, "sectors": [ { "id": "A", "from": 0 } ] },
       "channels": [ { "id": "clap" }, { "id": "bell", "keepLevel": ${keepLevel} } ], "adjusters": [ ${adjusters} ] }`,
    () => Promise.resolve(new TextEncoder().encode('step,channel\n0,clap\n7,bell\n')),
  );

describe('the level that is kept', () => {
  test('is read; without a drop height to change, no height is needed', async () => {
    const { description } = await read('{ "withinDb": 1.5, "dropHeightMm": 20 }');
    expect(description.channels[1].keepLevel).toEqual({ withinDb: 1.5, dropHeightMm: 20 });
    await expect(read('{ "withinDb": 1.5 }', '')).resolves.toBeDefined();
  });

  test.each([
    [
      '{ "withinDb": -1 }',
      'channels[1].keepLevel.withinDb: -1 is too small; write more than 0 (How far advice may change its level, dB: 1.5; what is just heard is about 1 dB)',
    ],
    [
      '{ "withinDb": 1.5 }',
      'channels[1].keepLevel: "drop" changes the drop height of "bell", and which height sounds as meant is not said; add "dropHeightMm": 20',
    ],
    ['{ "within": 1 }', 'channels[1].keepLevel.within: the key "within" is not known here; write "withinDb"'],
  ])('%s is refused in one line', async (keepLevel, message) => {
    await expect(read(keepLevel)).rejects.toThrow(message);
  });
});
