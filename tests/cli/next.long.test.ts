/** What comes next, a channel over the takes, and a take heard before it is changed: the commands as a person runs them. */
import { existsSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { makeMachine, markers } from './small-machine.ts';
import { run } from './run.ts';

let root: string;
afterEach(() => rmSync(root, { recursive: true, force: true }));
const read = (name: string) => readFileSync(join(root, name), 'utf8');

test('next says what the proposed settings gain, and by which adjusters', async () => {
  root = makeMachine({ 'takes/may/hits.csv': markers({ drum: 3.2 }) });
  await run(['analyze', join(root, 'takes/may')]);
  const { status, out, err } = await run(['next', root]);
  expect([status, err]).toEqual([0, '']);
  expect(out).toMatch(/^channel +A +B\n/);
  // 3.2 ms of 1 ms; five shims of 0.64 ms take the most off.
  expect(out).toMatch(/drum: from 3\.\d to 0\.\d × tolerance, by lever-drum/);
  expect(existsSync(join(root, 'test-pattern.csv'))).toBe(false);
});

test('next writes a pattern for what is not measured, which the tool reads', async () => {
  root = makeMachine({
    'takes/may/hits.csv': markers()
      .split('\n')
      .filter((row) => !row.includes('bell'))
      .join('\n'),
  });
  await run(['analyze', join(root, 'takes/may')]);
  const { status, out } = await run(['next', root]);
  expect(status).toBe(0);
  expect(out).toContain('has a pin for 2 of them');
  const pattern = read('test-pattern.csv');
  expect(pattern.split('\n').filter((row) => row.endsWith(',bell'))).toHaveLength(2);
  // Ours is written anew; one that a person changed is kept.
  expect((await run(['next', root])).status).toBe(0);
  writeFileSync(join(root, 'test-pattern.csv'), `${pattern}5,bell\n`);
  const kept = await run(['next', root]);
  expect([kept.status, kept.err.trim()]).toEqual([
    2,
    `${join(root, 'test-pattern.csv')}: was written or changed by hand, and a new test pattern would replace it; rename it or put it elsewhere`,
  ]);
  expect(read('test-pattern.csv')).toBe(`${pattern}5,bell\n`);
  writeFileSync(join(root, 'pattern.csv'), pattern);
  writeFileSync(join(root, 'takes/may/hits.csv'), markers());
  expect((await run(['analyze', join(root, 'takes/may')])).err).toBe('');
});

test('history lists each channel and draws its control chart', async () => {
  const takes = Object.fromEntries(
    [1, 2, 3, 4, 5].map((i) => [`takes/${i}/hits.csv`, markers({ drum: i === 5 ? 6 : 2 }, i)]),
  );
  root = makeMachine(takes);
  for (const i of [1, 2, 3, 4, 5]) await run(['analyze', join(root, `takes/${i}`)]);
  const { status, out, err } = await run(['history', root]);
  expect([status, err]).toEqual([0, '']);
  const drum = out.slice(out.indexOf('\ndrum: usual'), out.indexOf('\nbell'));
  expect(drum.split('\n').filter((line) => line.includes('out of its limits'))).toHaveLength(1);
  expect(drum).toMatch(/ 5 [^\n]*\n *out of its limits/);
  expect(read('history.svg')).toMatch(/^<svg/);
  expect(read('history.svg')).toContain('upper limit');
});

test('hear says in one line why there is nothing to hear', async () => {
  root = makeMachine({ 'takes/may/hits.csv': markers({ drum: 3.2 }) });
  const early = await run(['hear', join(root, 'takes/may')]);
  expect(early.status).toBe(2);
  expect(early.err.trim().split('\n')).toHaveLength(1);
  expect(early.err).toContain('was not analysed yet');
  await run(['analyze', join(root, 'takes/may')]);
  const { status, err } = await run(['hear', join(root, 'takes/may')]);
  expect(status).toBe(2);
  expect(err).toContain('has no audio, only markers');
  expect(existsSync(join(root, 'takes/may/hear'))).toBe(false);
});
