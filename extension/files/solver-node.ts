/** The integer solver in Node: finds highs.wasm beside the bundle, or in the installed package when run from source. */
import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { fileURLToPath } from 'node:url';
import type { IntegerSolver } from '../../analysis/ports.ts';
import { highsSolver } from '../common/solver.ts';

/** @throws the file system's error, at the first solve, where highs.wasm is not there */
export function nodeSolver(): IntegerSolver {
  return highsSolver(async () => {
    const beside = fileURLToPath(new URL('./highs.wasm', import.meta.url));
    return readFile(existsSync(beside) ? beside : createRequire(import.meta.url).resolve('highs/runtime'));
  });
}
