// The layers are enforced by ESLint; this says that its rules mean what they should.
import { ESLint } from 'eslint';
import { expect, test } from 'vitest';

/** Whether a file of the core may import `what`, by its own rules. */
async function mayImport(file: string, what: string): Promise<boolean> {
  const eslint = new ESLint({ overrideConfigFile: 'tests/eslint.config.js' });
  const config = (await eslint.calculateConfigForFile(file)) as {
    rules: Record<string, [number, { patterns: { regex: string }[] }]>;
  };
  const [, { patterns }] = config.rules['no-restricted-imports'];
  return patterns.every(({ regex }) => !new RegExp(regex, 'u').test(what));
}

test.each([
  ['analysis/hits/hear.ts', '../take/take.ts', true],
  ['analysis/hits/hear.ts', '../rotation/rotation.ts', true],
  ['analysis/hits/hear.ts', '../strokes/lay.ts', false],
  ['analysis/take/read.ts', '../rotation/rotation.ts', false],
  ['analysis/take/markers/index.ts', '../../machine/machine.ts', true],
  ['analysis/take/markers/index.ts', '../../strokes/lay.ts', false],
  ['analysis/take/audio/open.ts', '../../pipeline.ts', false],
  ['analysis/report/report.ts', '../strokes/strokes.ts', true],
  ['analysis/report/report.ts', '../../extension/cli.ts', false],
  ['analysis/pipeline.ts', 'node:fs', false],
  ['analysis/pipeline.ts', 'vscode', false],
])('%s, importing %s: %s', async (file, what, allowed) => {
  expect(await mayImport(file, what)).toBe(allowed);
});
