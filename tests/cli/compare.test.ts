import { execFileSync } from 'node:child_process';
import { existsSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { run } from './run.ts';
import { makeMachine, markers, tree } from './small-machine.ts';
import { describeWithGit } from './with-git.ts';

describeWithGit('reports, some of them in a repository', () => {
  /** A repository whose machine is in a folder of its own, with two takes; the first was analysed and committed. */
  let repository: string;
  let root: string;
  const git = (...args: string[]) =>
    execFileSync('git', ['-c', 'user.name=t', '-c', 'user.email=t@example.invalid', ...args], {
      cwd: repository,
    });

  beforeAll(async () => {
    repository = makeMachine({
      'takes/may/hits.csv': markers({ drum: 3 }),
      'takes/june/hits.csv': markers({ drum: 0.2 }, 2),
    });
    root = repository;
    git('init', '-q', '-b', 'main');
    await run(['analyze', join(root, 'takes/may')]);
    git('add', '.');
    git('commit', '-qm', 'as built');
    git('branch', '--', 'old');
    await run(['analyze', join(root, 'takes/june')]);
  });
  afterAll(() => rmSync(repository, { recursive: true, force: true }));

  test('two takes, two report files, and a commit’s report beside a file give the same comparison', async () => {
    const outs = [];
    for (const [before, after] of [
      ['takes/may', 'takes/june'],
      ['takes/may/report.json', 'takes/june/report.json'],
      ['HEAD:takes/may/report.json', 'takes/june'],
      ['old:takes/may', 'takes/june/'],
    ])
      outs.push(await run(['compare', before, after, '--json'], { cwd: root }));
    for (const { status, err } of outs) expect([status, err]).toEqual([0, '']);
    expect(new Set(outs.map(({ out }) => out)).size).toBe(1);
    const { groups } = JSON.parse(outs[0].out) as {
      groups: { channel: string; sector: string; moreThanChance: boolean | null }[];
    };
    const moved = groups.filter(({ moreThanChance }) => moreThanChance).map(({ channel }) => channel);
    expect(new Set(moved)).toEqual(new Set(['drum']));
  });

  test('a commit’s path is seen from the current folder too', async () => {
    const cwd = join(root, 'takes');
    expect((await run(['compare', 'HEAD:may', 'june'], { cwd })).status).toBe(0);
  });

  test('a table of at most 100 columns for people', async () => {
    const { out } = await run(['compare', 'takes/may', 'takes/june'], { cwd: root });
    expect(out).toContain('Low drum');
    expect(Math.max(...out.split('\n').map((line) => line.length))).toBeLessThanOrEqual(100);
  });

  const faults: readonly (readonly [what: string, args: string[], line: RegExp])[] = [
    ['one report', ['takes/may'], /two reports are compared, and 1 was named/],
    [
      'a take that was not analysed',
      ['takes', 'takes/may'],
      /takes: has no report\.json; run shimwright analyze/,
    ],
    ['no such file', ['takes/may/no.json', 'takes/may'], /no\.json: is not there/],
    ['no such commit', ['nowhere:takes/may', 'takes/june'], /git knows no such commit/],
    [
      'no such file in the commit',
      ['HEAD:takes/june', 'takes/may'],
      /HEAD:takes\/june\/report\.json: that commit has no such file/,
    ],
    ['no report', ['machine.jsonc', 'takes/may'], /^machine\.jsonc: /],
    [
      'an option as a revision',
      ['--', '--output=stolen:takes/may', 'takes/june'],
      /git knows no such commit/,
    ],
    [
      'an option as a revision, spelt short',
      ['--', '-O/tmp/x:takes/may', 'takes/june'],
      /git knows no such commit/,
    ],
    ['an option as a path', ['HEAD:--output=stolen', 'takes/june'], /that commit has no such file/],
    [
      'a newline in the path',
      ['HEAD:takes/may\n--output=stolen', 'takes/june'],
      /that commit has no such file|knows no such commit/,
    ],
    ['a command in the revision', ['$(touch stolen):takes/may', 'takes/june'], /git knows no such commit/],
    ['a range', ['old..main:takes/may', 'takes/june'], /git knows no such commit|no such file/],
  ];

  test.each(faults)('%s: exit 2, one line, nothing written, nothing run', async (_, args, line) => {
    const before = tree(root);
    const { status, out, err } = await run(['compare', ...args], { cwd: root });
    expect(err).toMatch(line);
    expect(err).toMatch(/^[^\n]+\n$/);
    expect([status, out]).toEqual([2, '']);
    expect(tree(root)).toEqual(before);
    expect(existsSync(join(root, 'stolen'))).toBe(false);
  });

  test('what a repository’s own configuration would have git run is not run', async () => {
    const stolen = join(root, 'stolen');
    git('config', 'core.fsmonitor', `touch ${stolen}; false`);
    git('config', 'core.pager', `touch ${stolen}; cat`);
    git('config', 'diff.steal.textconv', `touch ${stolen}; cat`);
    git('config', 'core.attributesFile', join(root, '.git/attributes-of-mine'));
    execFileSync('sh', [
      '-c',
      `echo '*.json diff=steal filter=steal' > '${join(root, '.git/info/attributes')}'`,
    ]);
    git('config', 'filter.steal.smudge', `touch ${stolen}; cat`);
    expect((await run(['compare', 'HEAD:takes/may', 'takes/june'], { cwd: root })).status).toBe(0);
    expect(existsSync(stolen)).toBe(false);
  });

  test('outside a repository, and without git, the line says so', async () => {
    const away = makeMachine();
    const outside = await run(['compare', 'HEAD:a', 'b'], { cwd: away });
    expect(outside).toMatchObject({
      status: 2,
      err: expect.stringMatching(/in no git repository/) as string,
    });
    const without = await run(['compare', 'HEAD:a', 'b'], { cwd: away, env: { PATH: away } });
    expect(without).toMatchObject({
      status: 2,
      err: expect.stringMatching(/git is not installed/) as string,
    });
    rmSync(away, { recursive: true, force: true });
  });
});
