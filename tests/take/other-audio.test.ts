/** Audio as others write it: Debian's libsndfile, SoX, FLAC and Vorbis tools. Rate, tracks and samples are kept. */
import { expect, test } from 'vitest';
import { writeWav } from '../../samples/wav.ts';
import { openAudio } from '../../analysis/take/audio/open.ts';
import { expectSame, memoryFile, ramp } from './files.ts';
import { run, testWith, type Tool } from './tools.ts';

const length = 5003;
const tracks = [ramp(length), ramp(length, 1)];
const wav = writeWav(44_100, tracks);
const asFloat = writeWav(44_100, tracks, 'float32');
const three = writeWav(96_000, [ramp(length), ramp(length, 1), ramp(length, 2)], 'int24');

async function expectExact(name: string, bytes: Uint8Array, sampleRate = 44_100, expected = tracks) {
  const file = await openAudio(memoryFile(name, bytes));
  expect(file).toMatchObject({ sampleRate, tracks: expected.length, length, notices: [] });
  for (const [i, track] of expected.entries()) expectSame(await file.read(i, 0, length), track);
  expect([...(await file.read(0, -2, 2))]).toEqual([0, 0, expected[0][0], expected[0][1]]);
}

const sndfile: [name: string, ...args: string[]][] = [
  ['a.rf64', '-pcm16'],
  ['a.rf64', '-float64'],
  ['a.wav', '-pcm24'],
  ['a.wav', '-float32'],
  ['a.wav', '-pcm16', '-endian=big'],
  ['a.aif', '-pcm16'],
  ['a.aif', '-pcm24'],
  ['a.aif', '-float32'],
  ['a.caf', '-pcm16'],
];
for (const [name, ...args] of sndfile) {
  testWith(['sndfile-convert'], `libsndfile (sndfile-convert): ${name} ${args.join(' ')}`, async () => {
    // From whole numbers to float it would lift the peak to full scale; from float it copies.
    const input = args[0].startsWith('-float') ? asFloat : wav;
    await expectExact(name, run(['sndfile-convert', ...args, 'in.wav', name], { 'in.wav': input }, name));
  });
}

const sox: [name: string, ...args: string[]][] = [
  ['a.wav', '-b', '24'],
  ['a.wav', '-b', '32'],
  ['a.wav', '-e', 'floating-point', '-b', '64'],
  ['a.wav', '-B', '-b', '24'],
  ['a.aiff', '-b', '16'],
  ['a.aiff', '-b', '24'],
];
for (const [name, ...args] of sox) {
  testWith(['sox'], `SoX: ${name} ${args.join(' ')}`, async () => {
    await expectExact(name, run(['sox', '-D', 'in.wav', ...args, name], { 'in.wav': wav }, name));
  });
}

testWith(['sox'], 'SoX: three tracks of 24 bits at 96 kHz, which it writes as extensible', async () => {
  const bytes = run(['sox', '-D', 'in.wav', 'a.wav'], { 'in.wav': three }, 'a.wav');
  const view = new DataView(bytes.buffer);
  expect(view.getUint16(20, true)).toBe(0xfffe);
  await expectExact('a.wav', bytes, 96_000, [...tracks, ramp(length, 2)]);
});

testWith(['flac', 'sox'], 'flac: 24 bits, three tracks, 96 kHz', async () => {
  // flac takes more than two tracks only with the extensible header, which SoX writes.
  const extensible = run(['sox', '-D', 'in.wav', 'a.wav'], { 'in.wav': three }, 'a.wav');
  const bytes = run(
    ['flac', '--silent', '--channel-map=none', '-o', 'a.flac', 'in.wav'],
    { 'in.wav': extensible },
    'a.flac',
  );
  const file = await openAudio(memoryFile('a.flac', bytes));
  expect(file).toMatchObject({ sampleRate: 96_000, tracks: 3, length });
  // Its decoder's full scale is 2²³ − 1 where WAV's is 2²³: a gain of one part in eight million, which times no hit.
  for (const track of [0, 1, 2]) {
    const samples = await file.read(track, 0, length);
    const expected = ramp(length, track).map((x) => (x * 2 ** 23) / (2 ** 23 - 1));
    expectSame(samples, expected);
  }
});

testWith(['sox'], 'SoX: eight bits come back within half a step', async () => {
  const bytes = run(['sox', '-D', 'in.wav', '-b', '8', 'a.wav'], { 'in.wav': wav }, 'a.wav');
  const file = await openAudio(memoryFile('a.wav', bytes));
  const samples = await file.read(1, 0, length);
  expect(Math.max(...samples.map((x, i) => Math.abs(x - tracks[1][i])))).toBeLessThanOrEqual(1 / 256);
});

/** Half a second of a tone in one track and another in the other: lossy codecs keep those. */
const seconds = 0.5;
const tone = (rate: number, hz: number) =>
  Float32Array.from({ length: rate * seconds }, (_, i) => 0.5 * Math.sin((2 * Math.PI * hz * i) / rate));

const lossy: [tool: Tool, name: string, rate: number, count: number, slackS: number, command: string[]][] = [
  // An MP3 decoder's delay and the last frame's filling are part of the file (from memory: up to three frames of 1152).
  ['sox', 'a.mp3', 44_100, 2, 0.08, ['-D', 'in.wav', '-C', '192', 'a.mp3']],
  ['sox', 'a.mp3', 44_100, 1, 0.08, ['-D', 'in.wav', '-C', '192', 'a.mp3']],
  ['oggenc', 'a.ogg', 48_000, 2, 0, ['-Q', '-q', '6', '-o', 'a.ogg', 'in.wav']],
  ['oggenc', 'a.ogg', 44_100, 1, 0, ['-Q', '-q', '6', '-o', 'a.ogg', 'in.wav']],
];
for (const [tool, name, rate, count, slackS, command] of lossy) {
  testWith(
    [name.endsWith('.mp3') ? 'sox writing MP3' : tool],
    `${tool}: ${name} of ${count} tracks at ${rate} Hz keeps rate, tracks and length`,
    async () => {
      const input = writeWav(rate, [tone(rate, 440), tone(rate, 1000)].slice(0, count));
      const file = await openAudio(memoryFile(name, run([tool, ...command], { 'in.wav': input }, name)));
      expect(file).toMatchObject({ sampleRate: rate, tracks: count });
      expect(file.length).toBeGreaterThanOrEqual(rate * seconds);
      expect(file.length).toBeLessThanOrEqual(rate * (seconds + slackS));
      for (let track = 0; track < count; track++) {
        const samples = await file.read(track, Math.round(0.2 * rate), Math.round(0.3 * rate));
        const power = samples.reduce((sum, x) => sum + x * x, 0) / samples.length;
        // 0.5 squared, halved; the MP3 encoder takes 3 % off the level (SoX's own decoder hears 0.485 too).
        expect(Math.sqrt(2 * power)).toBeGreaterThan(0.48);
        expect(Math.sqrt(2 * power)).toBeLessThan(0.51);
        // Zero crossings tell the tone: twice its frequency a second.
        const crossings = samples.reduce((n, x, i) => n + (i > 0 && x > 0 !== samples[i - 1] > 0 ? 1 : 0), 0);
        expect(Math.abs(crossings - 0.2 * [440, 1000][track])).toBeLessThanOrEqual(1);
      }
    },
  );
}

test('a file that calls itself FLAC and is none is one line', async () => {
  const opened = openAudio(memoryFile('a.flac', new TextEncoder().encode('fLaC and nothing else')));
  await expect(opened).rejects.toThrow(/^a\.flac: byte 0: [^\n]*$/);
});
