/** Whose a file is that we write again and again: ours as long as it ends in the digest of what we wrote. */
import { digest } from './entry.ts';

export interface OwnFile {
  /** Beside machine.jsonc. */
  readonly name: string;
  /** What a person calls it. */
  readonly what: string;
  /** What makes a comment of the last line in a file of its kind. */
  readonly comment: readonly [opens: string, closes: string];
}

export const sheetFile: OwnFile = {
  name: 'work-sheet.html',
  what: 'work sheet',
  comment: ['<!-- ', ' -->'],
};

export const testPatternFile: OwnFile = {
  name: 'test-pattern.csv',
  what: 'test pattern',
  comment: ['# ', ''],
};

export const draftFile: OwnFile = {
  name: 'pattern-draft.csv',
  what: 'drafted pattern',
  comment: ['# ', ''],
};

const begins = ({ what, comment }: OwnFile) => `${comment[0]}shimwright ${what} `;

/** A file that was cut or changed anywhere does not end so any more. */
const mark = (file: OwnFile, text: string) => `${begins(file)}${digest(text)}${file.comment[1]}\n`;

/** The text with its mark at the end. */
export function marked(file: OwnFile, text: string): string {
  return text + mark(file, text);
}

/** Whether a file is as we wrote it; one that a person has changed since is theirs. */
export function isOwn(file: OwnFile, text: string): boolean {
  const end = text.lastIndexOf(begins(file));
  return end >= 0 && text.slice(end) === mark(file, text.slice(0, end));
}
