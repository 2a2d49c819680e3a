import { expect, test } from 'vitest';
import { writeWav } from '../../samples/wav.ts';
import { readTake } from '../../analysis/take/read.ts';
import { expectSame, lineAbout, machine, memoryFile, ramp, secondOfAudio, takeOf } from './files.ts';

const stereo = writeWav(8000, [ramp(800), ramp(800, 1)]);
const brief = (take: Awaited<ReturnType<typeof takeOf>>) =>
  take.tracks.map(({ file, track, channels, assigned }) => [file, track, channels, assigned]);

test('without a word about it, any channel may sound on any track', async () => {
  const take = await takeOf({ 'room.wav': stereo });
  expect(brief(take)).toEqual([
    ['room.wav', 0, [0, 1, 2], false],
    ['room.wav', 1, [0, 1, 2], false],
  ]);
  expect(take.tracks[1]).toMatchObject({ sampleRate: 8000, length: 800 });
  expectSame(await take.tracks[1].read(0, 800), ramp(800, 1));
});

test('"tracks" says what is heard where; a file named for a channel is its own; both in any order of files', async () => {
  const description = '{ "tracks": [{ "file": "Mix.wav", "track": 1, "channels": ["drum", "clap"] }] }';
  const take = await takeOf({ 'take.jsonc': description, 'Mix.wav': stereo, 'BELL.wav': secondOfAudio });
  expect(brief(take)).toEqual([
    ['BELL.wav', 0, [1], true],
    ['Mix.wav', 1, [2, 0], true],
  ]);
  // Every channel has its track: the other one would hear each strike a second time.
  expect(take.notices).toEqual([
    {
      kind: 'unused-file',
      file: 'Mix.wav',
      place: 'track 0',
      message: 'track 0 of Mix.wav is not used: "tracks" or file names give every channel another track',
    },
  ]);
});

test('a marker file with a header and no markers is told, and a cue-less recording is not', async () => {
  const take = await takeOf({ 'room.wav': stereo, 'hits.csv': 'time,label\n' });
  expect(take.notices).toEqual([
    {
      kind: 'unused-file',
      file: 'hits.csv',
      place: '',
      message: 'hits.csv is not used: no markers are found in it',
    },
  ]);
});

test('files of different length and rate keep theirs', async () => {
  const take = await takeOf({ 'bell.wav': secondOfAudio, 'drum.wav': stereo });
  expect(take.tracks.map(({ sampleRate, length }) => [sampleRate, length])).toEqual([
    [1000, 1000],
    [8000, 800],
    [8000, 800],
  ]);
});

test('settings: the take’s own, then those frozen, then what is installed now', async () => {
  const files = { 'a.wav': secondOfAudio, 'take.jsonc': '{ "settings": { "lever": 9 } }' };
  expect((await takeOf({ 'a.wav': secondOfAudio })).settings).toEqual({ joint: 3, lever: 2 });
  expect((await takeOf(files)).settings).toEqual({ joint: 3, lever: 9 });
  const frozen = { settingsBefore: { joint: 5, lever: 4, gone: 1 } };
  expect((await takeOf(files, frozen)).settings).toEqual({ joint: 5, lever: 9 });
});

test('recorded: the take’s own, then the frozen, else unknown', async () => {
  const said = { 'a.wav': secondOfAudio, 'take.jsonc': '{ "recorded": "2031-05-04" }' };
  const frozen = { recordedBefore: '2030-01-01' };
  expect((await takeOf({ 'a.wav': secondOfAudio })).recorded).toBeNull();
  expect((await takeOf({ 'a.wav': secondOfAudio }, frozen)).recorded).toBe('2030-01-01');
  expect((await takeOf(said, frozen)).recorded).toBe('2031-05-04');
});

test('labels: take.jsonc first, then ids and names in any case, then sectors; everything else is a note', async () => {
  const take = await takeOf({
    'take.jsonc': '{ "labels": { "bell": "drum", "top": "sector:A", "7": "Low bell" } }',
    'm.csv': 'time,label\n1,bell\n2,BELL\n3,low BELL\n4,top\n5,Sector:b\n6,sector:Z\n7,7\n8,__proto__\n',
  });
  expect(take.markers.map(({ meaning }) => meaning)).toEqual([
    { kind: 'hit', channel: 2 },
    { kind: 'hit', channel: 1 },
    { kind: 'hit', channel: 1 },
    { kind: 'sector', sector: 0 },
    { kind: 'sector', sector: 1 },
    { kind: 'note' },
    { kind: 'hit', channel: 1 },
    { kind: 'note' },
  ]);
});

test('what the tool writes, and what people keep beside a take, is neither read nor remarked on', async () => {
  const take = await takeOf({
    'a.wav': secondOfAudio,
    'report.json': '{}',
    'report.md': '# report',
    'report.svg': '<svg/>',
    'corrections.csv': 'time,channel,action,note\n0.5,bell,add,\n',
    '.DS_Store': 'x',
    '.hidden.wav': 'x',
    'README.txt': '0.5 bell',
    'bench.jpg': 'x',
    'notes.md': 'x',
  });
  expect(take.markers).toEqual([]);
  expect(take.notices).toEqual([]);
  expect(take.tracks.length).toBe(1);
});

test('a file that is neither is named', async () => {
  const take = await takeOf({ 'a.wav': secondOfAudio, 'levels.bin': Uint8Array.of(0, 1, 2) });
  expect(take.notices).toEqual([
    {
      kind: 'unused-file',
      file: 'levels.bin',
      place: '',
      message: 'levels.bin is not used: it holds neither audio nor markers that can be read',
    },
  ]);
});

test('audio is known by its bytes too, whatever its name', async () => {
  expect((await takeOf({ 'recording.dat': stereo })).tracks.length).toBe(2);
});

test('markers alone are a take; a folder with neither is not', async () => {
  expect((await takeOf({ 'm.csv': 'time,label\n1,bell\n' })).tracks).toEqual([]);
  expect(await lineAbout({})).toMatch(/^take-1: the folder holds no files; put the recording /);
  expect(await lineAbout({ 'take.jsonc': '{}', 'plan.png': 'x' })).toMatch(
    /^take-1: no file here holds audio or markers; /,
  );
});

test.each([
  [
    '{ "tracks": [{ "file": "b.wav", "channels": ["bell"] }] }',
    /^take\.jsonc: 1:24 tracks\[0\]\.file: .*"b\.wav".*; write "a\.wav"$/,
  ],
  [
    '{ "tracks": [{ "file": "../a.wav", "channels": ["bell"] }] }',
    /tracks\[0\]\.file: "\.\.\/a\.wav" leads out of the take's folder; /,
  ],
  ['{ "tracks": [{ "file": "C:\\\\a.wav", "channels": ["bell"] }] }', /leads out of the take's folder; /],
  [
    '{ "tracks": [{ "file": "a.wav", "track": 1, "channels": ["bell"] }] }',
    /tracks\[0\]\.track: a\.wav has no track 1; its only track is 0$/,
  ],
  ['{ "tracks": [{ "file": "m.csv", "channels": ["bell"] }] }', /tracks\[0\]\.file: m\.csv holds no audio; /],
  [
    '{ "tracks": [{ "file": "a.wav", "channels": ["bel"] }] }',
    /tracks\[0\]\.channels\[0\]: there is no channel "bel"; write "bell"$/,
  ],
  [
    '{ "tracks": [{ "file": "a.wav", "channels": ["bell", "bell"] }] }',
    /tracks\[0\]\.channels\[1\]: "bell" is there twice; /,
  ],
  [
    '{ "tracks": [{ "file": "a.wav", "channels": ["bell"] }, { "file": "a.wav", "channels": ["drum"] }] }',
    /tracks\[1\]: track 0 of a\.wav is there already; /,
  ],
  [
    '{ "labels": { "x": "sector:Q" } }',
    /^take\.jsonc: 1:20 labels\.x: "sector:Q" is neither a channel nor "sector:" with a sector; write "sector:A"$/,
  ],
  [
    '{\n  "settings": { "levver": 2 } }',
    /^take\.jsonc: 2:\d+ settings\.levver: there is no adjuster "levver"; write "lever"$/,
  ],
  ['{ "settings": { "lever": 1.5 } }', /settings\.lever: 1\.5 /],
  [
    '{ "startStep": 12 }',
    /^take\.jsonc: 1:16 startStep: step 12 is not on the barrel; steps run from 0 to 11$/,
  ],
  ['{ "tempoo": 90 }', /the key "tempoo" is not known here; write "tempo"$/],
  [
    '{ "recorded": "yesterday" }',
    /recorded: "yesterday" cannot be used here; write an ISO 8601 date or time$/,
  ],
  ['{', /^take\.jsonc: 1:2: /],
])('take.jsonc %s', async (text, line) => {
  const said = await lineAbout({
    'a.wav': secondOfAudio,
    'm.csv': 'time,label\n0.5,bell\n',
    'take.jsonc': text,
  });
  expect(said).toMatch(line);
  expect(said).not.toContain('\n');
});

test('samples that are not numbers come through as they are', async () => {
  const take = await takeOf({
    'a.wav': writeWav(8000, [Float32Array.of(0.5, NaN, Infinity, 0.25)], 'float32'),
  });
  expect([...(await take.tracks[0].read(0, 4))]).toEqual([0.5, NaN, Infinity, 0.25]);
});

test('a stopped run throws the signal’s reason', async () => {
  const stop = new AbortController();
  stop.abort(new Error('enough'));
  const files = [memoryFile('a.wav', secondOfAudio)];
  await expect(readTake('t', files, machine, {}, { signal: stop.signal })).rejects.toThrow('enough');
});

test('progress runs up to 1', async () => {
  const told: number[] = [];
  const files = ['a.wav', 'b.wav'].map((name) => memoryFile(name, secondOfAudio));
  await readTake(
    't',
    files,
    machine,
    {},
    { progress: (stage, fraction) => told.push(stage === 'reading' ? fraction : NaN) },
  );
  expect(told).toEqual([0.5, 1]);
});
