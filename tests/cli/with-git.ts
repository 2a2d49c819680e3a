/** Tests that need git itself. */
import { spawnSync } from 'node:child_process';
import { describe } from 'vitest';

/** As describe; skipped, with the reason in the name, where git is not installed. */
export function describeWithGit(name: string, tests: () => void): void {
  if (spawnSync('git', ['--version']).status === 0) describe(name, tests);
  else describe.skip(`${name} (git is not installed)`, tests);
}
