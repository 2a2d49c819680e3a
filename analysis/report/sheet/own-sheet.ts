/** Whose a work sheet is: ours as long as it ends in the digest of what we wrote. */
import { digest } from '../entry.ts';

export const sheetFile = 'work-sheet.html';

/** A file that was cut or changed anywhere does not end so any more. */
const mark = (text: string) => `<!-- shimwright work sheet ${digest(text)} -->\n`;

/** The text with its mark at the end. */
export function marked(text: string): string {
  return text + mark(text);
}

/** Whether a file is a sheet as we wrote it; one that a person has changed since is theirs. */
export function isOwnSheet(text: string): boolean {
  const end = text.lastIndexOf('<!-- shimwright work sheet ');
  return end >= 0 && text.slice(end) === mark(text.slice(0, end));
}
