/**
 * SubRip text (.srt): a number, a line "00:00:01,000 --> 00:00:02,500", one or more lines of text, an empty line. There
 * is no standard; the form is as the Library of Congress describes it (Sustainability of Digital Formats, fdd000569, from memory).
 */
import {
  textOf,
  refuseTooMany,
  unreadable,
  wholeFile,
  type MarkerReader,
  type RawMarker,
} from './marker-reader.ts';
import { parseTime } from './times.ts';

const arrow = /^\s*([\d:.,]+)\s*-->\s*([\d:.,]+)/;

export const subRip: MarkerReader = {
  what: 'SubRip subtitles',
  recognises: (name) => /\.srt$/i.test(name),
  async read(file) {
    const lines = textOf(await wholeFile(file))
      .replace(/^\uFEFF/, '')
      .split(/\r\n|\r|\n/);
    const starts = lines.flatMap((line, i) => (line.includes('-->') ? [i] : []));
    refuseTooMany(file.name, starts.length);
    const markers: RawMarker[] = [];
    const notices = [];
    for (const at of starts) {
      const times = arrow.exec(lines[at]);
      const [from, to] = [parseTime(times?.[1] ?? ''), parseTime(times?.[2] ?? '')];
      if (from === null || to === null) {
        notices.push(unreadable(file.name, `line ${at + 1}`, 'its times cannot be read'));
        continue;
      }
      const text: string[] = [];
      for (let i = at + 1; i < lines.length && lines[i].trim() !== ''; i++) text.push(lines[i]);
      const label = text
        .join(' ')
        .replace(/<[^<>]*>|\{\\[^{}]*\}/g, '')
        .replace(/\s+/g, ' ')
        .trim();
      markers.push({
        timeS: from.value,
        endS: to.value > from.value ? to.value : null,
        label,
        place: `line ${at + 1}`,
      });
    }
    return { markers, notices };
  },
};
