/** A file as it was in a commit: REV:path of a git repository. The terminal and the editor's comparison both ask here. */
import { execFile } from 'node:child_process';
import { accessSync, constants, statSync } from 'node:fs';
import { delimiter, isAbsolute, join } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import { largestTextBytes } from './read.ts';
import { codeOf } from './fault.ts';

/** Nothing that a repository's own configuration names is run, and nothing is fetched. */
const settings = ['-c', 'core.fsmonitor=false', '-c', 'core.hooksPath=/dev/null'];
const environment = {
  GIT_NO_LAZY_FETCH: '1',
  // Older versions do not know the line above; this one keeps any of them from every way of fetching.
  GIT_ALLOW_PROTOCOL: 'none',
  GIT_TERMINAL_PROMPT: '0',
  GIT_OPTIONAL_LOCKS: '0',
  LC_ALL: 'C',
};

/** true for "HEAD~3:takes/may/report.json"; false for a path, a Windows path with its drive letter too. */
export function isRevision(text: string): boolean {
  return /^[^:]*:[^:]/s.test(text) && !/^[A-Za-z]:[\\/]/.test(text);
}

/**
 * @param spec   REV:path; the path is seen from the repository's top, or else from `folder`
 * @param folder within the repository; absent: the current one
 * @throws InputProblem where there is no git, no repository, no such commit or no such file in it
 */
export async function showAtRevision(spec: string, signal?: AbortSignal, folder?: string): Promise<string> {
  const colon = spec.indexOf(':');
  const revision = spec.slice(0, colon);
  const path = spec.slice(colon + 1);
  const first = await show(spec, signal, folder);
  if (first.done) return first.text;
  const second = path.startsWith('./') ? first : await show(`${revision}:./${path}`, signal, folder);
  if (second.done) return second.text;
  throw problem(spec, first.complaint);
}

interface Shown {
  readonly done: boolean;
  readonly text: string;
  readonly complaint: string;
}

function show(object: string, signal?: AbortSignal, folder?: string): Promise<Shown> {
  const git = gitIn(process.env.PATH ?? '');
  if (git === null) return Promise.reject(noGit(object));
  // The blob itself: no filter, text conversion or pager of the repository's has a part in it. After
  // --end-of-options, what starts with "-" is a revision and never an option.
  const args = ['--no-pager', ...settings, 'cat-file', 'blob', '--end-of-options', object];
  return new Promise((resolve, reject) => {
    execFile(
      git,
      args,
      {
        encoding: 'utf8',
        maxBuffer: largestTextBytes,
        env: { ...process.env, ...environment },
        signal,
        cwd: folder,
        windowsHide: true,
      },
      (error, stdout, stderr) => {
        if (error === null) resolve({ done: true, text: stdout, complaint: '' });
        else if (signal?.aborted) reject(signal.reason as Error);
        else if (codeOf(error) === 'ENOENT') reject(noGit(object));
        else resolve({ done: false, text: '', complaint: stderr || error.message });
      },
    );
  });
}

/**
 * Where git is. Windows, and a PATH with "." in it, would take one that lies in the current folder, which may be a
 * stranger's: only folders by their whole path are looked in.
 *
 * @param path the variable PATH
 * @returns null where there is none
 */
export function gitIn(path: string): string | null {
  const name = process.platform === 'win32' ? 'git.exe' : 'git';
  for (const folder of path.split(delimiter).map((each) => each.replace(/^"|"$/g, ''))) {
    if (!isAbsolute(folder)) continue;
    const file = join(folder, name);
    try {
      accessSync(file, constants.X_OK);
      if (statSync(file).isFile()) return file;
    } catch {
      // Not in this one.
    }
  }
  return null;
}

const noGit = (spec: string) =>
  new InputProblem(spec, '', 'git is not installed', 'install git, or name two report files');

function problem(spec: string, complaint: string): InputProblem {
  if (/not a git repository/i.test(complaint))
    return new InputProblem(
      spec,
      '',
      'is not there, and this folder is in no git repository',
      'check the path, or run the command inside the repository',
    );
  if (/dubious ownership/i.test(complaint))
    return new InputProblem(
      spec,
      '',
      'the repository belongs to someone else, and git will not read it',
      'see "safe.directory" in git’s manual',
    );
  // A clone that left large files out, or a damaged one. A path that is not in the commit is told otherwise.
  if (
    /lazy fetching disabled|promisor|bad file|unable to read|could not get object info|transport .* not allowed/i.test(
      complaint,
    )
  )
    return new InputProblem(
      spec,
      '',
      'the commit has that file, but its contents are not in this repository',
      'fetch them with git (nothing is fetched here), or use a clone that has its whole history',
    );
  if (/does not exist|exists on disk, but not in|no such path/i.test(complaint))
    return new InputProblem(
      spec,
      '',
      'that commit has no such file',
      'check the path, from the repository’s top',
    );
  return new InputProblem(
    spec,
    '',
    'git knows no such commit',
    'check the name before the colon with git log; a file’s name is given without one',
  );
}
