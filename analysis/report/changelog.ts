/**
 * CALIBRATION.md: entries are added, newest first; nothing that stands in the file is ever changed or taken away. An
 * entry of ours is known by an invisible mark before its heading (entry.ts); all else belongs to the person. Texts
 * are the file decoded as UTF-8 with its byte-order mark, where it has one, kept in front.
 */
import type { Outcome } from '../results/results.ts';
import { idStartsOf, isWork } from './entry.ts';
import { fittedSettings, type FittedInLog } from './fitted-log.ts';
import { markdownText } from './markdown-text.ts';

const ourMark = /^<!-- shimwright entry (\S+ [0-9a-f]{16}) -->[ \t]*$/;

const newFile = `# Calibration log

What was measured and what was changed, newest first. Shimwright only ever adds to this page: write in it what you like.
`;

/**
 * The file's text with an entry added above the older ones, below the file's own heading and introduction. The same
 * text comes back where it would repeat the newest entry of its kind: of work, the newest of all (what was fitted, taken
 * out and fitted again is three entries); of a take, the newest of that take.
 *
 * @param existing the file's text, or null where there is none
 * @param entry    from renderEntry or renderApplied
 * @param again    the take is in the log already and was only analysed anew: the entry stands above its earlier one, since
 *                 nothing new was recorded or done; where there is none, at the top
 */
export function addEntry(existing: string | null, entry: string, again = false): string {
  if (existing === null || /^\uFEFF?$/.test(existing)) return `${existing ?? ''}${newFile}\n${entry}`;
  const { marks, landmarks, safeEnd } = survey(existing);
  const id = ourMark.exec(entry.split('\n', 1)[0])?.[1];
  const newest = id === undefined ? undefined : marks.find((mark) => isOfKind(mark.id, id));
  if (newest !== undefined && newest.id === id) return existing;
  const at = again ? newest?.at : undefined;
  return insert(existing, at ?? landmarks[0]?.at ?? safeEnd, entry);
}

function isOfKind(one: string, other: string): boolean {
  const [start, otherStart] = [one, other].map((id) => id.split(' ', 1)[0]);
  return start === otherStart || (isWork(one) && isWork(other));
}

/**
 * The file's text with a line of outcome at the end of an entry, below whatever a person wrote there. The same text
 * comes back where the line is there already, or the entry is not.
 *
 * @param entryId as entry.ts gave it
 * @param line    one sentence
 */
export function appendOutcome(existing: string, entryId: string, line: string): string {
  const { marks, landmarks, safeEnd } = survey(existing);
  const mark = marks.find(({ id }) => id === entryId);
  if (mark === undefined) return existing;
  // The entry's own heading follows its mark at once; the next landmark is another entry.
  const after = landmarks.filter(({ at }) => at > mark.at);
  const own = /^[^\r\n]*\s*$/.test(existing.slice(mark.at, after[0]?.at ?? mark.at)) ? 1 : 0;
  const end = after[after[0]?.kind === 'heading' ? own : 0]?.at ?? safeEnd;
  const outcome = `**Outcome:** ${markdownText(line)}`;
  const body = existing.slice(mark.at, end);
  if (body.split(/\r\n|\r|\n/).includes(outcome)) return existing;
  const trimmed = mark.at + body.trimEnd().length;
  const lineEnd = /^[^\r\n]*(\r\n|\r|\n)?/.exec(existing.slice(trimmed))?.[0].length ?? 0;
  return insert(existing, trimmed + lineEnd, `${outcome}\n`);
}

/**
 * The file's text with what became of an earlier round at the end of that round's entry: of the work that was noted
 * after the take that was acted on, or where none was noted, of that take.
 */
export function addOutcome(existing: string, { since, line }: Outcome): string {
  const starts = idStartsOf(since);
  const mark = survey(existing).marks.find(({ id }) => starts.includes(id.split(' ', 1)[0]));
  return mark === undefined ? existing : appendOutcome(existing, mark.id, line);
}

/**
 * What the log has as fitted last, by adjuster: newest entry of work first.
 *
 * @param ids adjusters of the machine
 */
export function fittedInLog(text: string, ids: readonly string[]): ReadonlyMap<string, FittedInLog> {
  const { marks, landmarks, safeEnd } = survey(text);
  const found = new Map<string, FittedInLog>();
  for (const { at, id } of marks.filter(({ id }) => isWork(id))) {
    const next = landmarks.find((other) => other.kind === 'mark' && other.at > at);
    const settings = fittedSettings(text.slice(at, next?.at ?? safeEnd), ids);
    for (const [adjuster, setting] of settings)
      if (!found.has(adjuster)) found.set(adjuster, { setting, entry: id });
  }
  return found;
}

/** Puts a block at the start of a line, with blank lines about it, in the file's own line ends. */
function insert(existing: string, at: number, block: string): string {
  const before = existing.slice(0, at);
  const after = existing.slice(at);
  const eol = lineEndOf(existing);
  // One kind of line end, or "\r\n" would look like two.
  const tail = before.slice(-100).replace(/\r\n?/g, '\n');
  const first = /^\uFEFF?$/.test(before);
  const gapBefore = first || /\n[ \t]*\n$/.test(tail) ? '' : tail.endsWith('\n') ? eol : eol + eol;
  const gapAfter = after === '' || /^[ \t]*[\r\n]/.test(after) ? '' : eol;
  return before + gapBefore + block.replaceAll('\n', eol) + gapAfter + after;
}

function lineEndOf(text: string): string {
  const crlf = text.match(/\r\n/g)?.length ?? 0;
  const lf = (text.match(/\n/g)?.length ?? 0) - crlf;
  return crlf > lf ? '\r\n' : '\n';
}

/** A block between two lines of hyphens at the very start, which is data and not text. */
const frontMatter = /^\uFEFF?---[ \t]*(?:\r\n|\r|\n)(?:[^]*?(?:\r\n|\r|\n))?(?:---|\.\.\.)[ \t]*(?:[\r\n]|$)/;

interface Landmark {
  /** Offset of the line's first character. */
  readonly at: number;
  readonly kind: 'mark' | 'heading';
}

interface Survey {
  readonly marks: readonly { readonly at: number; readonly id: string }[];
  /** Where entries start, in order: our marks, and headings below the file's own title. */
  readonly landmarks: readonly Landmark[];
  /** The end of the text, or the start of a code fence or comment that is never closed. */
  readonly safeEnd: number;
}

/** Reads the page's structure as CommonMark has it: headings inside front matter, code fences and comments are none. */
function survey(text: string): Survey {
  const marks: { at: number; id: string }[] = [];
  const landmarks: Landmark[] = [];
  const start = text.startsWith('\uFEFF') ? 1 : 0;
  let titleSeen = false;
  let open: { at: number; closes: (line: string) => boolean } | null = null;
  let paragraphAt: number | null = null;

  for (const { line, at } of linesOf(text)) {
    if (open !== null) {
      if (open.closes(line)) open = null;
      continue;
    }
    const id = ourMark.exec(line)?.[1];
    const fence = /^ {0,3}(`{3,}|~{3,})/.exec(line)?.[1];
    const level = /^ {0,3}(#{1,6})([ \t]|$)/.exec(line)?.[1].length ?? 0;
    const underlined: boolean = paragraphAt !== null && /^ {0,3}(-+|=+)[ \t]*$/.test(line);
    if (id !== undefined) {
      marks.push({ at, id });
      landmarks.push({ at, kind: 'mark' });
    } else if (at === start && frontMatter.test(text)) {
      open = { at, closes: (later) => /^(---|\.\.\.)[ \t]*$/.test(later) };
    } else if (fence !== undefined) {
      const closing = new RegExp(`^ {0,3}\\${fence[0]}{${fence.length},}[ \\t]*$`);
      open = { at, closes: (later) => closing.test(later) };
    } else if (/^ {0,3}<!--/.test(line)) {
      if (!line.includes('-->')) open = { at, closes: (later) => later.includes('-->') };
    } else if (underlined) {
      heading(paragraphAt!, line.includes('=') ? 1 : 2);
    } else if (level > 0) {
      heading(at, level);
    }
    const prose: boolean =
      !underlined &&
      id === undefined &&
      fence === undefined &&
      level === 0 &&
      /^ {0,3}[^\s>|<*+-]/.test(line);
    paragraphAt = prose ? (paragraphAt ?? at) : null;
  }
  return { marks, landmarks, safeEnd: open?.at ?? text.length };

  /** The first heading of level 1 is the file's own title; deeper than 2 belongs to what stands above it. */
  function heading(at: number, level: number): void {
    if (level === 1 && !titleSeen && landmarks.length === 0) titleSeen = true;
    else if (level <= 2) landmarks.push({ at, kind: 'heading' });
  }
}

/** Lines without their ends, with the offset of each; a byte-order mark is not part of the first. */
function* linesOf(text: string): Generator<{ line: string; at: number }> {
  let at = text.startsWith('\uFEFF') ? 1 : 0;
  for (const match of text.slice(at).matchAll(/[^\r\n]*(\r\n|\r|\n|$)/g)) {
    if (match[0] === '') return;
    yield { line: match[0].slice(0, match[0].length - match[1].length), at };
    at += match[0].length;
  }
}
