/** Every reader of a person's files, with whole files of its kind to spoil. */
import { asText } from '../../extension/common/utf8.ts';
import { gunzipSync } from 'node:zlib';
import { writeMidi, type MidiData } from 'midi-file';
import wavefile from 'wavefile';
import { readSavedVoice, savedVoiceText } from '../../analysis/hits/learn/saved-voice.ts';
import { applySettings, readMachine } from '../../analysis/machine/read.ts';
import { commentChapters } from '../../analysis/take/markers/comment-chapters.ts';
import { id3Chapters as id3Reader } from '../../analysis/take/markers/id3-chapters.ts';
import { mp4Chapters as mp4Reader } from '../../analysis/take/markers/mp4-chapters.ts';
import { renderEntry, entryTemplate } from '../../analysis/report/entry.ts';
import { renderReport, reportTemplate } from '../../analysis/report/markdown.ts';
import { parseReport } from '../../analysis/report/parse.ts';
import {
  addCorrection,
  readCorrections,
  takeBackCorrection,
} from '../../extension/common/corrections-file.ts';
import { writeWav } from '../../samples/wav.ts';
import { smallDescription } from '../machine/machine.ts';
import { exampleReport } from '../report/example.ts';
import { memoryFile, ramp, takeOf } from '../take/files.ts';
import { flacChapters, id3Chapters, mp4Chapters, oggChapters } from './chapter-files.ts';

export interface Reader {
  readonly name: string;
  /** Files that are read without a fault. */
  readonly whole: readonly Uint8Array[];
  /** @throws InputProblem where the bytes cannot be used */
  read(bytes: Uint8Array): Promise<unknown>;
}

const text = (...contents: string[]) => contents.map((content) => new TextEncoder().encode(content));
const audio = writeWav(8000, [ramp(800)]);

/** A take in which the file lies beside audio, every track of it read, past both ends too. */
async function inTake(name: string, bytes: Uint8Array): Promise<void> {
  const take = await takeOf({ 'x.wav': audio, [name]: bytes });
  for (const track of take.tracks) await track.read(-5, Math.min(track.length + 5, 2000));
  const bad = take.markers.find(
    ({ timeS, label }) => !(timeS >= 0 && timeS < Infinity) || label.length > 500,
  );
  if (bad) throw new Error(`a marker at ${bad.timeS} s, its label of ${bad.label.length} letters`);
}

const embeddedChapters = [commentChapters, mp4Reader, id3Reader];

const asTake = (name: string) => (bytes: Uint8Array) => inTake(name, bytes);

function wav(container: string): Uint8Array {
  const file = new wavefile.WaveFile();
  file.fromScratch(2, 8000, '24', [new Int32Array(200), new Int32Array(200)], { container });
  file.setCuePoint({ position: 10, end: 20, label: 'bell' });
  file.setCuePoint({ position: 30, label: 'drum' });
  return file.toBuffer();
}

/** FORM AIFF of 40 samples at 8 kHz with two markers (Audio Interchange File Format 1.3, 1989). */
const aiff = Uint8Array.from([
  ...ascii('FORM'), 0, 0, 0, 168, ...ascii('AIFF'),
  ...ascii('COMM'), 0, 0, 0, 18, 0, 1, 0, 0, 0, 40, 0, 16, 0x40, 0x0b, 0xfa, 0, 0, 0, 0, 0, 0, 0,
  ...ascii('MARK'), 0, 0, 0, 26, 0, 2, 0, 1, 0, 0, 0, 5, 4, ...ascii('bell'), 0, 0, 2, 0, 0, 0, 20, 4, ...ascii('drum'), 0,
  ...ascii('SSND'), 0, 0, 0, 88, 0, 0, 0, 0, 0, 0, 0, 0, ...Array.from({ length: 80 }, (_, i) => (i * 37) % 256),
]); // prettier-ignore

function ascii(word: string): number[] {
  return [...word].map((c) => c.charCodeAt(0));
}

/** 0.05 s of a sine with a cue sheet, written by flac 1.4 (xiph.org), packed with gzip. */
const flac = new Uint8Array(
  gunzipSync(
    Buffer.from(
      'H4sIAAAAAAACA0vzSXRmYGBQEmAQYGBg9AEixi8MH4DMCccC7gn/aZOtUHRM0pjqfPEcMwODEAMaYJzAysD4gGEUDBbABI8Z3GoYMdUwTviPx9AWBgYNBSBdlJqWWpSal5yqkJOZ5Obj6KxgqGeiZ6RgZGBkZAjEILX/f5RwMDD2q3gxMGhHB07L06ndVZezRY63XKBi36cGy4ZJ0zzXhdx6+zxExeMhO5+/bOqmVI/lvzwuufMIZGorrVZxCfe9pet8XkbnUMT9E/tCVr08dsagYKP7tCOXQ26K+d43UHx8jEMgW3yl2X3BmxHBbhICGh81Xi8NNIrdWu0joBMw0Smq/13M6Xe7d3s+Yum3uSwwW3eilu+8py5yJhGL7329HrN76f27GQuTWPt0nARf588unZ4Z2qVTcallwv3Qkt/r1leqbEw6LpG57q7Q0nil9U+PzbFIPDatvSr0U0r03QCHx66tNsvtP+lP1dpVuOkIp4TNZpEmlUi726vOnTIofHzO8PTX6Wd33a78NkOg4KDb2vxNvpfUfu9Q2OjcKxc8K1Tca1955ukeEwWPzVxBazbFrEp/Lm1x8NBRuajJoUHPQrV3nVzWI6bxecKk/1Yvy/7vVrBwBgA8+u8knAMAAA==',
      'base64',
    ),
  ),
);

function midi(tracks: MidiData['tracks']): Uint8Array {
  return Uint8Array.from(
    writeMidi({ header: { format: 1, numTracks: tracks.length, ticksPerBeat: 480 }, tracks }),
  );
}

const midiMarkers = midi([
  [
    { deltaTime: 0, type: 'setTempo', microsecondsPerBeat: 400_000 },
    { deltaTime: 20, type: 'marker', text: 'bell' },
    { deltaTime: 20, type: 'cuePoint', text: 'sector:A' },
    { deltaTime: 0, type: 'endOfTrack' },
  ],
]);

const note = (deltaTime: number, noteNumber: number) => ({
  deltaTime,
  type: 'noteOn' as const,
  channel: 9,
  noteNumber,
  velocity: 90,
});
const midiPattern = midi([[note(0, 36), note(480, 38), note(960, 36), { deltaTime: 0, type: 'endOfTrack' }]]);

const pattern = 'step,channel\r\n0,clap\r\n3,bell\n# a remark\n6,clap\n"7","drum"\n';
const midiMachine = JSON.stringify({
  ...smallDescription,
  pattern: 'p.mid',
  notes: { 36: 'clap', 38: 'bell' },
});

const machineText = `\uFEFF// by hand
{ "name": "Ferry steps barrel",
  "barrel": { "steps": 12, "stepsPerBeat": 2, "diameterMm": 100, "sectors": [ { "id": "A", "from": 2 }, { "id": "B", "from": 6 } ] },
  "reference": "clap", /* on its own shaft */
  "channels": [ { "id": "clap", "onBarrel": false }, { "id": "bell", "name": "Low bell", "toleranceMs": 3 }, { "id": "drum" } ],
  "adjusters": [
    { "id": "joint", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "sectors": ["B"] }, "installed": 3, "min": 0, "max": 8 },
    { "id": "drop", "unit": "mm", "perUnit": { "dropMm": 1, "dropHeightMm": 190 }, "shifts": { "channels": ["bell"] }, "installed": 0, "min": -9, "max": 9 }, ],
  "limits": [ { "adjusters": ["joint"], "sumMax": 9, "why": "closing gap" } ],
  "drive": { "beatsPerOutputTurn": 1, "stages": [ { "name": "belt", "ratio": 5 } ] } }
`;

const takeText = `{ "recorded": "2026-05-02T21:40", "tempo": 90, "startStep": 3,
  "tracks": [ { "file": "x.wav", "track": 0, "channels": ["bell", "drum"] } ],
  "labels": { "a": "drum", "12.34 s": "" }, "settings": { "joint": 2 }, "setpoint": 2700.5, "airCelsius": -3, "note": "wet" }`;

const voiceText = savedVoiceText({
  schema: 1,
  channel: 'bell',
  take: 'solo',
  sampleRate: 48_000,
  strikes: 12,
  onset: 4.25,
  spread: 0.1,
  peak: 0.4,
  samples: Array.from({ length: 40 }, (_, i) => Math.round(32767 * Math.sin(i / 3))),
});

const ownTemplate = `{{machine}} {{take}}
{{#each groups}}{{name}}: {{mean}}{{#if reference}} (reference){{else}} {{@index}}{{/if}}
{{#with (lookup ../tempo "bpm")}}{{this}}{{/with}}
{{/each}}{{#unless findings}}none{{/unless}}{{{verdict.sentence}}}{{!-- remark --}}`;

export const readers: readonly Reader[] = [
  {
    name: 'delimited text',
    whole: text(
      'start,end,label\n0.01,0.02,"be""ll"\n0:00.05,,drum\n0.4,0.5,x\n',
      '0,01\t0,02\tbell\r\n0,03\t0,04\tdrum\r\n',
      'sep=;\nSample;Label\n100;bell\n300;sector:B\n',
      '\uFEFF# notes\r0.01 bell\r0.02 drum\r',
    ),
    read: asTake('m.csv'),
  },
  {
    name: 'text beside a take',
    whole: text('0.01 bell\n0.02 drum\n', 'Greased the bearing.\n'),
    read: asTake('m.txt'),
  },
  {
    name: 'RIFF, RIFX and RF64',
    whole: [wav('RIFF'), wav('RIFX'), wav('RF64'), writeWav(8000, [ramp(200), ramp(200, 1)], 'float32')],
    read: asTake('a.wav'),
  },
  { name: 'AIFF', whole: [aiff], read: asTake('a.aif') },
  { name: 'FLAC', whole: [flac], read: asTake('a.flac') },
  { name: 'MIDI markers', whole: [midiMarkers], read: asTake('a.mid') },
  {
    name: 'WebVTT',
    whole: text(
      'WEBVTT\n\n1\n00:00.010 --> 00:00.020\n<v Ann>be&amp;ll</v>\n\n00:00.030 --> 00:00.040 align:left\n<b><i>drum</i></b>\n',
      '\uFEFFWEBVTT - x\r\n\r\nNOTE a\r\n\r\n00:00:00.010 --> 00:00:00.020\r\n<00:00:00.015>bell &#x41;\r\n',
    ),
    read: asTake('a.vtt'),
  },
  {
    name: 'SubRip subtitles',
    whole: text(
      '1\n00:00:00,010 --> 00:00:00,020\n<i>bell</i>\n\n2\n00:00:00,030 --> 00:00:00,040\ndrum\nagain\n',
      '\uFEFF1\r\n00:00:00.010 --> 00:00:00.020\r\n{\\an8}bell\r\n',
    ),
    read: asTake('a.srt'),
  },
  {
    name: 'chapters as text',
    whole: text(
      ';FFMETADATA1\ntitle=a\n[CHAPTER]\nTIMEBASE=1/1000\nSTART=10\nEND=20\ntitle=be\\=ll\n[CHAPTER]\nSTART=30000000\n',
      'CHAPTER001=00:00:00.010\nCHAPTER001NAME=bell\nCHAPTER002=00:00:00.030\n',
      '<?xml version="1.0"?>\n<Chapters><EditionEntry><ChapterAtom><ChapterTimeStart>00:00:00.010000000</ChapterTimeStart><ChapterDisplay><ChapterString>be&amp;ll</ChapterString></ChapterDisplay></ChapterAtom></EditionEntry></Chapters>\n',
    ),
    read: asTake('a.txt'),
  },
  {
    name: 'chapters within audio files',
    whole: [flacChapters, oggChapters, mp4Chapters, id3Chapters],
    async read(bytes) {
      const file = memoryFile('a', bytes);
      for (const reader of embeddedChapters)
        if (reader.recognises('a', bytes.subarray(0, 64))) {
          const found = await reader.read(file, null);
          if (found?.markers.some(({ timeS }) => !(timeS >= 0))) throw new Error('a marker before the start');
        }
    },
  },
  {
    name: 'text of two bytes a letter without a mark',
    whole: [Uint8Array.from('time,label\n0.01,bell\n0.02,drum\n', (c) => c.charCodeAt(0))].flatMap(
      (bytes) => [
        Uint8Array.from([...bytes].flatMap((byte) => [byte, 0])),
        Uint8Array.from([...bytes].flatMap((byte) => [0, byte])),
      ],
    ),
    read: asTake('m.csv'),
  },
  {
    name: 'machine.jsonc',
    whole: text(machineText, JSON.stringify(smallDescription, null, 2)),
    async read(bytes) {
      const content = asText(bytes, 'machine.jsonc');
      const { description } = await readMachine('machine.jsonc', content, () =>
        Promise.resolve(text(pattern)[0]),
      );
      // What is read can be written: only numbers change.
      for (const { id } of description.adjusters) applySettings(content, { [id]: 1 });
    },
  },
  { name: 'take.jsonc', whole: text(takeText, '// nothing yet\n{}\n'), read: asTake('take.jsonc') },
  {
    name: 'pattern.csv',
    whole: text(
      pattern,
      'channel\tstep\tnote\nclap\t0\t"two\nlines"\nbell\t3\t\n',
      'hole;0;3;5\nclap;x;;\nbell;;x;o\n',
    ),
    read: (bytes) =>
      readMachine('machine.jsonc', JSON.stringify(smallDescription), () => Promise.resolve(bytes)),
  },
  {
    name: 'pattern.mid',
    whole: [midiPattern],
    read: (bytes) => readMachine('machine.jsonc', midiMachine, () => Promise.resolve(bytes)),
  },
  {
    name: 'corrections.csv',
    whole: text(
      'time,channel,action,note\n1.25,drum,drop,"a ""bump"""\n2.5,bell,add,\n3,,move,\'=1\n',
      'action;time;channel\r\nrename;1,5;drum\r\n# remark\r\n',
    ),
    read(bytes) {
      const before = asText(bytes, 'corrections.csv');
      const rows = readCorrections(before);
      const row = { timeS: 7, channel: 'bell', action: 'add', note: 'x' } as const;
      takeBackCorrection(addCorrection(before, row), rows.length, row);
      const bad = rows.find(({ timeS }) => !(timeS >= 0));
      if (bad) throw new Error(`a correction at ${bad.timeS} s`);
      return Promise.resolve();
    },
  },
  {
    name: 'report.json',
    whole: text(JSON.stringify(exampleReport(), null, 1)),
    read: (bytes) => Promise.resolve().then(() => parseReport('report.json', asText(bytes, 'report.json'))),
  },
  {
    name: 'voices/*.json',
    whole: text(voiceText),
    read: (bytes) =>
      Promise.resolve().then(() => readSavedVoice('voices/bell.json', asText(bytes, 'voices/bell.json'))),
  },
  {
    name: 'report template',
    whole: text(reportTemplate, ownTemplate),
    read: (bytes) =>
      Promise.resolve().then(() =>
        renderReport(exampleReport(), {
          file: 'templates/report.md.hbs',
          text: asText(bytes, 'templates/report.md.hbs'),
        }),
      ),
  },
  {
    name: 'entry template',
    whole: text(entryTemplate),
    read: (bytes) =>
      Promise.resolve().then(() =>
        renderEntry(exampleReport(), {
          file: 'templates/entry.md.hbs',
          text: asText(bytes, 'templates/entry.md.hbs'),
        }),
      ),
  },
];
