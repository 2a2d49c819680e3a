/** Debian's glpk on the programs that are written for the integer solver. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect } from 'vitest';

export const noGlpk = spawnSync('glpsol', ['--version']).error !== undefined;

/** @returns the optimum that glpsol finds of a program in CPLEX LP text */
export function glpk(text: string): number {
  const folder = mkdtempSync(join(tmpdir(), 'shimwright-glpk-'));
  try {
    const [model, solution] = ['model.lp', 'solution.txt'].map((name) => join(folder, name));
    writeFileSync(model, text);
    const { status, stdout } = spawnSync('glpsol', ['--lp', model, '-o', solution], { encoding: 'utf8' });
    expect(status, stdout).toBe(0);
    const printed = readFileSync(solution, 'utf8');
    expect(printed).toMatch(/Status: +(INTEGER )?OPTIMAL/);
    return Number(/Objective: +goal = (\S+)/.exec(printed)![1]);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
