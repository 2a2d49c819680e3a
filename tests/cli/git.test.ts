/** git asked for a file of a commit: which git, and what is said where it does not have it. */
import { execFileSync } from 'node:child_process';
import { chmodSync, mkdirSync, mkdtempSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { gitIn, showAtRevision } from '../../extension/files/git.ts';
import { describeWithGit } from './with-git.ts';

describeWithGit('a file of a commit', () => {
  let folder: string;
  beforeEach(() => {
    folder = realpathSync(mkdtempSync(join(tmpdir(), 'shimwright-git-')));
  });
  afterEach(() => rmSync(folder, { recursive: true, force: true }));

  const git = (...args: string[]) =>
    execFileSync('git', ['-c', 'user.name=t', '-c', 'user.email=t@example.invalid', ...args], {
      cwd: folder,
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'ignore'],
    }).trim();

  function commit(): void {
    git('init', '-q', '-b', 'main');
    mkdirSync(join(folder, 'takes'));
    writeFileSync(join(folder, 'takes/report.json'), '{"a":1}');
    git('add', '.');
    git('commit', '-qm', 'one');
  }

  test('a git in the current folder is never taken, nor one by a path that is not whole', () => {
    const own = join(folder, 'git');
    writeFileSync(own, '#!/bin/sh\ntouch was-run\n');
    chmodSync(own, 0o755);
    const real = gitIn(process.env.PATH ?? '')!;
    const cwd = process.cwd();
    try {
      process.chdir(folder);
      expect(gitIn(`.::./bin:${dirname(real)}`)).toBe(real);
      expect(gitIn('.')).toBeNull();
      expect(gitIn('')).toBeNull();
    } finally {
      process.chdir(cwd);
    }
    expect(gitIn(`${folder}:${dirname(real)}`)).toBe(own);
    // A folder of that name is none, nor a file that is not to be run.
    mkdirSync(join(folder, 'a', 'git'), { recursive: true });
    mkdirSync(join(folder, 'b'));
    writeFileSync(join(folder, 'b', 'git'), '');
    expect(gitIn(`${join(folder, 'a')}:${join(folder, 'b')}`)).toBeNull();
  });

  test('a file is seen from the top and from the folder that is named', async () => {
    commit();
    expect(await showAtRevision('HEAD:takes/report.json', undefined, folder)).toBe('{"a":1}');
    expect(await showAtRevision('HEAD:./report.json', undefined, join(folder, 'takes'))).toBe('{"a":1}');
  });

  test('an object that is missing is not told as a file that the commit does not have', async () => {
    commit();
    const blob = git('rev-parse', 'HEAD:takes/report.json');
    rmSync(join(folder, '.git/objects', blob.slice(0, 2), blob.slice(2)));
    await expect(showAtRevision('HEAD:takes/report.json', undefined, folder)).rejects.toThrow(
      /the commit has that file, but its contents are not in this repository; fetch them/,
    );
    await expect(showAtRevision('HEAD:takes/other.json', undefined, folder)).rejects.toThrow(
      /that commit has no such file/,
    );
  });

  test('a clone that left contents out fetches nothing, though its origin is there', async () => {
    commit();
    git('config', 'uploadpack.allowFilter', 'true');
    const clone = join(folder, 'clone');
    git('clone', '-q', '--no-checkout', '--filter=blob:none', `file://${folder}`, clone);
    await expect(showAtRevision('HEAD:takes/report.json', undefined, clone)).rejects.toThrow(
      /its contents are not in this repository/,
    );
  });
});
