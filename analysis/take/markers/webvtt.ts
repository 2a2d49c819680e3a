/** WebVTT (W3C): each cue is a range whose text, with entities resolved and tags left out, is the label. */
import { WebVTTParser, type VttNode } from 'webvtt-parser';
import entities from 'webvtt-parser/html-entities.json';
import { InputProblem } from '../../input/problem.ts';
import {
  maxLabelLength,
  refuseTooMany,
  textOf,
  unreadable,
  wholeFile,
  type MarkerReader,
  type RawMarker,
} from './marker-reader.ts';

export const webVtt: MarkerReader = {
  what: 'WebVTT',
  recognises: (name, head) =>
    /\.vtt$/i.test(name) || /^(\xef\xbb\xbf)?WEBVTT/.test(String.fromCharCode(...head.subarray(0, 9))),
  async read(file) {
    const text = textOf(await wholeFile(file));
    if (!/^WEBVTT([ \t\r\n]|$)/.test(text)) {
      throw new InputProblem(file.name, 'line 1', 'WebVTT begins with "WEBVTT"', 'export the markers again');
    }
    const lines = text.split(/\r\n|\r|\n/);
    refuseTooMany(file.name, lines.filter((line) => line.includes('-->')).length);
    if (text.length > maxText) {
      throw new InputProblem(
        file.name,
        '',
        'the file is longer than 2 MiB',
        'export the markers of one take only',
      );
    }
    const { cues, errors } = parse(file.name, cheap(lines).join('\n'));
    const markers = cues.map(({ startTime, endTime, tree }, i): RawMarker => {
      const label = textIn(tree).replace(/\s+/g, ' ').trim();
      return { timeS: startTime, endS: endTime > startTime ? endTime : null, label, place: `cue ${i + 1}` };
    });
    // Of what the parser remarks on, only cues that it left out matter here: those whose times cannot be read.
    const lost = errors.filter(
      ({ line }) => lines[line - 1]?.includes('-->') && !timing.test(lines[line - 1]),
    );
    const notices = lost.map(({ line }) => unreadable(file.name, `line ${line}`, 'its times cannot be read'));
    return { markers, notices };
  },
};

const timing =
  /^[ \t]*(\d{2,}:)?[0-5]\d:[0-5]\d\.\d{3}[ \t]*-->[ \t]*(\d{2,}:)?[0-5]\d:[0-5]\d\.\d{3}([ \t].*)?$/;

/** Room for 50 000 cues of a name each; the parser, a careful one, takes two seconds for every MiB made to be slow. */
const maxText = 2 * 2 ** 20;

/**
 * Of a cue's text, with its tags and entities, no more becomes a label than this. The parser's time goes with the
 * square of what stands in one cue.
 */
const maxCueText = 2 * maxLabelLength;

/** The same lines, without what costs the parser much time and says nothing here: settings, long texts, no entities. */
function cheap(lines: readonly string[]): string[] {
  let room = Infinity;
  return lines.map((line) => {
    if (line.includes('-->')) {
      room = maxCueText;
      return line.replace(/^([ \t]*[\d:.]+[ \t]*-->[ \t]*[\d:.]+)[ \t].*$/, '$1');
    }
    if (line === '') room = Infinity;
    // Where all of a cue's room is taken, a space keeps the line: an empty one ends the cue.
    const kept = line === '' ? '' : line.slice(0, room) || ' ';
    room -= Math.min(room, line.length);
    return kept.replace(/&(?!#)[a-z0-9]*;?/gi, (name) =>
      Object.hasOwn(entities, name) ? name : `&amp;${name.slice(1)}`,
    );
  });
}

function parse(file: string, text: string) {
  try {
    return new WebVTTParser(entities).parse(text, 'metadata');
  } catch (error) {
    // Tags nested by the thousand overflow the parser's stack.
    if (!(error instanceof RangeError)) throw error;
    throw new InputProblem(file, '', 'its tags are nested too deeply', 'export the markers again');
  }
}

function textIn(node: VttNode | null): string {
  if (node?.type === 'text') return String(node.value);
  return (node?.children ?? []).map(textIn).join('');
}
