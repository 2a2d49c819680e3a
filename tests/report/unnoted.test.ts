import { expect, test } from 'vitest';
import { readMachine } from '../../analysis/machine/read.ts';
import { addEntry } from '../../analysis/report/changelog.ts';
import { renderApplied } from '../../analysis/report/entry.ts';
import { unnotedSettings, unnotedWords, withUnnoted } from '../../analysis/report/unnoted.ts';
import { noAdvice } from '../../analysis/report/report.ts';
import { refuseUnnoted, workDone } from '../../extension/common/work-done.ts';
import { machineText, patternText } from '../cli/small-machine.ts';
import { adviceSchema } from '../../analysis/results/results.ts';
import { exampleReport } from './example.ts';

const machineWith = (joint: number) =>
  readMachine('machine.jsonc', machineText.replace('"installed": 3', `"installed": ${joint}`), () =>
    Promise.resolve(new TextEncoder().encode(patternText)),
  );
const take = (joint: number) => ({
  ...exampleReport(),
  take: 'may',
  settings: { 'joint-AB': joint, 'lever-drum': 5 },
});
const log = (after: string | null, from: number, to: number) =>
  addEntry(
    '# Log\n',
    renderApplied({
      date: '2026-05-03',
      take: after,
      fitted: [{ adjuster: 'joint-AB', unit: 'shim', before: from, after: to, proposed: null }],
      foreseen: null,
    }),
  );

test('a setting is as noted where the log or, later than it, the newest take says so', async () => {
  expect(unnotedSettings(await machineWith(3), take(3), null)).toEqual([]);
  expect(unnotedSettings(await machineWith(4), take(3), log('may', 3, 4))).toEqual([]);
  // Noted after an earlier take; the newest was recorded with what somebody fitted since.
  expect(unnotedSettings(await machineWith(5), take(5), log('april', 3, 4))).toEqual([]);
  expect(unnotedSettings(await machineWith(4), null, log(null, 3, 4))).toEqual([]);
  expect(unnotedSettings(await machineWith(3), null, null)).toEqual([]);
});

test('a checkout that puts machine.jsonc alone back is noticed, with what is known and what to do', async () => {
  const [put] = unnotedSettings(await machineWith(3), take(3), log('may', 3, 4));
  expect(put).toEqual({ adjuster: 'joint-AB', installed: 3, noted: 4, by: 'log' });
  expect(unnotedWords(put, 'may', 'record it')).toBe(
    'joint-AB: machine.jsonc has 3, but CALIBRATION.md notes 4; look which is fitted: record it if it is 3, else correct machine.jsonc',
  );
  const [byHand] = unnotedSettings(await machineWith(2), take(3), null);
  expect(unnotedWords(byHand, 'may', 'record it')).toMatch(
    /has 2, but take may was recorded with 3 and no change is noted since;/,
  );
});

test('what machine.jsonc has already can be noted as fitted, from where the record left it', async () => {
  const machine = await machineWith(2);
  const text = machineText.replace('"installed": 3', '"installed": 2');
  const unnoted = unnotedSettings(machine, take(3), null);
  const by = { machine, text, newest: take(3), advice: noAdvice, unnoted };
  const done = workDone(by, { 'joint-AB': 2 }, new Date(2026, 4, 4));
  expect(done?.description).toBe(text);
  expect(done?.entry).toContain('| joint-AB | shim | 3 | 2 | – |');
  expect(unnotedSettings(machine, take(3), addEntry('# Log\n', done!.entry))).toEqual([]);
  expect(workDone(by, { 'lever-drum': 5 }, new Date(2026, 4, 4))).toBeNull();
});

test('a proposal that counts from a setting nobody noted is not noted as done, in either host', async () => {
  const machine = await machineWith(1);
  const text = machineText.replace('"installed": 3', '"installed": 1');
  const settings = [
    { adjuster: 'joint-AB', unit: 'shim', installed: 1, proposed: 0 },
    { adjuster: 'lever-drum', unit: 'shim', installed: 5, proposed: 2 },
  ];
  const unnoted = unnotedSettings(machine, take(4), null);
  const enter = (ids: readonly string[]) => `enter ${ids.join(' and ')}`;
  const by = { machine, text, newest: take(4), advice: { ...noAdvice, settings }, unnoted, enter };
  const now = new Date(2026, 4, 4);
  const refused =
    /joint-AB 1 \(take may was recorded with 4\): no change is noted, .* nothing was recorded; .* enter joint-AB and lever-drum; where nothing was done yet, correct machine\.jsonc/;
  expect(() => workDone(by, null, now)).toThrow(refused);
  expect(() => refuseUnnoted(by, ['joint-AB'])).toThrow(/enter joint-AB;/);
  expect(() => refuseUnnoted(by, ['lever-drum'])).not.toThrow();
  // Named by the person it is noted, but nothing is foreseen while another setting is in doubt, nor are its pieces known.
  const all = workDone(by, { 'joint-AB': 0, 'lever-drum': 2 }, now)!;
  expect(all.entry).toContain('| joint-AB | shim | 4 | 0 | 0 |');
  expect(all.isAsPlanned).toBe(false);
  const sure = workDone({ ...by, unnoted: [] }, null, now)!;
  expect(sure.isAsPlanned).toBe(true);
});

test('"Done" on some leaves the others out of the table: nobody has decided about them', async () => {
  const machine = await machineWith(3);
  const settings = [
    { adjuster: 'joint-AB', unit: 'shim', installed: 3, proposed: 1 },
    { adjuster: 'lever-drum', unit: 'shim', installed: 5, proposed: 0 },
  ];
  const by = { machine, text: machineText, newest: take(3), advice: { ...noAdvice, settings } };
  const entry = workDone(by, { 'joint-AB': 1 }, new Date(2026, 4, 4))!.entry;
  expect(entry).not.toContain('not followed');
  expect(entry).toContain('| joint-AB | shim | 3 | 1 | 1 |');
  expect(entry).toContain('Left as they are: lever-drum (5; proposed 0).');
});

test('advice that is reckoned from a setting nobody noted says so before any number, in words and in JSON', async () => {
  const unnoted = unnotedSettings(await machineWith(5), take(3), null);
  const advice = { ...noAdvice, summary: 'Change 1 adjuster.' };
  const told = withUnnoted(advice, unnoted, 'may');
  expect(told.summary).toBe(
    'In doubt before anything else: machine.jsonc has joint-AB 5 (take may was recorded with 3), and no change to it is noted; all that follows holds only if that is fitted, so look first. ' +
      advice.summary,
  );
  expect(told.unnoted).toEqual([{ adjuster: 'joint-AB', installed: 5, noted: 3, by: 'take' }]);
  expect(adviceSchema.parse(told)).toEqual(told);
  expect(withUnnoted(advice, [], 'may')).toBe(advice);
});
