/** What every refusal in the terminal has in common. */
import { expect } from 'vitest';
import { run } from './run.ts';
import { tree } from './small-machine.ts';

/** The command ends with status 2 and one line on standard error that says so, prints nothing else and writes nothing. */
export async function expectRefused(root: string, args: readonly string[], line: RegExp): Promise<void> {
  const before = tree(root);
  const { status, out, err } = await run([...args], { cwd: root });
  expect(err).toMatch(line);
  expect(err).toMatch(/^[^\n]+\n$/);
  expect([status, out]).toEqual([2, '']);
  expect(tree(root)).toEqual(before);
}
