/** Markers as programs and people in several languages export them: which column is believed, and what is doubted. */
import { expect, test } from 'vitest';
import { writeWav } from '../../../samples/wav.ts';
import { lineAbout, ramp, secondOfAudio, takeOf } from '../files.ts';

const briefly = async (text: string | Uint8Array, name = 'm.csv', audio = true) => {
  const take = await takeOf({ ...(audio ? { 'a.wav': secondOfAudio } : {}), [name]: text });
  return {
    markers: take.markers.map(({ timeS, endS, label }) => [timeS, endS, label]),
    notices: take.notices.map(({ kind, place }) => `${kind} ${place}`),
    files: take.markerFiles,
  };
};

const bellAndDrum = [
  [0.4, null, 'bell'],
  [0.9, null, 'drum'],
];
const ranges = [
  [0.4, 0.5, 'bell'],
  [0.9, 0.95, 'drum'],
];

test.each([
  [
    'German header',
    'Nr.;Name;Anfang;Ende\n1;bell;0,4;0,5\n2;drum;0,9;0,95\n',
    ranges,
    { time: 'Anfang', end: 'Ende', label: 'Name' },
  ],
  [
    'French header',
    'N°;Nom;Début;Fin\n1;bell;0,4;0,5\n2;drum;0,9;0,95\n',
    ranges,
    { time: 'Début', end: 'Fin', label: 'Nom' },
  ],
  [
    'no header, rows counted',
    '1,bell,0.4\n2,drum,0.9\n',
    bellAndDrum,
    { time: 'column 3', label: 'column 2' },
  ],
  ['no header, one row', '1,drum,0.4\n', [[0.4, null, 'drum']], { time: 'column 3' }],
  [
    'no header, rows counted, start and end',
    '1,0.4,0.5,bell\n2,0.9,0.95,drum\n',
    ranges,
    { time: 'column 2', end: 'column 3' },
  ],
  ['no header, levels beside the times', '0.4,bell,0.7\n0.9,drum,0.2\n', bellAndDrum, { time: 'column 1' }],
  ['milliseconds', 'Zeit (ms);Name\n400;bell\n900;drum\n', bellAndDrum, { time: 'Zeit (ms)', unit: 'ms' }],
  [
    'milliseconds under a word nobody knows',
    'Czas (ms);Nazwa\n400;bell\n900;drum\n',
    bellAndDrum,
    { time: 'Czas (ms)', unit: 'ms' },
  ],
  [
    'a header whose time column counts',
    'position;label;zeitwert\n1;bell;0,4\n2;drum;0,9\n',
    bellAndDrum,
    { time: 'zeitwert' },
  ],
  [
    'a quoted label of several lines',
    'time,label\n0.4,"bell\nwith a long\nremark; and, marks"\n0.9,drum\n',
    [
      [0.4, null, 'bell\nwith a long\nremark; and, marks'],
      [0.9, null, 'drum'],
    ],
    { time: 'time' },
  ],
])('%s', async (_, text, markers, reading) => {
  const read = await briefly(text);
  expect([read.markers, read.notices]).toEqual([markers, []]);
  expect(read.files).toMatchObject([{ file: 'm.csv', format: 'delimited text', ...reading }]);
});

test('digits in threes under "sample" are whole samples', async () => {
  const audio = writeWav(48_000, [ramp(48_000)]);
  const take = await takeOf({ 'a.wav': audio, 'm.csv': 'sample,label\n"19,201",bell\n"38,400",drum\n' });
  expect(take.markers.map(({ timeS }) => timeS)).toEqual([19_201 / 48_000, 0.8]);
  expect(take.markerFiles).toMatchObject([{ time: 'sample', unit: 'samples' }]);
});

test('two columns that both rise like times are refused by name', async () => {
  expect(await lineAbout({ 'm.csv': '0.4,bell,1.2\n0.9,drum,3.4\n1.3,bell,5.1\n' })).toBe(
    'm.csv: line 1: columns 1 and 3 both rise like times, and no header says which holds them; write the columns’ names as the first line, "time" above the times',
  );
  // Beside a recording of a second only one of them can be meant.
  expect((await briefly('0.4,bell,1.2\n0.6,drum,3.4\n0.9,bell,5.1\n')).files).toMatchObject([
    { time: 'column 1' },
  ]);
});

test('without audio one marker far beyond all others is left out, and said', async () => {
  const rows = Array.from({ length: 24 }, (_, i) => `${i / 2},${i % 2 ? 'bell' : 'clap'}`);
  const { markers, notices } = await briefly(
    ['time,label', ...rows, '99999,bell'].join('\n'),
    'm.csv',
    false,
  );
  expect(markers).toHaveLength(24);
  expect(notices).toEqual(['marker-outside line 26']);
});

test('exact repeats, in one file or in two, count once', async () => {
  const rows = 'time,label\n0.4,bell\n0.4,bell\n0.9,drum\n';
  const { markers, notices } = await briefly(rows);
  expect([markers, notices]).toEqual([bellAndDrum, ['repeated-marker line 3']]);
  const two = await takeOf({
    'a.wav': secondOfAudio,
    'm.csv': 'time,label\n0.4,bell\n0.9,drum\n',
    'n.vtt': 'WEBVTT\n\n00:00.400 --> 00:00.400\nbell\n\n00:00.900 --> 00:00.900\ndrum\n',
  });
  expect(two.markers).toHaveLength(2);
  expect(two.notices.map(({ kind }) => kind)).toEqual(['repeated-marker']);
});

test.each([true, false])('UTF-16 without its mark, little-endian %s', async (littleEndian) => {
  const text = 'time,label\n0.4,bell\n0.9,drum\n';
  const bytes = Uint8Array.from(
    [...text].flatMap((c) => (littleEndian ? [c.charCodeAt(0), 0] : [0, c.charCodeAt(0)])),
  );
  expect((await briefly(bytes)).markers).toEqual(bellAndDrum);
});

test('SubRip subtitles', async () => {
  const text =
    '1\r\n00:00:00,400 --> 00:00:00,500\r\n<i>bell</i>\r\n\r\n2\r\n00:00:00,900 --> 00:00:00,950\r\ndrum\r\n';
  const read = await briefly(text, 'm.srt');
  expect([read.markers, read.files?.[0].format]).toEqual([ranges, 'SubRip subtitles']);
  expect((await briefly('1\n00:00:xx --> 00:00:01\nbell\n', 'm.srt')).notices[0]).toBe(
    'unreadable-marker line 2',
  );
});

test.each([
  [
    'FFmpeg metadata',
    'm.txt',
    ';FFMETADATA1\nartist=x\n[CHAPTER]\nTIMEBASE=1/1000\nSTART=400\nEND=500\ntitle=bell\n\n[CHAPTER]\nTIMEBASE=1/1000\nSTART=900\nEND=950\ntitle=drum\n',
    ranges,
  ],
  [
    'Vorbis chapter comments',
    'm.txt',
    'CHAPTER001=00:00:00.400\nCHAPTER001NAME=bell\nCHAPTER002=00:00:00.900\nCHAPTER002NAME=drum\n',
    bellAndDrum,
  ],
  [
    'Matroska chapter XML',
    'm.xml',
    '<?xml version="1.0"?>\n<!-- x -->\n<Chapters><EditionEntry>\n<ChapterAtom><ChapterTimeStart>00:00:00.400000000</ChapterTimeStart><ChapterTimeEnd>00:00:00.500000000</ChapterTimeEnd><ChapterDisplay><ChapterString>bell</ChapterString></ChapterDisplay></ChapterAtom>\n<ChapterAtom><ChapterTimeStart>00:00:00.900000000</ChapterTimeStart><ChapterTimeEnd>00:00:00.950000000</ChapterTimeEnd><ChapterDisplay><ChapterString>drum</ChapterString></ChapterDisplay></ChapterAtom>\n</EditionEntry></Chapters>\n',
    ranges,
  ],
  [
    'one chapter a line, as MP4 tools list them',
    'm.txt',
    '00:00:00.400 bell\n00:00:00.900 drum\n',
    bellAndDrum,
  ],
])('chapters: %s', async (_, name, text, markers) => {
  const read = await briefly(text, name);
  expect([read.markers, read.notices]).toEqual([markers, []]);
});
