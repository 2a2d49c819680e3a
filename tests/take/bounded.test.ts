/** Files that unpack to more than can be held, and that decoding in parts changes no sample. */
import decode from 'audio-decode';
import { expect, test } from 'vitest';
import { decodeBounded, maxDecodedSamples } from '../../analysis/take/audio/bounded.ts';
import { flacSamples } from '../../analysis/take/audio/flac-frames.ts';
import { openAudio } from '../../analysis/take/audio/open.ts';
import { writeWav } from '../../samples/wav.ts';
import { expectSame, memoryFile, ramp } from './files.ts';
import { run, testWith, type Tool } from './tools.ts';

const length = 400_000;
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

const lossy: [tool: Tool, name: string, ...command: string[]][] = [
  ['oggenc', 'a.ogg', 'oggenc', '--quiet', '-o', 'a.ogg', 'in.wav'],
  ['sox', 'a.mp3', 'sox', '-D', 'in.wav', 'a.mp3'],
];
for (const [tool, name, , ...args] of lossy) {
  testWith(
    [name.endsWith('.mp3') ? 'sox writing MP3' : tool],
    `${name}: in parts the same samples come out as whole, and too many are refused`,
    async () => {
      const bytes = run([tool, ...args], { 'in.wav': stereo }, name);
      expect(bytes.length).toBeGreaterThan(2 * 65_536);
      const whole = await decode(bytes);
      const parts = await decodeBounded(name, bytes);
      expect(parts.sampleRate).toBe(whole.sampleRate);
      expect(parts.channelData).toHaveLength(whole.channelData.length);
      for (const [i, samples] of parts.channelData.entries()) expectSame(samples, whole.channelData[i]);
      await expect(decodeBounded(name, bytes, length)).rejects.toThrow(/unpacks to more than 400000 samples/);
    },
  );
}
