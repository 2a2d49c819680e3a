// The integer solver and the programs written for it, against the outside: a textbook's optimum, and Debian's glpk on the
// very same text. Other outside checks that advice rests on stand beside what they check: NIST StRD in
// tests/numbers/regression.test.ts, Welch in tests/numbers/inference.test.ts, free fall in
// tests/machine/effects.test.ts, the gear train in drive.test.ts.
import { describe, expect, it } from 'vitest';
import { choicesOf } from '../../analysis/advice/choices.ts';
import { beliefFromTakes } from '../../analysis/advice/learn.ts';
import { LinearProgram } from '../../analysis/advice/linear-program.ts';
import { programFor } from '../../analysis/advice/program.ts';
import type { Question } from '../../analysis/advice/question.ts';
import { tangentAt } from '../../analysis/advice/tangents.ts';
import { holm } from '../../analysis/numbers/inference.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { seededRandom } from '../../samples/random.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { glpk, noGlpk } from './glpk.ts';
import { block, machineOf, reportOf, shim } from './small.ts';

const solve = nodeSolver();

describe('the solver', () => {
  it('finds a textbook’s optimum', async () => {
    // Wolsey, Integer Programming (1998), the branch-and-bound example of section 7.2, from memory: max 4x − y under
    // 7x − 2y ≤ 14, y ≤ 3, 2x − 2y ≤ 3, whole and not negative; the optimum is 7 at (2, 1), relaxed 59/7.
    const lp = new LinearProgram();
    lp.minimise([['x', -4], ['y', 1]]); // prettier-ignore
    lp.constrain([['x', 7], ['y', -2]], '<=', 14); // prettier-ignore
    lp.constrain([['x', 2], ['y', -2]], '<=', 3); // prettier-ignore
    lp.integer('x', 0, 10);
    lp.integer('y', 0, 3);
    const { status, objective, values } = await solve(lp.text());
    expect({ status, objective }).toEqual({ status: 'optimal', objective: -7 });
    expect([values.get('x'), values.get('y')]).toEqual([2, 1]);
    expect((await solve(lp.text(true))).objective).toBeCloseTo(-59 / 7, 9);
  });
});

describe('Holm’s correction', () => {
  it('rejects what the published example does', () => {
    // The worked example of the encyclopaedia article "Holm–Bonferroni method", from memory: of p = 0.01, 0.04, 0.03 and
    // 0.005 at 0.05 the first and the last are rejected, though all are below 0.05.
    expect(holm([0.01, 0.04, 0.03, 0.005]).map((p) => p <= 0.05)).toEqual([true, false, false, true]);
  });
});

describe.skipIf(noGlpk)('glpk on the same programs', () => {
  const machine = machineOf(
    [block, { id: 'gong' }, { id: 'bell', toleranceMs: 1 }],
    ['A', 'B', 'C'],
    [
      shim('joint-AB', { sectors: ['B', 'C'] }, { max: 7 }),
      shim('joint-BC', { sectors: ['C'] }, { max: 7 }),
      shim('lever-gong', { channels: ['gong'] }, { max: 7 }),
      shim('lever-bell', { channels: ['bell'] }, { max: 7 }),
    ],
    [{ adjusters: ['joint-AB', 'joint-BC'], sumMax: 8, why: 'closing gap' }],
  );

  /** The same with what can be done on it: openings that are shared, and a drawer that hardly does. */
  const limited = {
    ...machine,
    description: machineSchema.parse({
      ...machine.description,
      adjusters: machine.description.adjusters.map((each, a) => ({
        ...each,
        access: a < 3 ? 'east' : 'west',
      })),
      access: [
        { id: 'east', openMinutes: 20, changeMinutes: 3 },
        { id: 'west', openMinutes: 12, changeMinutes: 2 },
      ],
      stock: [
        { mm: 0.2, count: 1 },
        { mm: 0.1, count: 1 },
        { mm: 0.05, count: 3 },
      ],
    }),
  };

  const seed = 20260301;
  it.each([
    [1, machine],
    [2, machine],
    [3, machine],
    [4, machine],
    [5, limited],
    [6, limited],
  ])(`has the same optimum, seed ${seed}, machine %d`, async (index, machine) => {
    const random = seededRandom(seed + index);
    const lateness = () => Array.from({ length: 3 }, () => random.between(-4, 4));
    const belief = beliefFromTakes(machine, [reportOf(machine, { gong: lateness(), bell: lateness() })]);
    const choices = choicesOf(belief);
    // Tangents at some settings, so that what is uncertain has its rows in the program too.
    const tangents = belief.groups.map((_, g) => tangentAt(belief, g, [4, 2, 5, 1]));
    const questions: Question[] = [
      { aim: 'worst', weight: 0.6 },
      { aim: 'worst', weight: 1, costAtMost: 2.01 },
      ...(machine === limited ? [{ aim: 'beyond' as const, weight: 0.6, minutesAtMost: 26 }] : []),
      { aim: 'cost', weight: 0, atMost: belief.groups.map(() => 3.5) },
      { aim: 'worst', weight: 0, reach: choices.map(() => ({ fromMs: -1.5, toMs: 1.5 })) },
    ];
    for (const question of questions)
      for (const relaxed of [false, true]) {
        const text = programFor(belief, choices, tangents, question, relaxed);
        const { status, objective } = await solve(text);
        expect(status).toBe('optimal');
        expect(Math.abs(objective! - glpk(text))).toBeLessThan(1e-6 * Math.max(1, Math.abs(objective!)));
      }
  });
});
