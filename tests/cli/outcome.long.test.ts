// Did it work? A round through the built command: measure, change, measure again.
import { readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { reportSchema } from '../../analysis/results/results.ts';
import { run } from './run.ts';
import { makeMachine, markers, put } from './small-machine.ts';

let root: string;
beforeEach(() => {
  root = makeMachine({
    'takes/may/hits.csv': markers({ drum: 3.2 }),
    'takes/may/take.jsonc': '{ "recorded": "2026-05-02" }',
  });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const read = (name: string) => readFileSync(join(root, name), 'utf8');

/** May is measured, five shims of 0.637 ms are noted as taken out of the lever, and June is measured. */
async function round(drumInJune: number) {
  await run(['analyze', 'takes/may'], { cwd: root });
  await run(['advise', '.', '--apply', 'lever-drum=0'], { cwd: root });
  put(root, { 'CALIBRATION.md': read('CALIBRATION.md').replace('- Remarks:', '- Remarks: it rang well') });
  put(root, {
    'takes/june/hits.csv': markers({ drum: drumInJune }, 2),
    'takes/june/take.jsonc': '{ "recorded": "2026-06-01" }',
  });
  const before = read('CALIBRATION.md');
  const { status, out } = await run(['analyze', 'takes/june'], { cwd: root });
  expect(status).toBe(0);
  return { before, out, report: reportSchema.parse(JSON.parse(read('takes/june/report.json'))) };
}

test('the round’s entry gets one line of what became of it, and nothing else in the log changes', async () => {
  const { before, out, report } = await round(0);
  const { outcome } = report;
  expect(outcome).toMatchObject({ since: 'may' });
  expect(outcome!.adjusters).toMatchObject([{ adjuster: 'lever-drum', from: 5, to: 0, did: 'as-expected' }]);
  const lever = outcome!.adjusters[0];
  // Five times 1000·0.1·2/(π·100); 3.2 ms went.
  expect(lever.expectedMs).toBeCloseTo(-3.183, 2);
  expect(Math.abs(lever.seenMs! + 3.2)).toBeLessThan(lever.seenCi95Ms!);
  expect(outcome!.groups.every(({ asPredicted }) => asPredicted)).toBe(true);
  const line =
    /take june: worst mean 3\.\d → 0\.\d ms, 6 of 6 groups as predicted; lever-drum 5 → 0 did as expected/;
  expect(out.replace(/\s+/g, ' ')).toMatch(line);
  const log = read('CALIBRATION.md');
  // Below the work's entry, after what the person wrote there; all that stood there still stands, in its order.
  const work = log.slice(log.indexOf('settings fitted after take may'));
  expect(work).toMatch(/it rang well\s+\*\*Outcome:\*\* take june/);
  let at = 0;
  for (const kept of before.split('\n').filter((text) => text !== '')) {
    at = log.indexOf(kept, at);
    expect(at).not.toBe(-1);
  }
  await run(['analyze', 'takes/june'], { cwd: root });
  expect(read('CALIBRATION.md')).toBe(log);
});

test('a seized lever is found out', async () => {
  const { report, out } = await round(3.2);
  expect(report.outcome!.adjusters).toMatchObject([{ adjuster: 'lever-drum', did: 'nothing' }]);
  expect(
    report.outcome!.groups.filter(({ asPredicted }) => !asPredicted).map(({ channel }) => channel),
  ).toEqual(['drum', 'drum']);
  const seized = report.findings.find(({ kind }) => kind === 'no-effect');
  expect(seized).toMatchObject({ severity: 'warning', adjuster: 'lever-drum' });
  expect(seized!.message).toMatch(/changing lever-drum did next to nothing/);
  expect(out).toContain('nothing that could be heard');
  // It is left alone until a person has looked.
  expect(report.advice.settings.map(({ adjuster }) => adjuster)).not.toContain('lever-drum');
});

test('a lever that goes the other way is a finding, not a silent flip', async () => {
  const { report } = await round(6.4);
  expect(report.outcome!.adjusters).toMatchObject([{ did: 'the-opposite' }]);
  const wrong = report.findings.find(({ kind }) => kind === 'wrong-way-effect');
  expect(wrong!.message).toMatch(
    /the takes show lever-drum to do −0\.6\d ms a shim .*the machine file makes it \+0\.64 ms/,
  );
});

test('a take after which nothing was changed judges nothing', async () => {
  await run(['analyze', 'takes/may'], { cwd: root });
  put(root, {
    'takes/june/hits.csv': markers({ drum: 3.2 }, 2),
    'takes/june/take.jsonc': '{ "recorded": "2026-06-01" }',
  });
  await run(['analyze', 'takes/june'], { cwd: root });
  expect(read('takes/june/report.json')).not.toContain('"outcome"');
  expect(read('CALIBRATION.md')).not.toContain('Outcome');
});
