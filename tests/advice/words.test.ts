// What advice says to people: signs, what was counted in, and how sure the proposal is.
import { describe, expect, it } from 'vitest';
import { advise, adviceFindings, didItWork } from '../../analysis/advice/advise.ts';
import { nodeSolver } from '../../extension/solver-node.ts';
import { machineOf, reportOf } from './small.ts';

const solve = nodeSolver();
const block = { id: 'block', onBarrel: false };
const lever = {
  id: 'lever',
  unit: 'shim',
  perUnit: { mm: 0.1 }, // 1 ms on these machines
  shifts: { channels: ['gong'] },
  installed: -2,
  min: -3,
  max: 8,
};
const machine = machineOf([block, { id: 'gong' }], ['A'], [lever]);

/** A hyphen before a digit. */
const hyphen = /(?<![\w.])-\d/;

describe('numbers below 0 in advice’s sentences', () => {
  it('have the minus sign of print: what was changed since, what is left, an adjuster that contradicts', async () => {
    const far = await advise(machine, [reportOf(machine, { gong: [-22] }, 0.2, { lever: -3 })], solve);
    expect(far.summary).toContain('lever −3 → −2');
    expect(far.summary).toContain('worst gong in sector A at −11.0 ms');
    expect(far.summary).not.toMatch(hyphen);

    const wrong = {
      adjuster: 'lever',
      msPerUnit: -0.9,
      sdMs: 0.1,
      from: 'takes',
      geometryMsPerUnit: 1,
    } as const;
    const [{ message }] = adviceFindings(machine, {
      ...far,
      obstacles: [],
      effects: [{ ...wrong, verdict: 'wrong-way' }],
    });
    expect(message).toBe(
      'the takes show lever to do −0.90 ms a shim (± 0.20), and the machine file makes it +1.00 ms',
    );

    const before = { ...reportOf(machine, { gong: [3] }), take: 'first', settings: { lever: 0 } };
    const after = { ...reportOf(machine, { gong: [0] }), take: 'second', settings: { lever: -3 } };
    const { line } = didItWork(machine, [before, after])!;
    expect(line).toContain('lever 0 → −3 did as expected (−3.0 ms, expected −3.0)');
    expect(line).not.toMatch(hyphen);
  });
});
