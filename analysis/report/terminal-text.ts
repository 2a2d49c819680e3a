/** Text in a terminal: what a label may do to it (nothing), and how many columns it takes. */
import { oneLine } from './markdown-text.ts';

/** Tables fit this many columns. */
export const terminalColumns = 100;

/** Characters two columns wide: Unicode Standard Annex 11 (East Asian Width W and F, by blocks), and pictures. */
const wide =
  /^(?:[\u1100-\u115F\u2E80-\u303E\u3041-\uA4CF\uA960-\uA97C\uAC00-\uD7A3\uF900-\uFAFF\uFE30-\uFE6F\uFF01-\uFF60\uFFE0-\uFFE6\u{16FE0}-\u{18DFF}\u{1B000}-\u{1B2FF}\u{20000}-\u{3FFFD}]|\p{Emoji_Presentation}|\p{Extended_Pictographic}\uFE0F)/u;
const noWidth = /^[\p{Mn}\p{Me}\p{Cf}]+$/u;

const graphemes = new Intl.Segmenter('en', { granularity: 'grapheme' });

/** Characters as people see them, each with the columns it takes. */
function* seen(text: string): Generator<{ text: string; columns: number }> {
  for (const { segment } of graphemes.segment(text)) {
    yield { text: segment, columns: noWidth.test(segment) ? 0 : wide.test(segment) ? 2 : 1 };
  }
}

export function columnsWide(text: string): number {
  let columns = 0;
  for (const character of seen(text)) columns += character.columns;
  return columns;
}

/** A label as one line of exactly `columns` columns: padded, or cut with an ellipsis. */
export function fitColumns(label: string, columns: number, side: 'left' | 'right' = 'left'): string {
  let text = oneLine(label);
  let used = columnsWide(text);
  if (used > columns) {
    const kept: string[] = [];
    used = 1; // for the ellipsis
    for (const character of seen(text)) {
      if (used + character.columns > columns) break;
      kept.push(character.text);
      used += character.columns;
    }
    text = `${kept.join('')}…`;
  }
  const padding = ' '.repeat(Math.max(0, columns - used));
  return side === 'left' ? text + padding : padding + text;
}

/** A sentence in lines of at most `terminalColumns`, later ones indented; a word longer than a line is split. */
export function wrapped(sentence: string, indent = ''): string {
  const lines: string[] = [];
  let line = '';
  const room = terminalColumns - indent.length;
  const end = () => {
    if (line !== '') lines.push(line);
    line = '';
  };
  for (const word of oneLine(sentence).split(/\s+/)) {
    const joined = line === '' ? word : `${line} ${word}`;
    if (columnsWide(joined) <= room) {
      line = joined;
      continue;
    }
    end();
    for (const { text } of seen(word)) {
      if (columnsWide(line + text) > room) end();
      line += text;
    }
  }
  end();
  return lines.map((text, i) => (i === 0 ? text : indent + text)).join('\n');
}
