import fc from 'fast-check';
import { expect, test } from 'vitest';
import { writeWav } from '../../../samples/wav.ts';
import { lineAbout, ramp, secondOfAudio, takeOf } from '../files.ts';

const read = async (text: string | Uint8Array, name = 'm.csv') => {
  const take = await takeOf({ 'a.wav': secondOfAudio, [name]: text });
  return {
    markers: take.markers.map(({ timeS, endS, label }) => [timeS, endS, label]),
    notices: take.notices.map(({ kind, place }) => `${kind} ${place}`),
  };
};

const utf16 = (text: string, littleEndian: boolean) => {
  const bytes = new Uint8Array(2 * text.length);
  const view = new DataView(bytes.buffer);
  [...text].forEach((c, i) => view.setUint16(2 * i, c.charCodeAt(0), littleEndian));
  return bytes;
};

const instants = [
  [0.125, null, 'bell'],
  [0.75, null, 'drum'],
];
const ranges = [
  [0.125, 0.25, 'bell'],
  [0.75, 0.875, 'drum'],
];

test.each([
  ['comma and header', 'time,label\n0.125,bell\n0.75,drum\n', instants],
  ['other order, more columns', '#,Name,Start\nM1,bell,0.125\nM2,drum,0.75\n', instants],
  ['tab without header', '0.125\tbell\n0.75\tdrum\n', instants],
  ['start, end, label without header', '0.125\t0.25\tbell\n0.75\t0.875\tdrum\n', ranges],
  ['start and end alike are an instant', '0.125\t0.125\tbell\n0.75\t0.75\tdrum\n', instants],
  ['label first, without header', 'bell,0.125\ndrum,0.75\n', instants],
  ['semicolon and decimal comma', 'Time;Label\n0,125;bell\n0,75;drum\n', instants],
  ['semicolon and decimal comma without header', '0,125;0,25;bell\n0,75;0,875;drum\n', ranges],
  ['byte order mark and CRLF', '\uFEFFtime,label\r\n0.125,bell\r\n0.75,drum\r\n', instants],
  ['CR alone', 'time,label\r0.125,bell\r0.75,drum', instants],
  ['h:m:s and m:s', 'Start time,Title\n0:00:00.125,bell\n00:00.75,drum\n', instants],
  ['h:m:s with comma', 'Start\tName\n00:00:00,125\tbell\n00:00:00,750\tdrum\n', instants],
  ['samples by header', 'sample,label\n125,bell\n750,drum\n', instants],
  ['start and end in samples', 'Start (samples),End (samples),Name\n125,250,bell\n750,875,drum\n', ranges],
  ['whole numbers far beyond the end are samples', '125,bell\n750,drum\n', instants],
  ['milliseconds by header', 'start_ms,end_ms,text\n125,250,bell\n750,875,drum\n', ranges],
  ['units in the cells', 'time,label\n125 ms,bell\n0.75 s,drum\n', instants],
  ['a length instead of an end', 'Label,Start,Duration\nbell,0.125,0.125\ndrum,0.75,0.125\n', ranges],
  ['an end here and there', 'start,end,label\n0.125,,bell\n0.75,0.75,drum\n', instants],
  ['spaces', '0.125 bell\n0.75 drum\n', instants],
  ['bars', 'time | label\n0.125 | bell\n0.75 | drum\n', instants],
  ['named delimiter', 'sep=;\ntime;label\n0,125;bell\n0,75;drum\n', instants],
  ['remarks and blank lines', '# by hand\n\ntime,label\n0.125,bell\n\n# later\n0.75,drum\n', instants],
  ['quotes', '"time","label"\n"0.125","bell"\n"0.75","drum"\n', instants],
  ['not in the order of time', 'time,label\n0.75,drum\n0.125,bell\n', instants],
])('%s', async (_, text, expected) => {
  expect(await read(text)).toEqual({ markers: expected, notices: [] });
});

test.each([true, false])('UTF-16 with its mark, little-endian %s', async (littleEndian) => {
  expect((await read(utf16('\uFEFFtime\tlabel\n0.5\tglöckchen', littleEndian))).markers).toEqual([
    [0.5, null, 'glöckchen'],
  ]);
});

test('bytes that are not UTF-8 are Western European', async () => {
  const bytes = Uint8Array.from([...new TextEncoder().encode('time,label\n0.5,gl'), 0xf6, 0x63, 0x6b]);
  expect((await read(bytes)).markers).toEqual([[0.5, null, 'glöck']]);
});

test('times alone in a file named for a channel are that channel’s hits', async () => {
  const take = await takeOf({ 'Bell.txt': '0.125\n0.75\n' });
  expect(take.markers.map(({ timeS, meaning }) => [timeS, meaning])).toEqual([
    [0.125, { kind: 'hit', channel: 1 }],
    [0.75, { kind: 'hit', channel: 1 }],
  ]);
});

test('samples count in the rate of the audio of the same name', async () => {
  const take = await takeOf({
    'a.wav': secondOfAudio,
    'b.wav': writeWav(8000, [ramp(8000)]),
    'b.csv': 'sample,label\n4000,bell\n',
  });
  expect(take.markers[0].timeS).toBe(0.5);
});

test('a quoted label keeps its delimiter, quotes and line; HTML in it is only text', async () => {
  const html = '<img src=x onerror=alert(1)>';
  const text = `time,label\n0.1,"a, ""b"""\n0.2,"two\nlines"\n0.3,${html}\nx,bad\n`;
  const { markers, notices } = await read(text);
  expect(markers.map(([, , label]) => label)).toEqual(['a, "b"', 'two\nlines', html]);
  expect(notices).toEqual(['unreadable-marker line 6']);
});

test('single bad rows are named, the others used', async () => {
  const take = await takeOf({
    'm.csv': 'start,end,label\n0.1,,bell\nsoon,,drum\n0.3,0.2,drum\n0:61,,drum\n',
  });
  expect(take.markers.length).toBe(1);
  expect(take.notices.map(({ message }) => message)).toEqual([
    'm.csv: line 3: the marker was left out: "soon" is no time',
    'm.csv: line 4: the marker was left out: its end is no time, or lies before its start',
    'm.csv: line 5: the marker was left out: "0:61" is no time',
  ]);
});

test('a marker past the end, or before the start, is left out with one notice', async () => {
  const take = await takeOf({
    'a.wav': secondOfAudio,
    'm.csv': 'time,label\n0.5,bell\n1.5,drum\n-0.25,drum\n1,clap\n',
  });
  expect(take.markers.map(({ timeS }) => timeS)).toEqual([0.5, 1]);
  expect(take.notices).toEqual([
    {
      kind: 'marker-outside',
      file: 'm.csv',
      place: 'line 3',
      message:
        'm.csv: line 3: the marker at 1.500 s lies outside of a recording of 1.000 s, and so do 1 more of 4; left out',
    },
  ]);
});

test('a table that cannot be read is one line with file and line', async () => {
  const about = (text: string, name = 'm.csv') => lineAbout({ [name]: text });
  expect(await about('')).toBe('m.csv: the file is empty; export the markers again, or remove the file');
  expect(await about('\uFEFF\r\n\r\n')).toMatch(/^m\.csv: the file is empty; /);
  expect(await about('name,colour\nbell,red\n')).toBe(
    'm.csv: line 1: no column of times is found; write "time,label" as the first line',
  );
  expect(await about('time,label\nsoon,bell\nlater,drum\n')).toBe(
    'm.csv: line 2: no line has a time: "soon" is none; write seconds, h:m:s, or samples under a header "sample"',
  );
  expect(await about('sample,label\n500,bell\n')).toMatch(
    /^m\.csv: line 1: the times are in samples, and no audio says how many make a second; /,
  );
  expect(await about('time,label\n')).toMatch(
    /^take-1: there is no audio, and the marker files hold no markers; /,
  );
});

test('prose in a .txt beside a recording is no marker file, and a notice says so', async () => {
  expect(await read('Oiled the release, then\nrecorded twice.\n', 'diary.txt')).toEqual({
    markers: [],
    notices: ['unused-file '],
  });
});

test('what is written in any of the forms comes back', async () => {
  const quote = (text: string) => `"${text.replaceAll('"', '""')}"`;
  const form = fc.record({
    mark: fc.constantFrom(',', ';', '\t', '|'),
    comma: fc.boolean(),
    header: fc.boolean(),
    end: fc.boolean(),
    newline: fc.constantFrom('\n', '\r\n'),
    bom: fc.boolean(),
  });
  // Whole milliseconds, exactly as text has them; labels with a letter, since bare numbers would be times.
  const row = fc.record({
    ms: fc.integer({ min: 0, max: 900 }),
    lengthMs: fc.integer({ min: 1, max: 99 }),
    label: fc
      .string({ unit: 'grapheme', maxLength: 12 })
      .map((text) => `x${text.replace(/[\p{C}\s]/gu, '')}y`),
  });
  await fc.assert(
    fc.asyncProperty(
      form,
      fc.uniqueArray(row, { minLength: 1, maxLength: 8, selector: ({ ms }) => ms }),
      async (form, rows) => {
        const { mark, header, end, newline, bom } = form;
        const seconds = (ms: number) =>
          form.comma && mark !== ',' ? (ms / 1000).toFixed(3).replace('.', ',') : (ms / 1000).toFixed(3);
        const lines = rows.map(({ ms, lengthMs, label }) =>
          [seconds(ms), ...(end ? [seconds(ms + lengthMs)] : []), quote(label)].join(mark),
        );
        const head = header ? [['start', ...(end ? ['end'] : []), 'label'].join(mark)] : [];
        const { markers, notices } = await read((bom ? '\uFEFF' : '') + [...head, ...lines].join(newline));
        expect(notices).toEqual([]);
        const expected = rows
          .map(({ ms, lengthMs, label }) => [ms / 1000, end ? (ms + lengthMs) / 1000 : null, label])
          .sort((a, b) => Number(a[0]) - Number(b[0]));
        expect(markers).toEqual(expected);
      },
    ),
    { numRuns: 300, seed: 20_240_607 },
  );
});
