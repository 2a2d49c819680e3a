/** Files that unpack to more than can be held, and that decoding in parts changes no sample. */
import decode from 'audio-decode';
import { expect, test } from 'vitest';
import { decodeBounded, maxDecodedSamples } from '../../analysis/take/audio/bounded.ts';
import { flacSamples } from '../../analysis/take/audio/flac-frames.ts';
import { openAudio } from '../../analysis/take/audio/open.ts';
import { writeWav } from '../../samples/wav.ts';
import { expectSame, memoryFile, ramp } from './files.ts';
import { run, testWith, type Need, type Tool } from './tools.ts';

const length = 160_000;
const stereo = writeWav(44_100, [ramp(length), ramp(length, 1)]);

/** A frame of 4096 samples of two tracks of silence: fourteen bytes (RFC 9639, 9). Checksums as the header needs them. */
function silentFrame(): number[] {
  const header = [0xff, 0xf8, 0xc9, 0x18, 0x00];
  let crc = 0;
  for (const byte of header) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = crc & 0x80 ? ((crc << 1) ^ 0x07) & 0xff : crc << 1;
  }
  // Two subframes, each constant: type 0, then the value in 16 bits; the frame's own checksum is not looked at.
  return [...header, crc, 0, 0, 0, 0, 0, 0, 0, 0];
}

/** fLaC with a STREAMINFO that says one second at 44.1 kHz, whatever follows. */
const flacHead = [
  ...[0x66, 0x4c, 0x61, 0x43, 0x80, 0, 0, 34, 0x10, 0, 0x10, 0, 0, 0, 0, 0, 0, 0],
  ...[0x0a, 0xc4, 0x42, 0xf0, 0, 0, 0xac, 0x44, ...new Array<number>(16).fill(0)],
];

test('FLAC that unpacks to hours is refused by its frames, whatever its header says', async () => {
  const frame = silentFrame();
  const frames = Math.ceil(maxDecodedSamples / 8192) + 1;
  const bytes = new Uint8Array(flacHead.length + frames * frame.length);
  bytes.set(flacHead);
  for (let i = 0; i < frames; i++) bytes.set(frame, flacHead.length + i * frame.length);
  expect(bytes.length).toBeLessThan(1e6);
  const opened = openAudio(memoryFile('a.flac', bytes));
  await expect(opened).rejects.toThrow(
    /^a\.flac: it unpacks to more than 536870912 samples, .*; cut it, or export/,
  );
});

test('a length that breaks off, or nothing at all, is no frame', () => {
  expect(flacSamples(new Uint8Array())).toBe(0);
  expect(flacSamples(Uint8Array.from([...flacHead, ...silentFrame().slice(0, 5)]))).toBe(0);
  expect(flacSamples(Uint8Array.from([...flacHead, ...silentFrame()]))).toBe(8192);
});

for (const args of [[], ['--blocksize=192'], ['--blocksize=4608'], ['--blocksize=1000'], ['--ogg']])
  testWith(['flac'], `FLAC as flac writes it${args.join(' ')}: its frames hold what was put in`, () => {
    const bytes = run(
      ['flac', '--silent', ...args, '-o', 'a.flac', 'in.wav'],
      { 'in.wav': stereo },
      'a.flac',
    );
    expect(flacSamples(bytes)).toBe(2 * length);
  });

const coded: [need: Need, name: string, ...command: [Tool, ...string[]]][] = [
  ['oggenc', 'a.ogg', 'oggenc', '--quiet', '-q', '8', '-o', 'a.ogg', 'in.wav'],
  ['sox writing MP3', 'a.mp3', 'sox', '-D', 'in.wav', '-C', '320', 'a.mp3'],
  ...[
    ['libmp3lame', 'tagged.mp3', '-b:a', '320k'],
    ['aac', 'a.m4a'],
    ['aac', 'first.mp4', '-movflags', 'faststart'],
    ['aac', 'parts.mp4', '-movflags', 'frag_keyframe+empty_moov'],
    ['alac', 'alac.m4a'],
    ['pcm_s16le', 'a.mov'],
    ['libopus', 'opus.mp4'],
    ['flac', 'flac.mp4', '-strict', '-2'],
    ['libmp3lame', 'mp3.mp4'],
  ].map(([coder, name, ...args]): [Need, string, Tool, ...string[]] => {
    const command = ['-v', 'error', '-i', 'in.wav', '-c:a', coder, ...args, '-metadata', 'title=x', name];
    return [`ffmpeg with ${coder}`, name, 'ffmpeg', ...command];
  }),
];
for (const [need, name, ...command] of coded) {
  testWith(
    [need],
    `${name}: in parts the same samples come out as whole, and too many are refused`,
    async () => {
      const bytes = run(command, { 'in.wav': stereo }, name);
      expect(bytes.length).toBeGreaterThan(/\.(ogg|mp3)$/.test(name) ? 65_536 : 3 * 8192);
      const whole = await decode(bytes);
      const parts = await decodeBounded(name, bytes);
      expect(parts.sampleRate).toBe(whole.sampleRate);
      expect(parts.channelData).toHaveLength(whole.channelData.length);
      for (const [i, samples] of parts.channelData.entries()) expectSame(samples, whole.channelData[i]);
      await expect(decodeBounded(name, bytes, length)).rejects.toThrow(/unpacks to more than 160000 samples/);
    },
  );
}

/** A box of ISO/IEC 14496-12: size, name, body. */
function box(name: string, ...body: (number[] | Uint8Array)[]): Uint8Array {
  const bytes = Uint8Array.from(body.flatMap((part) => [...part]));
  const out = new Uint8Array(8 + bytes.length);
  new DataView(out.buffer).setUint32(0, out.length);
  out.set(new TextEncoder().encode(name), 4);
  out.set(bytes, 8);
  return out;
}

const u32 = (...values: number[]) =>
  values.flatMap((v) => [v >>> 24, (v >>> 16) & 255, (v >>> 8) & 255, v & 255]);
const text = (letters: string) => [...letters].map((c) => c.charCodeAt(0));

/** A track of sound, two channels of 16 bits, in whichever coding, with tables as given. */
function soundFile(coding: string, config: number[], ...tables: Uint8Array[]): Uint8Array {
  const entry = box(
    coding,
    [0, 0, 0, 0, 0, 0, 0, 1, ...u32(0, 0), 0, 2, 0, 16, ...u32(0), 0xac, 0x44, 0, 0],
    config.length > 0 ? box(coding, config) : [],
  );
  const stbl = box('stbl', box('stsd', u32(0, 1), entry), ...tables);
  const handler = box('hdlr', u32(0, 0), text('soun'), u32(0, 0, 0));
  const trak = box('trak', box('mdia', handler, box('minf', stbl)));
  return Uint8Array.from([
    ...box('ftyp', text('M4A '), u32(0)),
    ...box('moov', trak),
    ...box('mdat', new Array<number>(64).fill(0)),
  ]);
}

const stsc = box('stsc', u32(0, 1, 1, 1, 1));
const alac = (samples: number) => [
  ...u32(0),
  ...u32(samples),
  0,
  16,
  40,
  10,
  14,
  2,
  0,
  255,
  ...u32(0, 0, 44_100),
];
const lying: [what: string, bytes: Uint8Array, line: RegExp][] = [
  [
    'four billion packets of one size',
    soundFile('sowt', [], box('stsz', u32(0, 4, 0xffff_fff0)), box('stco', u32(0, 1, 200)), stsc),
    /its index names 4294967280 packets/,
  ],
  [
    'a table with fewer rows than it says',
    soundFile('sowt', [], box('stsz', u32(0, 0, 4_000_000_000, 4)), box('stco', u32(0, 1, 200)), stsc),
    /its table "stsz" says 4000000000 rows and has fewer/,
  ],
  [
    'a hundred thousand empty packets of ALAC',
    soundFile(
      'alac',
      alac(4096),
      box('stsz', u32(0, 0, 100_000), new Uint8Array(400_000)),
      box('stco', u32(0, 1, 200)),
      stsc,
    ),
    /100000 of them empty/,
  ],
  [
    'packets of a thousand million samples',
    soundFile('alac', alac(1e9), box('stsz', u32(0, 0, 1, 4)), box('stco', u32(0, 1, 200)), stsc),
    /its ALAC packets are said to hold 1000000000 samples each/,
  ],
  [
    'sound that does not lie in order',
    soundFile('sowt', [], box('stsz', u32(0, 4, 2)), box('stco', u32(0, 2, 204, 200)), stsc),
    /its sound does not lie in order/,
  ],
];
for (const [what, bytes, line] of lying)
  test(`MP4 with ${what} is refused before a decoder makes room for it`, async () => {
    await expect(openAudio(memoryFile('a.m4a', bytes))).rejects.toThrow(line);
  });
