/** Spoilt files of every kind: each is read, or refused in one line; none crashes, hangs or fills memory. */
import { beforeEach, expect, test, vi } from 'vitest';
import wavefile from 'wavefile';
import { writeMidi } from 'midi-file';
import { InputProblem } from '../../analysis/input/problem.ts';
import { seededRandom, type Random } from '../../samples/random.ts';
import { processorMs } from '../fuzz/effort.ts';
import { longestMs } from '../fuzz/trial.ts';
import { ramp, takeOf } from './files.ts';
import { run, testWith } from './tools.ts';
import { writeWav } from '../../samples/wav.ts';

// The decoder of MP3 prints each fault that it meets; here they are meant, and the product's threads keep it to themselves.
beforeEach(() => void vi.spyOn(console, 'error').mockImplementation(() => undefined));

const seed = Number(process.env.FUZZ_SEED ?? 20_240_607);
const runs = Number(process.env.FUZZ_RUNS ?? 150);

const text = (content: string) => new TextEncoder().encode(content);

function wav(container: string): Uint8Array {
  const file = new wavefile.WaveFile();
  file.fromScratch(2, 8000, '24', [new Int32Array(300), new Int32Array(300)], { container });
  file.setCuePoint({ position: 10, end: 20, label: 'bell' });
  file.setCuePoint({ position: 30, label: 'drum' });
  return file.toBuffer();
}

const midi = Uint8Array.from(
  writeMidi({
    header: { format: 1, numTracks: 1, ticksPerBeat: 480 },
    tracks: [
      [
        { deltaTime: 0, type: 'setTempo', microsecondsPerBeat: 400_000 },
        { deltaTime: 480, type: 'marker', text: 'bell' },
        { deltaTime: 480, type: 'cuePoint', text: 'sector:A' },
        { deltaTime: 0, type: 'endOfTrack' },
      ],
    ],
  }),
);

const whole: [name: string, bytes: Uint8Array][] = [
  ['a.wav', wav('RIFF')],
  ['a.wav', wav('RIFX')],
  ['a.wav', wav('RF64')],
  ['a.mid', midi],
  [
    'a.vtt',
    text('WEBVTT\n\n1\n00:00.100 --> 00:00.200\n<v Ann>be&amp;ll</v>\n\n00:01.000 --> 00:02.000\ndrum\n'),
  ],
  ['m.csv', text('start,end,label\n0.1,0.2,"be""ll"\n0:01.5,,drum\n400,500,x\n')],
  ['m.txt', text('0,1\t0,2\tbell\r\n0,3\t0,4\tdrum\r\n')],
  [
    'take.jsonc',
    text(
      '{ "tempo": 90, "tracks": [{ "file": "x.wav", "track": 0, "channels": ["bell"] }], "labels": { "a": "drum" } }',
    ),
  ],
];

async function spoil(name: string, bytes: Uint8Array, times: number): Promise<void> {
  const audio = writeWav(8000, [ramp(800)]);
  for (let i = 0; i < times; i++) {
    const spoilt = mutated(bytes, seededRandom(seed + i));
    const start = processorMs();
    try {
      const take = await takeOf({ 'x.wav': audio, [name]: spoilt });
      for (const track of take.tracks) await track.read(-5, Math.min(track.length + 5, 2000));
      expect(take.markers.every((marker) => Number.isFinite(marker.timeS) && marker.timeS >= 0)).toBe(true);
    } catch (error) {
      if (!(error instanceof InputProblem)) throw new Error(`seed ${seed + i}: ${name}`, { cause: error });
      expect(error.message, `seed ${seed + i}`).not.toMatch(/[\n\r]/);
    }
    expect(processorMs() - start, `seed ${seed + i}: ${name}`).toBeLessThan(longestMs());
  }
}

/** One to four of: a flipped bit, a cut, a splice, a length that lies, a byte order mark, a NUL. */
function mutated(bytes: Uint8Array, random: Random): Uint8Array {
  let out = [...bytes];
  const at = () => random.integer(out.length);
  for (let n = 1 + random.integer(4); n > 0 && out.length > 0; n--) {
    const spoilings = [
      () => (out[at()] ^= 1 << random.integer(8)),
      () => (out = out.slice(0, at())),
      () => out.splice(at(), random.integer(8), ...out.slice(at(), at() + 40)),
      () => out.fill(random.pick([0, 1, 0x7f, 0x80, 0xff]), ...[at()].flatMap((from) => [from, from + 4])),
      () =>
        out.unshift(
          ...random.pick([
            [0xef, 0xbb, 0xbf],
            [0xff, 0xfe],
            [0xfe, 0xff],
          ]),
        ),
      () => out.splice(at(), 0, 0),
    ];
    random.pick(spoilings)();
  }
  return Uint8Array.from(out);
}

console.info(`hostile files: seed ${seed}, ${runs} runs of each kind`);

for (const [name, bytes] of whole) {
  test(`spoilt ${name}, like ${String.fromCharCode(...bytes.subarray(0, 4)).trim()}`, () =>
    spoil(name, bytes, runs));
}

testWith(['sndfile-convert'], 'spoilt AIFF', async () => {
  await spoil('a.aif', run(['sndfile-convert', 'in.wav', 'a.aif'], { 'in.wav': wav('RIFF') }, 'a.aif'), runs);
});

testWith(['flac'], 'spoilt FLAC', async () => {
  const input = {
    'in.wav': writeWav(8000, [ramp(800)]),
    'a.cue': 'FILE "a" WAVE\n TRACK 01 AUDIO\n  INDEX 01 0\n',
  };
  const bytes = run(['flac', '--silent', '--cuesheet=a.cue', '-o', 'a.flac', 'in.wav'], input, 'a.flac');
  await spoil('a.flac', bytes, runs);
});

test.each([
  ['a million markers', 'm.csv', `time,label\n${'0.01,bell\n'.repeat(1_000_000)}`],
  ['a million cues', 'a.vtt', `WEBVTT\n\n${'00:00.010 --> 00:00.020\nbell\n\n'.repeat(250_000)}`],
])('%s are refused, with the bound', async (_, name, content) => {
  await expect(takeOf({ [name]: content })).rejects.toThrow(/200000 is the most that can be used/);
});

test('deep nesting, endless lines and huge numbers are survived', async () => {
  const files = {
    'm.csv': `time,label\n1e308,bell\n-1e999,bell\n${'9'.repeat(400)},bell\n0.5,${'x'.repeat(100_000)}\n0.6,\0\uD800\n`,
    'a.vtt': `WEBVTT\n\n00:00.010 --> 00:00.020\n${'<b>'.repeat(3000)}bell\n`,
  };
  const take = await takeOf(files);
  expect(Math.max(...take.markers.map(({ label }) => label.length))).toBe(500);
});
