import fc from 'fast-check';
import { expect, test } from 'vitest';
import { writeWav } from '../../samples/wav.ts';
import { openAudio } from '../../analysis/take/audio/open.ts';
import { expectSame, lineAbout, memoryFile, ramp } from './files.ts';

const length = 3001;
const tracks = [ramp(length), ramp(length, 1)];

/** A chunk by hand, either way round. */
function chunk(id: string, body: Uint8Array, littleEndian = true, said = body.length): Uint8Array {
  const out = new Uint8Array(8 + body.length + (body.length % 2));
  out.set(new TextEncoder().encode(id));
  new DataView(out.buffer).setUint32(4, said, littleEndian);
  out.set(body, 8);
  return out;
}

function fmt(tag: number, channels: number, rate: number, bits: number, littleEndian = true): Uint8Array {
  const view = new DataView(new ArrayBuffer(16));
  view.setUint16(0, tag, littleEndian);
  view.setUint16(2, channels, littleEndian);
  view.setUint32(4, rate, littleEndian);
  view.setUint32(8, (rate * channels * bits) / 8, littleEndian);
  view.setUint16(12, (channels * bits) / 8, littleEndian);
  view.setUint16(14, bits, littleEndian);
  return new Uint8Array(view.buffer);
}

function form(id: string, parts: readonly Uint8Array[], said?: number): Uint8Array {
  const body = Uint8Array.from([...new TextEncoder().encode('WAVE'), ...parts.flatMap((part) => [...part])]);
  return chunk(id, body, id !== 'RIFX', said);
}

const open = (bytes: Uint8Array) => openAudio(memoryFile('a.wav', bytes));
const read = async (bytes: Uint8Array, track = 0) => {
  const file = await open(bytes);
  return [...(await file.read(track, 0, file.length))];
};

test.each(['int16', 'int24', 'int32', 'float32'] as const)(
  'every sample of %s comes back',
  async (format) => {
    const file = await open(writeWav(44_100, tracks, format));
    expect(file).toMatchObject({ sampleRate: 44_100, tracks: 2, length, notices: [] });
    expect(await file.read(0, 0, length)).toEqual(tracks[0]);
    expect(await file.read(1, 0, length)).toEqual(tracks[1]);
  },
);

test('eight bits are unsigned: 0 is −1, 128 is 0, 255 is 127/128', async () => {
  const bytes = form('RIFF', [chunk('fmt ', fmt(1, 1, 8000, 8)), chunk('data', Uint8Array.of(0, 128, 255))]);
  expect(await read(bytes)).toEqual([-1, 0, 127 / 128]);
});

test('float64 keeps its value to single precision, and what is no number stays so', async () => {
  const samples = new Float64Array([0.25, NaN, -Infinity, 1e-3]);
  const data = chunk('data', new Uint8Array(samples.buffer));
  const bytes = form('RIFF', [chunk('fmt ', fmt(3, 1, 48_000, 64)), data]);
  expect(await read(bytes)).toEqual([0.25, NaN, -Infinity, Math.fround(1e-3)]);
});

test('RIFX: the same, the most significant byte first', async () => {
  const data = chunk('data', Uint8Array.of(0x40, 0x00, 0xc0, 0x00), false);
  expect(await read(form('RIFX', [chunk('fmt ', fmt(1, 1, 8000, 16, false), false), data]))).toEqual([
    0.5, -0.5,
  ]);
});

test('chunks of odd length before the samples are passed over with their padding', async () => {
  const data = chunk('data', Uint8Array.of(0, 0x40));
  const bytes = form('RIFF', [
    chunk('junk', new Uint8Array(3)),
    chunk('fmt ', fmt(1, 1, 8000, 16)),
    chunk('bext', new Uint8Array(1)),
    data,
  ]);
  expect(await read(bytes)).toEqual([0.5]);
});

test('extensible: 24 bits in 32, the format in the sub-format', async () => {
  const extra = new Uint8Array(24);
  extra.set([22, 0, 24, 0, 0, 0, 0, 0, 1, 0]);
  const head = Uint8Array.from([...fmt(0xfffe, 1, 48_000, 32), ...extra]);
  const data = chunk('data', Uint8Array.of(0, 0, 0, 0x20));
  expect(await read(form('RIFF', [chunk('fmt ', head), data]))).toEqual([0.25]);
});

test.each(['RF64', 'BW64'])('%s: sizes are in ds64', async (id) => {
  const ds64 = new DataView(new ArrayBuffer(28));
  ds64.setBigUint64(8, 4n, true);
  const data = chunk('data', Uint8Array.of(0, 0x40, 0, 0xc0), true, 0xffffffff);
  const parts = [chunk('ds64', new Uint8Array(ds64.buffer)), chunk('fmt ', fmt(1, 1, 8000, 16)), data];
  const after = chunk('LIST', new Uint8Array(4));
  const bytes = form(id, [...parts, after], 0xffffffff);
  ds64.setBigUint64(0, BigInt(bytes.length - 8), true);
  const whole = form(id, [chunk('ds64', new Uint8Array(ds64.buffer)), ...parts.slice(1), after], 0xffffffff);
  expect((await open(whole)).notices).toEqual([]);
  expect(await read(whole)).toEqual([0.5, -0.5]);
});

test('samples beyond 4 GiB are found: only the bytes asked for are read', async () => {
  const frames = 3_000_000_000;
  const ds64 = new DataView(new ArrayBuffer(28));
  ds64.setBigUint64(0, BigInt(2 * frames + 72), true);
  ds64.setBigUint64(8, BigInt(2 * frames), true);
  const head = form(
    'RF64',
    [chunk('ds64', new Uint8Array(ds64.buffer)), chunk('fmt ', fmt(1, 1, 96_000, 16)), new Uint8Array(8)],
    0xffffffff,
  );
  head.set(chunk('data', new Uint8Array(0), true, 0xffffffff), head.length - 8);
  let mostBytes = 0;
  const file = await openAudio({
    name: 'hour.wav',
    sizeBytes: head.length + 2 * frames,
    read(start = 0, end = head.length + 2 * frames) {
      mostBytes = Math.max(mostBytes, end - start);
      // Each sample holds its own number, modulo 2¹⁵.
      const at = (byte: number) => (byte < head.length ? head[byte] : sampleByte(byte - head.length));
      return Promise.resolve(Uint8Array.from({ length: end - start }, (_, i) => at(start + i)));
    },
  });
  const sampleByte = (byte: number) => ((Math.floor(byte / 2) % 32768) >> (8 * (byte % 2))) & 255;
  expect(file).toMatchObject({ length: frames, sampleRate: 96_000, notices: [] });
  const from = 2_500_000_001;
  expect([...(await file.read(0, from, from + 2))]).toEqual([from, from + 1].map((i) => (i % 32768) / 32768));
  expect(mostBytes).toBeLessThanOrEqual(2 ** 18);
});

test('reads cut anywhere give the same samples, and 0 outside the file', async () => {
  const long = 200_000; // more than a block
  const whole = [ramp(long), ramp(long, 1)];
  const file = await open(writeWav(48_000, whole, 'int24'));
  const place = fc.integer({ min: -100, max: long + 100 });
  await fc.assert(
    fc.asyncProperty(fc.integer({ min: 0, max: 1 }), place, place, async (track, a, b) => {
      const [from, to] = [Math.min(a, b), Math.max(a, b)];
      const samples = await file.read(track, from, to);
      const expected = Float32Array.from({ length: to - from }, (_, i) => whole[track][from + i] ?? 0);
      expectSame(samples, expected);
      const middle = Math.floor((from + to) / 2);
      expectSame(await file.read(track, from, middle), expected.subarray(0, middle - from));
      expectSame(await file.read(track, middle, to), expected.subarray(middle - from));
    }),
    { numRuns: 60, seed: 20_240_607 },
  );
});

test('two tracks read side by side read the file once', async () => {
  const bytes = writeWav(48_000, [ramp(10_000), ramp(10_000, 1)]);
  let calls = 0;
  const memory = memoryFile('a.wav', bytes);
  const counted = { ...memory, read: (a?: number, b?: number) => (calls++, memory.read(a, b)) };
  const file = await openAudio(counted);
  calls = 0;
  await Promise.all([file.read(0, 0, 10_000), file.read(1, 0, 10_000)]);
  await file.read(0, 500, 600);
  expect(calls).toBe(1);
});

test('a WAV cut off in its samples: those that are there are used, and a notice says so', async () => {
  const bytes = writeWav(48_000, [ramp(1000)]).subarray(0, 44 + 2 * 700 + 1);
  const file = await open(bytes);
  expect(file.length).toBe(700);
  expect(file.notices).toEqual([
    {
      kind: 'header-disagrees',
      file: 'a.wav',
      place: 'byte 40',
      message: 'a.wav: the header says 2000 bytes of samples, but 1401 are there; those were used',
    },
  ]);
});

test.each([
  ['0, as a recorder leaves it that was stopped', 0, 1000],
  ['"unknown"', 0xffffffff, 1000],
  ['more than there is', 2_000_000, 1000],
  ['less than there is', 400, 200],
])('a header whose size of samples is %s: what is there is used, with a notice', async (_, said, samples) => {
  const bytes = writeWav(48_000, [ramp(1000).map((x) => Math.abs(x) + 0.01)]);
  new DataView(bytes.buffer).setUint32(40, said, true);
  const file = await open(bytes);
  expect(file.length).toBe(samples);
  expect(file.notices.map(({ kind }) => kind)).toEqual(['header-disagrees']);
});

test('a whole-file size that lies is said, and the samples are used', async () => {
  const bytes = writeWav(48_000, [ramp(1000)]);
  new DataView(bytes.buffer).setUint32(4, 999_999, true);
  const file = await open(bytes);
  expect(file.length).toBe(1000);
  expect(file.notices[0].message).toContain('the header says 1000007 bytes in all, but there are 2044');
});

test('a WAV that cannot be used is one line with the byte', async () => {
  const whole = writeWav(48_000, [ramp(10)]);
  const changed = (at: number, value: number) => {
    const bytes = whole.slice();
    new DataView(bytes.buffer).setUint16(at, value, true);
    return bytes;
  };
  const about = (bytes: Uint8Array) => lineAbout({ 'a.wav': bytes });
  expect(await about(whole.subarray(0, 30))).toMatch(/^a\.wav: byte 30: the "fmt " chunk breaks off; /);
  expect(await about(whole.subarray(0, 36))).toMatch(/^a\.wav: byte 36: there is no "data" chunk: .*cut off/);
  expect(await about(whole.subarray(0, 44))).toMatch(/^a\.wav: byte 44: there are no samples in it; /);
  expect(await about(changed(22, 0))).toMatch(/^a\.wav: byte 22: the header says 0 tracks; /);
  expect(await about(changed(24, 7))).toMatch(/^a\.wav: byte 24: the header says 7 samples a second; /);
  expect(await about(changed(34, 48))).toMatch(/^a\.wav: byte 34: samples of 48 bits are not known here; /);
  expect(await about(changed(8, 0x2020))).toMatch(/^a\.wav: byte 8: this is RIFF, but no WAV; /);
  expect(await about(new Uint8Array(0))).toMatch(/^a\.wav: byte 0: the file is empty; /);
  expect(await about(new TextEncoder().encode('not a sound'))).toMatch(/^a\.wav: byte 0: this is no audio/);
});
