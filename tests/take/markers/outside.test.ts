/** Markers as others write them, each test naming the writer. */
import { expect, test } from 'vitest';
import wavefile from 'wavefile';
import { writeWav } from '../../../samples/wav.ts';
import { ramp, takeOf } from '../files.ts';
import { run, testWith } from '../tools.ts';

const rate = 8000;

/** Cue points at 0.1 s, 0.25 to 0.4 s and 0.9 s, written by the npm package wavefile; its positions are in ms. */
function cuesByWavefile(options: { range: boolean; container?: string }): Uint8Array {
  const wav = new wavefile.WaveFile();
  wav.fromScratch(1, rate, '16', new Int16Array(rate), { container: options.container ?? 'RIFF' });
  wav.setCuePoint({ position: 100, label: 'bell' });
  wav.setCuePoint({ position: 250, label: 'sector:B', ...(options.range ? { end: 400 } : {}) });
  wav.setCuePoint({ position: 900, label: 'odd' });
  return wav.toBuffer();
}

const brief = (take: Awaited<ReturnType<typeof takeOf>>) =>
  take.markers.map(({ timeS, endS, label, meaning }) => [timeS, endS, label, meaning.kind]);

test.each(['RIFF', 'RIFX', 'RF64'])('npm wavefile: cue, labl and ltxt in %s', async (container) => {
  const take = await takeOf({ 'a.wav': cuesByWavefile({ range: true, container }) });
  expect(brief(take)).toEqual([
    [0.1, null, 'bell', 'hit'],
    [0.25, 0.4, 'sector:B', 'sector'],
    [0.9, null, 'odd', 'note'],
  ]);
  expect(take.notices).toEqual([]);
});

test('a cue whose sample offset is empty and whose position is filled is placed by that', async () => {
  const bytes = cuesByWavefile({ range: false });
  const view = new DataView(bytes.buffer, bytes.byteOffset);
  const first = Buffer.from(bytes).indexOf('cue ') + 12;
  view.setUint32(first + 20, 0, true);
  view.setUint32(first + 4, 1600, true);
  expect((await takeOf({ 'a.wav': bytes })).markers[0].timeS).toBe(0.2);
});

testWith(['sndfile-convert'], 'libsndfile: AIFF MARK', async () => {
  const wav = cuesByWavefile({ range: false });
  const aiff = run(['sndfile-convert', 'in.wav', 'a.aif'], { 'in.wav': wav }, 'a.aif');
  expect(Buffer.from(aiff).includes('MARK')).toBe(true);
  expect(brief(await takeOf({ 'a.aif': aiff }))).toEqual([
    [0.1, null, 'bell', 'hit'],
    [0.25, null, 'sector:B', 'sector'],
    [0.9, null, 'odd', 'note'],
  ]);
});

testWith(['flac', 'metaflac'], 'metaflac: CUESHEET, as its own listing has it', async () => {
  // In a cue sheet of text an INDEX counts minutes, seconds and frames of 1/75 s; a plain number counts samples.
  const cuesheet = [
    'FILE "a.wav" WAVE',
    '  TRACK 01 AUDIO',
    '    INDEX 01 0',
    '  TRACK 02 AUDIO',
    '    INDEX 00 2000',
    '    INDEX 01 2400',
    '    INDEX 02 4000',
    '  TRACK 07 AUDIO',
    '    INDEX 01 7000',
  ].join('\n');
  const inputs = { 'in.wav': writeWav(rate, [ramp(rate)]), 'a.cue': cuesheet };
  const flac = run(['flac', '--silent', '--cuesheet=a.cue', '-o', 'a.flac', 'in.wav'], inputs, 'a.flac');
  const listed = new TextDecoder().decode(
    run(['metaflac', '--export-cuesheet-to=out.cue', 'a.flac'], { 'a.flac': flac }, 'out.cue'),
  );
  const starts = [...listed.matchAll(/INDEX \d\d (\d+)/g)].map((match) => Number(match[1]) / rate);
  const take = await takeOf(
    { 'a.flac': flac, 'take.jsonc': '{ "labels": { "track 2": "bell", "track 7": "sector:A" } }' },
    {},
  );
  expect(brief(take)).toEqual([
    [0, null, 'track 1', 'note'],
    [0.25, null, 'track 2 index 0', 'note'],
    [0.3, null, 'track 2', 'hit'],
    [0.5, null, 'track 2 index 2', 'note'],
    [0.875, null, 'track 7', 'sector'],
  ]);
  expect(take.markers.map(({ timeS }) => timeS)).toEqual(starts);
});

const midi = (division: number) =>
  [
    `0, 0, Header, 1, 2, ${division}`,
    '1, 0, Start_track',
    '1, 0, Tempo, 500000', // 120 beats a minute
    `1, ${2 * division}, Tempo, 250000`,
    `1, ${2 * division}, End_track`,
    '2, 0, Start_track',
    '2, 0, Note_on_c, 0, 36, 100',
    `2, ${division}, Marker_t, "bell"`,
    `2, ${2 * division}, Marker_t, "Low bell"`,
    `2, ${3 * division}, Cue_point_t, "sector:B"`,
    `2, ${3 * division}, Text_t, "no marker"`,
    `2, ${3 * division}, End_track`,
    '3, 0, End_of_file',
  ].join('\n');

testWith(['csvmidi'], 'midicsv (csvmidi): markers and cue points through the tempo map', async () => {
  const bytes = run(['csvmidi', 'a.csv', 'a.mid'], { 'a.csv': midi(480) }, 'a.mid');
  expect(brief(await takeOf({ 'a.mid': bytes }))).toEqual([
    [0.5, null, 'bell', 'hit'],
    [1, null, 'Low bell', 'hit'],
    [1.25, null, 'sector:B', 'sector'],
  ]);
});

testWith(
  ['csvmidi'],
  'midicsv (csvmidi): 25 frames a second of 40 parts, where tempo means nothing',
  async () => {
    const written = run(['csvmidi', 'a.csv', 'a.mid'], { 'a.csv': midi(1000) }, 'a.mid').slice();
    written.set([0xe7, 0x28], 12); // −25 frames a second, 40 ticks a frame (Standard MIDI Files 1.0)
    expect(brief(await takeOf({ 'a.mid': written })).map(([timeS]) => timeS)).toEqual([1, 2, 3]);
  },
);

test('WebVTT: the specification’s own kinds of cue text', async () => {
  // W3C WebVTT: identifiers, NOTE, settings, classes, voices, entities, hours of any length.
  const vtt = [
    'WEBVTT - markers',
    '',
    'NOTE 00:00.000 --> 00:01.000 is no cue',
    '',
    '1',
    '00:00.100 --> 00:00.200 align:start',
    '<v Ann>bell</v>',
    '',
    '00:00:00.500 --> 00:00:00.500',
    '<c.loud>R&amp;B &lt;b&gt; caf&eacute;</c>',
    'second line',
    '',
  ].join('\r\n');
  expect(brief(await takeOf({ 'a.vtt': `\uFEFF${vtt}` }))).toEqual([
    [0.1, 0.2, 'bell', 'hit'],
    [0.5, null, 'R&B <b> café second line', 'note'],
  ]);
});

/** The same three chapters as FFmpeg's metadata file and as comments; its 5.1 writes 0.9 s into a comment as 1.9. */
const chapters = [
  [0.1, 0.25, 'bell'],
  [0.25, 0.45, 'sector:B'],
  [0.45, 0.48, 'größer'],
] as const;
const asMetadata = [
  ';FFMETADATA1',
  ...chapters.flatMap(([from, to, title]) => [
    '[CHAPTER]',
    'TIMEBASE=1/1000',
    `START=${1000 * from}`,
    `END=${1000 * to}`,
    `title=${title}`,
  ]),
  '',
].join('\n');
const asComments = chapters.flatMap(([from, , title], i) => [
  `CHAPTER00${i}=00:00:0${from.toFixed(3)}`,
  `CHAPTER00${i}NAME=${title}`,
]);
const second = writeWav(48_000, [ramp(48_000)]);
const meanings = ['hit', 'sector', 'note'];

for (const [file, coder, hasEnds] of [
  ['a.opus', 'libopus', false],
  ['a.m4a', 'aac', false],
  ['a.mov', 'alac', false],
  ['a.mp3', 'libmp3lame', true],
] as const)
  testWith([`ffmpeg with ${coder}`], `ffmpeg: chapters within ${file}`, async () => {
    const args = ['-v', 'error', '-i', 'in.wav', '-i', 'c.txt', '-map_chapters', '1', '-c:a', coder, file];
    const bytes = run(['ffmpeg', ...args], { 'in.wav': second, 'c.txt': asMetadata }, file);
    expect(brief(await takeOf({ [file]: bytes }))).toEqual(
      chapters.map(([from, to, title], i) => [from, hasEnds ? to : null, title, meanings[i]]),
    );
  });

for (const [file, tool, option] of [
  ['a.flac', 'flac', '--tag='],
  ['a.oga', 'flac', '--tag='],
  ['a.ogg', 'oggenc', '--comment='],
] as const)
  testWith([tool], `${tool}: chapters in the comments of ${file}`, async () => {
    const tags = asComments.map((comment) => `${option}${comment}`);
    const quiet = tool === 'flac' ? ['--silent', ...(file === 'a.oga' ? ['--ogg'] : [])] : ['-Q', '--utf8'];
    const bytes = run([tool, ...quiet, ...tags, '-o', file, 'in.wav'], { 'in.wav': second }, file);
    expect(brief(await takeOf({ [file]: bytes }))).toEqual(
      chapters.map(([from, , title], i) => [from, null, title, meanings[i]]),
    );
  });
