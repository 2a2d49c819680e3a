/** What is said of each change before it is noted: what counts, what is noted, and the words of the summary. */
import { expect, test } from 'vitest';
import { fittedOf, overtaken, saidOf, saidWords, saying } from '../../extension/view/work-said.ts';

const lever = { adjuster: 'lever-drum', from: 4, to: 5 };
const joint = { adjuster: 'joint-AB', from: 2, to: -4 };

test('the last word of a change counts, and can be taken back', () => {
  const once = saying([], lever, 'skipped');
  const twice = saying(once, lever, 'fitted');
  expect(twice).toEqual([{ ...lever, what: 'fitted' }]);
  expect(saidOf(twice, joint)).toBeNull();
  expect(saying(twice, lever, null)).toEqual([]);
});

test('what was fitted as proposed and what was fitted instead are noted, and what was skipped is not', () => {
  const said = saying(saying(saying([], lever, 'fitted'), joint, 0), { ...lever, adjuster: 'x' }, 'skipped');
  const changes = [lever, joint, { ...lever, adjuster: 'x' }];
  expect(fittedOf(said, changes)).toEqual({
    adjusters: ['lever-drum'],
    others: [{ adjuster: 'joint-AB', setting: 0 }],
  });
});

test('what was said of another change of the same adjuster counts for nothing, and is not lost', () => {
  const said = saying(saying([], lever, 'fitted'), joint, 'skipped');
  const now = [{ ...lever, to: 6 }];
  expect(fittedOf(said, now)).toEqual({ adjusters: [], others: [] });
  expect(overtaken(said, now)).toEqual([{ ...lever, what: 'fitted' }]);
  expect(overtaken(said, [lever, joint])).toEqual([]);
});

test('each is one line', () => {
  expect(saidWords(lever, 'fitted')).toBe('lever-drum 4 → 5 fitted');
  expect(saidWords(lever, 5)).toBe('lever-drum 4 → 5 fitted');
  expect(saidWords(joint, -3)).toBe('joint-AB: −3 instead of −4');
  expect(saidWords(joint, 'skipped')).toBe('joint-AB: skipped, 2 → −4 stays proposed');
  expect(saidWords(joint, null)).toBe('joint-AB: nothing said yet, 2 → −4 stays proposed');
});
