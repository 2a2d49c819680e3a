import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { highsSolver } from '../../extension/common/solver.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';

const solve = nodeSolver();

// The Wyndor Glass Co. example, Hillier & Lieberman, "Introduction to Operations Research", ch. 3 (from memory):
// maximise 3 x1 + 5 x2 with x1 ≤ 4, 2 x2 ≤ 12, 3 x1 + 2 x2 ≤ 18 has its optimum 36 at (2, 6).
const wyndor = `Maximize
 profit: 3 x1 + 5 x2
Subject To
 plant2: 2 x2 <= 12
 plant3: 3 x1 + 2 x2 <= 18
Bounds
 x1 <= 4
Generals
 x1 x2
End
`;

// A knapsack of six pieces; its optimum is found below by trying all 64 choices.
const worth = [10, 13, 18, 31, 7, 15];
const weight = [11, 15, 20, 35, 10, 33];
const room = 47;
const knapsack = `Maximize
 worth: ${worth.map((w, i) => `${w} p${i}`).join(' + ')}
Subject To
 room: ${weight.map((w, i) => `${w} p${i}`).join(' + ')} <= ${room}
Binaries
 ${worth.map((_, i) => `p${i}`).join(' ')}
End
`;

function bestKnapsack() {
  let best = 0;
  for (let choice = 0; choice < 1 << worth.length; choice++) {
    const taken = worth.map((_, i) => (choice >> i) & 1);
    const sum = (of: number[]) => of.reduce((total, value, i) => total + value * taken[i], 0);
    if (sum(weight) <= room) best = Math.max(best, sum(worth));
  }
  return best;
}

describe('the integer solver', () => {
  it('finds a textbook program’s known optimum', async () => {
    const solution = await solve(wyndor);
    expect(solution.status).toBe('optimal');
    expect(solution.objective).toBeCloseTo(36, 9);
    expect(solution.gap).toBe(0);
    expect(Object.fromEntries(solution.values)).toEqual({ x1: 2, x2: 6 });
  });

  it('agrees with trying every choice', async () => {
    expect((await solve(knapsack)).objective).toBeCloseTo(bestKnapsack(), 9);
  });

  const glpsol = spawnSync('glpsol', ['--version']).status === 0;
  it.skipIf(!glpsol)('agrees with GLPK on the same file (skipped without Debian’s glpk-utils)', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'shimwright-glpk-'));
    try {
      writeFileSync(join(folder, 'model.lp'), knapsack);
      execFileSync('glpsol', ['--lp', 'model.lp', '-o', 'out.txt'], { cwd: folder });
      const objective = /Objective:\s+worth = (\S+)/.exec(readFileSync(join(folder, 'out.txt'), 'utf8'));
      expect((await solve(knapsack)).objective).toBeCloseTo(Number(objective?.[1]), 6);
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  });

  it('says infeasible, with no point', async () => {
    const solution = await solve('Minimize\n z: x\nSubject To\n a: x >= 2\n b: x <= 1\nEnd\n');
    expect(solution).toMatchObject({ status: 'infeasible', objective: null, gap: null, values: new Map() });
  });

  it('starts from a guess, and is not misled by a wrong one', async () => {
    for (const [x1, x2] of [
      [2, 6],
      [99, -5],
    ]) {
      const start = new Map(Object.entries({ x1, x2, unheard: 3 }));
      expect((await solve(wyndor, { start })).objective).toBeCloseTo(36, 9);
    }
  });

  /** A market-split program (Cornuéjols & Dawande 1998): a few rows of it keep any branch-and-bound busy. */
  const busy = () => {
    const rows = 5;
    const columns = 40;
    let state = 12345;
    const next = () => (state = (state * 1103515245 + 12345) % 2147483648) % 100;
    const lines = Array.from({ length: rows }, (_, r) => {
      const weights = Array.from({ length: columns }, next);
      const half = Math.floor(weights.reduce((a, b) => a + b) / 2);
      return ` r${r}: ${weights.map((w, i) => `${w} x${i}`).join(' + ')} + over${r} - under${r} = ${half}`;
    });
    const slack = Array.from({ length: rows }, (_, r) => `over${r} + under${r}`).join(' + ');
    const names = Array.from({ length: columns }, (_, i) => `x${i}`).join(' ');
    return `Minimize\n off: ${slack}\nSubject To\n${lines.join('\n')}\nBinaries\n ${names}\nEnd\n`;
  };

  it('stops after so many nodes, says how far it got, and stops at the same place each time', async () => {
    const [first, again] = [await solve(busy(), { nodeLimit: 5 }), await solve(busy(), { nodeLimit: 5 })];
    expect(first.status).toBe('node-limit');
    expect(first.gap === null || first.gap > 0).toBe(true);
    expect(first.bound === null || first.bound <= (first.objective ?? Infinity)).toBe(true);
    expect(again).toEqual(first);
  });

  it('solves a program on which HiGHS aborts at first', async () => {
    const text = readFileSync(new URL('./aborts.lp', import.meta.url), 'utf8');
    const { status, objective } = await solve(text, { nodeLimit: 500 });
    expect(status).toBe('optimal');
    // By enumeration of both adjusters' whole units.
    expect(objective).toBeCloseTo(0.81937, 4);
  });

  it('refuses text that is no model, and works on afterwards', async () => {
    await expect(solve('shims, please')).rejects.toThrow();
    expect((await solve(wyndor)).objective).toBeCloseTo(36, 9);
  });

  it('asks for its code once', async () => {
    let asked = 0;
    const wasm = readFileSync(new URL('../../node_modules/highs/build/highs.wasm', import.meta.url));
    const counted = highsSolver(() => {
      asked++;
      return Promise.resolve(new Uint8Array(wasm));
    });
    await counted(wyndor);
    await counted(knapsack);
    expect(asked).toBe(1);
  });
});
