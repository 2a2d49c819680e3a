/**
 * Files as Node sees them, for the terminal command and the editor on a desktop: reading in parts, finding a machine
 * above a take, and writing so that a crash, a full disk or a second program costs nobody anything.
 *
 * This file turns the operating system's refusals into lines that a person can act on.
 */
import { InputProblem } from '../../analysis/input/problem.ts';

const faults: Readonly<Record<string, readonly [what: string, mend: string]>> = {
  ENOENT: ['is not there', 'check the path'],
  EACCES: ['may not be %', 'change the permissions of the file and its folder'],
  EPERM: ['may not be %', 'change the permissions of the file and its folder'],
  EROFS: ['is on a read-only disk', 'copy the machine’s folder to a disk that can be written'],
  ENOSPC: [
    'could not be %: the disk is full',
    'free some space, then run the command again; nothing was lost',
  ],
  EDQUOT: [
    'could not be %: your share of the disk is full',
    'free some space, then run the command again; nothing was lost',
  ],
  EEXIST: ['is a file, where a folder belongs', 'choose another name'],
  EISDIR: ['is a folder, where a file belongs', 'check the path'],
  ENOTDIR: ['has a file in its path, where a folder belongs', 'check the path'],
  ELOOP: ['is a link that leads back to itself', 'remove the link'],
  ENAMETOOLONG: ['has too long a name', 'choose a shorter one'],
  EMFILE: ['could not be opened: too many files are open', 'close other programs and try again'],
  EIO: ['could not be %: the disk reports a fault', 'copy the folder to another disk at once'],
  EBUSY: ['is held by another program', 'close that program and try again'],
};

/** The code of an operating system's refusal ("ENOENT"), or '' where it is something else. */
export function codeOf(error: unknown): string {
  if (!(error instanceof Error) || !('code' in error)) return '';
  return typeof error.code === 'string' ? error.code : '';
}

/**
 * @param doing what was tried
 * @returns the refusal as an InputProblem about `path`; an error that is no refusal is returned as it is
 */
export function asProblem(error: unknown, path: string, doing: 'read' | 'written' | 'removed'): unknown {
  const fault = faults[codeOf(error)];
  return fault ? new InputProblem(path, '', fault[0].replace('%', doing), fault[1]) : error;
}
