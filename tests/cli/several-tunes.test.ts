// Several tunes on one barrel, from the files to the advice, as a person would run it.
import { readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { parseReport } from '../../analysis/report/parse.ts';
import { run } from './run.ts';
import { machineText, makeMachine, markers, patternText, put } from './small-machine.ts';

const several = machineText.replace(
  '"reference"',
  '"patterns": { "march": "march.csv", "waltz": "waltz.csv" }, "reference"',
);
/** The drum a step later, on steps that no other pin of it has. */
const waltzText = patternText
  .replace(/(\d+),drum/g, (_, step: string) => `${Number(step) % 16},drum`)
  .replace('0,drum', '2,drum');

let root: string;
beforeEach(() => {
  root = makeMachine({
    'machine.jsonc': several,
    'march.csv': patternText,
    'waltz.csv': waltzText,
    'takes/1-march/hits.csv': markers({ drum: 3.2 }),
    'takes/1-march/take.jsonc': '{ "recorded": "2026-01-01", "tune": "march" }',
  });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const report = (take: string) =>
  parseReport(take, readFileSync(join(root, 'takes', take, 'report.json'), 'utf8'));

test('a take is measured by the pins of its own tune, and the report says which', async () => {
  const analysed = await run(['analyze', 'takes/1-march'], { cwd: root });
  expect(analysed.status).toBe(0);
  expect(report('1-march').tune).toBe('march');
  expect(readFileSync(join(root, 'takes/1-march/report.md'), 'utf8')).toContain('take 1-march (march)');
  const advised = await run(['advise', '.'], { cwd: root });
  expect(advised.out).toContain('No take of waltz was measured');
});

test.each([
  [
    'no word of it',
    '{}',
    /take\.jsonc: tune: the machine has several tunes, and which was recorded is not said; write "tune": "march" \(or "waltz"\) into it/,
  ],
  [
    'a tune that is none',
    '{ "tune": "walz" }',
    /take\.jsonc: 1:\d+ tune: there is no tune "walz"; write "waltz"/,
  ],
])('%s is one line', async (_, text, line) => {
  put(root, { 'takes/1-march/take.jsonc': text });
  const { status, err } = await run(['analyze', 'takes/1-march'], { cwd: root });
  expect(status).toBe(2);
  expect(err).toMatch(line);
  expect(err.trim().split('\n')).toHaveLength(1);
});

test('a tune where the machine has one pattern is one line', async () => {
  put(root, { 'machine.jsonc': machineText });
  const { status, err } = await run(['analyze', 'takes/1-march'], { cwd: root });
  expect(status).toBe(2);
  expect(err).toMatch(/tune: machine\.jsonc has one pattern and no tunes; remove "tune"/);
});

test('a take from when the machine had one pattern stays as it was once tunes are named', async () => {
  put(root, {
    'machine.jsonc': machineText,
    'pattern.csv': patternText,
    'takes/1-march/take.jsonc': '{ "recorded": "2026-01-01" }',
  });
  expect((await run(['analyze', 'takes/1-march'], { cwd: root })).status).toBe(0);
  put(root, { 'machine.jsonc': several });
  const kept = await run(['history', '.'], { cwd: root });
  expect(kept.out).toContain('2026-01-01  1-march');
  expect(kept.out + kept.err).not.toContain('changed since');
  // Another pin is another pattern.
  put(root, { 'march.csv': patternText.replace('13,bell', '14,bell') });
  const moved = await run(['history', '.'], { cwd: root });
  expect(moved.out + moved.err).toContain('march.csv, waltz.csv has changed since its report was made');
});
