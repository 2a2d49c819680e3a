/** A file as it was in a commit: REV:path of a git repository. */
import { execFile } from 'node:child_process';
import { InputProblem } from '../../analysis/problem.ts';
import { largestTextBytes } from '../files/read.ts';
import { codeOf } from '../files/fault.ts';

/** Nothing that a repository's own configuration names is run, and nothing is fetched. */
const settings = ['-c', 'core.fsmonitor=false', '-c', 'core.hooksPath=/dev/null'];
const environment = {
  GIT_NO_LAZY_FETCH: '1',
  GIT_TERMINAL_PROMPT: '0',
  GIT_OPTIONAL_LOCKS: '0',
  LC_ALL: 'C',
};

/** true for "HEAD~3:takes/may/report.json"; false for a path, a Windows path with its drive letter too. */
export function isRevision(text: string): boolean {
  return /^[^:]*:[^:]/s.test(text) && !/^[A-Za-z]:[\\/]/.test(text);
}

/**
 * @param spec REV:path; the path is seen from the repository's top, or else from the current folder
 * @throws InputProblem where there is no git, no repository, no such commit or no such file in it
 */
export async function showAtRevision(spec: string, signal: AbortSignal): Promise<string> {
  const colon = spec.indexOf(':');
  const revision = spec.slice(0, colon);
  const path = spec.slice(colon + 1);
  const first = await show(spec, signal);
  if (first.done) return first.text;
  const second = path.startsWith('./') ? first : await show(`${revision}:./${path}`, signal);
  if (second.done) return second.text;
  throw problem(spec, first.complaint);
}

interface Shown {
  readonly done: boolean;
  readonly text: string;
  readonly complaint: string;
}

function show(object: string, signal: AbortSignal): Promise<Shown> {
  // The blob itself: no filter, text conversion or pager of the repository's has a part in it. After
  // --end-of-options, what starts with "-" is a revision and never an option.
  const args = ['--no-pager', ...settings, 'cat-file', 'blob', '--end-of-options', object];
  return new Promise((resolve, reject) => {
    execFile(
      'git',
      args,
      { encoding: 'utf8', maxBuffer: largestTextBytes, env: { ...process.env, ...environment }, signal },
      (error, stdout, stderr) => {
        if (error === null) resolve({ done: true, text: stdout, complaint: '' });
        else if (signal.aborted) reject(signal.reason as Error);
        else if (codeOf(error) === 'ENOENT') reject(noGit(object));
        else resolve({ done: false, text: '', complaint: stderr || error.message });
      },
    );
  });
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
  if (/does not exist|exists on disk, but not in|no such path|bad file/i.test(complaint))
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
