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
  ['analysis/report/report.ts', '../../extension/cli/main.ts', false],
  ['analysis/machine/read.ts', '../input/jsonc.ts', true],
  ['analysis/input/jsonc.ts', '../machine/machine.ts', false],
  ['analysis/results/results.ts', '../strokes/strokes.ts', false],
  ['analysis/pipeline.ts', 'node:fs', false],
  ['analysis/pipeline.ts', 'vscode', false],
])('%s, importing %s: %s', async (file, what, allowed) => {
  expect(await mayImport(file, what)).toBe(allowed);
});

/** What ESLint says of a line in a file of the extension. */
async function saidOf(file: string, line: string): Promise<(string | null)[]> {
  const eslint = new ESLint({
    overrideConfigFile: 'tests/eslint.config.js',
    // Without types: with them, a run under CI=true reads the file that lies on disk in place of the line.
    overrideConfig: { languageOptions: { parserOptions: { project: null } } },
    ruleFilter: ({ ruleId }) => ruleId.startsWith('no-restricted'),
  });
  const [{ messages }] = await eslint.lintText(line, { filePath: file });
  return messages.map(({ ruleId }) => ruleId);
}

test.each([
  ['extension/host/hear.ts', "import { readFile } from 'node:fs/promises';", 'no-restricted-imports'],
  ['extension/host/hear.ts', "import * as fs from 'node:fs';", 'no-restricted-imports'],
  ['extension/cli/hear.ts', "import { writeFileSync } from 'node:fs';", 'no-restricted-imports'],
  ['extension/host/hear.ts', 'await vscode.workspace.fs.readFile(file);', 'no-restricted-syntax'],
  ['extension/host/hear.ts', 'await vscode.workspace.fs.stat(file);', null],
  ['extension/host/disk.ts', 'await vscode.workspace.fs.readFile(file);', null],
  ['extension/files/read.ts', "import { open } from 'node:fs/promises';", null],
  ['extension/cli/compare.ts', "import { realpath, stat } from 'node:fs/promises';", null],
  ['extension/files/read.ts', "import { words } from '../host/words.ts';", 'no-restricted-imports'],
  ['extension/cli/hear.ts', "import { words } from '../host/words.ts';", 'no-restricted-imports'],
  ['extension/cli/hear.ts', "import { openThread } from '../work/call.ts';", null],
  ['extension/view/list.ts', "import { words } from '../host/words.ts';", 'no-restricted-imports'],
])('%s, opening by "%s": %s', async (file, line, rule) => {
  expect(await saidOf(file, line)).toEqual(rule === null ? [] : [rule]);
});
