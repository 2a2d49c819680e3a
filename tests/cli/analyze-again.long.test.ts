// What runs the built command several times for each thing that it shows.
import { readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { parseReport } from '../../analysis/report/parse.ts';
import { run, runOnTerminal } from './run.ts';
import { machineText, makeMachine, markers, patternText, put } from './small-machine.ts';

let root: string;
beforeEach(() => {
  root = makeMachine({ 'takes/may/hits.csv': markers({ drum: 3.2, sectorB: 1.3 }) });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const read = (name: string) => readFileSync(join(root, name), 'utf8');

test('a file in the take, its folder with a slash, and a path seen from elsewhere mean the same take', async () => {
  const measured = async (path: string, cwd: string) => {
    const { take, hits, groups } = parseReport('', (await run(['analyze', path, '--json'], { cwd })).out);
    return { take, hits, groups };
  };
  const first = await measured('takes/may/hits.csv', root);
  expect(first.take).toBe('may');
  expect(await measured('takes/may/', root)).toEqual(first);
  expect(await measured('./takes/../takes/may', root)).toEqual(first);
  expect(await measured('.', join(root, 'takes/may'))).toEqual(first);
});

test('--check: 1 where something is out of tolerance, 0 where nothing is, and 0 without it', async () => {
  put(root, { 'takes/june/hits.csv': markers({ drum: 0.2 }) });
  expect((await run(['analyze', join(root, 'takes/may'), '--check'])).status).toBe(1);
  expect((await run(['analyze', join(root, 'takes/may')])).status).toBe(0);
  expect((await run(['analyze', join(root, 'takes/june'), '--check'])).status).toBe(0);
});

test('what a person wrote in CALIBRATION.md stays to the byte', async () => {
  const own = '# My barrel\r\n\r\nGreased.\r\n\r\n## 2026-04-01\r\n\r\n* tightened B  \r\n';
  put(root, { 'CALIBRATION.md': own });
  await run(['analyze', join(root, 'takes/may')]);
  const after = read('CALIBRATION.md');
  let at = 0;
  for (const line of own.split('\r\n')) {
    at = after.indexOf(line, at);
    expect(at).toBeGreaterThanOrEqual(0);
  }
  expect(after.length).toBeGreaterThan(own.length);
});

test('Windows line ends, byte order marks and a comma too many are welcome', async () => {
  const crlf = (text: string) => `\uFEFF${text.replaceAll('\n', '\r\n')}`;
  // All but how many bytes the files have.
  const measured = async () =>
    (await run(['analyze', join(root, 'takes/may'), '--json'])).out.replaceAll(/"sizeBytes": ?\d+/g, '');
  const plain = await measured();
  put(root, {
    'machine.jsonc': crlf(machineText),
    'pattern.csv': crlf(patternText),
    'takes/may/hits.csv': crlf(read('takes/may/hits.csv')),
  });
  rmSync(join(root, 'takes/may/report.json'));
  expect(await measured()).toBe(plain);
});

test('a terminal sees a bar that is taken away at the end; --quiet, NO_COLOR and a pipe are respected', (context) => {
  const path = join(root, 'takes/may');
  const shown = runOnTerminal(['analyze', path, '--json']);
  if (shown === null) return context.skip('there is no script (util-linux), or no pseudo-terminal for it');
  expect(shown).toMatch(/[━─]{30}/);
  const afterBar = shown.slice(shown.lastIndexOf('\r\x1b[K') + 4);
  expect(afterBar).toMatch(/^\{/);
  expect(runOnTerminal(['analyze', path, '--json'], { NO_COLOR: '1' })).not.toMatch(/\x1b\[\d+m/);
  expect(runOnTerminal(['analyze', path, '--json', '--quiet'])).not.toContain('\x1b');
});

test('a person’s word in corrections.csv wins, and the report says so', async () => {
  const take = join(root, 'takes/may');
  await run(['analyze', take]);
  const used = () =>
    parseReport('report.json', read('takes/may/report.json')).hits.filter(({ state }) => state === 'used');
  const before = used();
  const drum = before.find(({ channel }) => channel === 'drum')!;
  put(root, {
    'takes/may/corrections.csv': `time,channel,action,note\n${drum.timeS},drum,drop,a dropped spanner\n`,
  });
  // Advice analyses what is newer than its report anew.
  await run(['advise', root]);
  expect(used().length).toBe(before.length - 1);
  expect(used().some(({ timeS }) => timeS === drum.timeS)).toBe(false);
  expect(read('takes/may/report.md')).toContain('left out by a person (1)');
  expect(read('takes/may/report.md')).toContain('1 hit was corrected by a person');
});
