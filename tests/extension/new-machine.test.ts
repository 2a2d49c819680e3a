import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { readMachine } from '../../analysis/machine/read.ts';
import { newMachine, sectorName } from '../../extension/common/new-machine.ts';

const read = (answers: Parameters<typeof newMachine>[0]) => {
  const { machine, pattern } = newMachine(answers);
  return readMachine('machine.jsonc', machine, () => Promise.resolve(new TextEncoder().encode(pattern)));
};

describe('a new machine', () => {
  it('is read as it was answered', async () => {
    const { description, pins, reference } = await read({
      name: 'Quoted "name" \\ // here',
      steps: 24,
      stepsPerBeat: 4,
      diameterMm: 300,
      sectors: 3,
      channels: ['block', 'drum', 'bell'],
    });
    expect(description.name).toBe('Quoted "name" \\ // here');
    expect(description.barrel.sectors).toEqual([
      { id: 'A', from: 0 },
      { id: 'B', from: 8 },
      { id: 'C', from: 16 },
    ]);
    // A shim under the joint of A and B moves everything beyond it.
    expect(description.adjusters.find(({ id }) => id === 'joint-AB')?.shifts).toEqual({
      sectors: ['B', 'C'],
    });
    expect(reference).toBe(0);
    expect(pins.filter(({ channel }) => channel === 0).map(({ step }) => step)).toEqual([
      0, 4, 8, 12, 16, 20,
    ]);
  });

  it('is a machine whatever is answered within the questions’ limits', async () => {
    const answers = fc
      .record({
        name: fc.string({ minLength: 1 }).filter((name) => name.trim() !== ''),
        steps: fc.integer({ min: 2, max: 2000 }),
        stepsPerBeat: fc.integer({ min: 1, max: 48 }),
        diameterMm: fc.integer({ min: 1, max: 9000 }),
        sectors: fc.integer({ min: 1, max: 40 }),
        channels: fc.uniqueArray(fc.stringMatching(/^[a-z][a-z0-9-]{0,10}$/), {
          minLength: 1,
          maxLength: 12,
        }),
      })
      .filter(({ steps, sectors, stepsPerBeat }) => sectors <= steps && stepsPerBeat <= steps);
    await fc.assert(
      fc.asyncProperty(answers, async (given) => {
        const { description } = await read(given);
        expect(description.channels.map(({ id }) => id)).toEqual(given.channels);
        expect(description.barrel.sectors).toHaveLength(given.sectors);
      }),
    );
  });

  it('names sectors beyond the alphabet', () =>
    expect([sectorName(25), sectorName(26)]).toEqual(['Z', 'S27']));
});
