/**
 * Chapters as programs write them out as text: FFmpeg's metadata file (its format documentation, "Metadata"), chapter
 * comments as Ogg Vorbis carries them (CHAPTER001=, CHAPTER001NAME=), and Matroska's chapter XML (matroska.org, "Chapters").
 */
import type { Notice } from '../take.ts';
import {
  refuseTooMany,
  textOf,
  unreadable,
  wholeFile,
  type MarkerReader,
  type RawMarker,
} from './marker-reader.ts';
import { parseTime } from './times.ts';

export interface ChapterMarkers {
  readonly markers: RawMarker[];
  readonly notices: Notice[];
}

export const chapters: MarkerReader = {
  what: 'chapters as text (FFmpeg metadata, Vorbis comments, Matroska XML)',
  recognises: (name) => /\.(txt|ffmeta|ffmetadata|chapters?|xml|meta)$/i.test(name),
  async read(file) {
    const text = textOf(await wholeFile(file))
      .replace(/^\uFEFF/, '')
      .replace(/\r\n?/g, '\n');
    const kind = kinds.find(({ begins }) => begins.test(text));
    if (kind === undefined) return null;
    const found = kind.read(file.name, text);
    refuseTooMany(file.name, found.markers.length);
    return found;
  },
};

const kinds: readonly { begins: RegExp; read: (file: string, text: string) => ChapterMarkers }[] = [
  { begins: /^;FFMETADATA/, read: ofMetadata },
  { begins: /^\s*CHAPTER\d{2,3}=/i, read: ofComments },
  { begins: /^\s*(<\?xml[^>]*>\s*)?(<!(?:--|DOCTYPE)[^>]*>\s*)*<Chapters>/, read: ofXml },
];

/** Sections "[CHAPTER]" of lines "key=value"; START and END count in TIMEBASE, nanoseconds where there is none. */
function ofMetadata(file: string, text: string): ChapterMarkers {
  const markers: RawMarker[] = [];
  const notices: Notice[] = [];
  let values: Map<string, string> | null = null;
  let begun = 0;
  const close = () => {
    if (values === null) return;
    const place = `line ${begun}`;
    const [over, under] = (values.get('timebase') ?? '1/1000000000').split('/').map(Number);
    const seconds = (key: string) => (Number(values?.get(key) ?? NaN) * over) / under;
    const [timeS, end] = [seconds('start'), seconds('end')];
    if (Number.isFinite(timeS)) {
      const label = (values.get('title') ?? '').replace(/\\(.)/g, '$1').trim();
      markers.push({ timeS, endS: end > timeS && Number.isFinite(end) ? end : null, label, place });
    } else notices.push(unreadable(file, place, 'its START or TIMEBASE is no number'));
  };
  text.split('\n').forEach((line, i) => {
    if (line.startsWith('[')) {
      close();
      values = /^\[CHAPTER\]/i.test(line) ? new Map() : null;
      begun = i + 1;
      return;
    }
    const equals = line.indexOf('=');
    if (equals > 0 && !/^[;#]/.test(line))
      values?.set(line.slice(0, equals).toLowerCase(), line.slice(equals + 1));
  });
  close();
  return { markers, notices };
}

/** "CHAPTER001=00:00:01.250" and "CHAPTER001NAME=drum", in any order; other comments are left alone. */
export function ofComments(file: string, text: string): ChapterMarkers {
  const names = new Map<string, string>();
  const times: { number: string; text: string; line: number }[] = [];
  text.split('\n').forEach((line, i) => {
    const found = /^\s*CHAPTER(\d{2,3})(NAME)?=(.*)$/i.exec(line);
    if (found === null) return;
    if (found[2]) names.set(found[1], found[3].trim());
    else times.push({ number: found[1], text: found[3], line: i + 1 });
  });
  return gathered(
    file,
    times.map(({ number, text: time, line }) => ({
      time,
      end: '',
      label: names.get(number) ?? '',
      place: `line ${line}`,
    })),
  );
}

/** Each ChapterAtom has ChapterTimeStart, mostly ChapterTimeEnd, and a ChapterString in its display. */
function ofXml(file: string, text: string): ChapterMarkers {
  const atoms = text.split('<ChapterAtom>').slice(1);
  const inside = (atom: string, tag: string) => {
    const from = atom.indexOf(`<${tag}>`);
    const to = from === -1 ? -1 : atom.indexOf(`</${tag}>`, from);
    return to === -1 ? '' : plain(atom.slice(from + tag.length + 2, to));
  };
  return gathered(
    file,
    atoms.map((atom, i) => ({
      time: inside(atom, 'ChapterTimeStart'),
      end: inside(atom, 'ChapterTimeEnd'),
      label: inside(atom, 'ChapterString'),
      place: `chapter ${i + 1}`,
    })),
  );
}

const entities: Readonly<Record<string, string>> = { amp: '&', lt: '<', gt: '>', quot: '"', apos: "'" };

function plain(text: string): string {
  return text.replace(/&(amp|lt|gt|quot|apos);/g, (_, name: string) => entities[name]).trim();
}

function gathered(
  file: string,
  all: readonly { time: string; end: string; label: string; place: string }[],
): ChapterMarkers {
  const markers: RawMarker[] = [];
  const notices: Notice[] = [];
  for (const { time, end, label, place } of all) {
    const from = parseTime(time);
    const to = parseTime(end);
    if (from === null) notices.push(unreadable(file, place, 'its start is no time'));
    else
      markers.push({
        timeS: from.value,
        endS: to !== null && to.value > from.value ? to.value : null,
        label,
        place,
      });
  }
  return { markers, notices };
}
