/** Recordings known by their bytes under any name, as ffmpeg (Debian's) writes them: opened, or named with the way out. */
import { expect, test } from 'vitest';
import { audioEndings } from '../../analysis/take/audio/names.ts';
import { openAudio } from '../../analysis/take/audio/open.ts';
import { kindOf } from '../../analysis/take/kinds.ts';
import { writeWav } from '../../samples/wav.ts';
import manifest from '../../package.json' with { type: 'json' };
import { lineAbout, memoryFile, takeOf } from './files.ts';
import { run, testWith, type Need } from './tools.ts';

const rate = 48_000;
const seconds = 2;
/** A tone with a strike every 0.4 s: it survives every codec, and a cut anywhere loses some of it. */
const sound = Float32Array.from({ length: rate * seconds }, (_, i) => {
  const t = i / rate;
  return (
    0.05 * Math.sin(2 * Math.PI * 440 * t) +
    0.5 * Math.exp(-(t % 0.4) / 0.02) * Math.sin(2 * Math.PI * 900 * t)
  );
});
const wav = writeWav(rate, [sound]);

/** ffmpeg, with the coder that the arguments name; those of a container's own choice every build has. */
function needed(args: readonly string[]): Need[] {
  const coder = args[args.indexOf('-c:a') + 1];
  return args.includes('-c:a') ? [`ffmpeg with ${coder}`] : ['ffmpeg'];
}

function encoded(name: string, ...args: string[]): Uint8Array {
  return run(['ffmpeg', '-v', 'error', '-i', 'in.wav', ...args, name], { 'in.wav': wav }, name);
}

/** Name, arguments, codec, whether it throws sound away, whether the file says where it begins. */
const opened: [name: string, args: string[], codec: string, lossy: boolean, startKnown: boolean][] = [
  ['a.w64', [], 'PCM', false, true],
  ['a.au', [], 'PCM', false, true],
  ['a.aiff', [], 'PCM', false, true],
  ['a.caf', [], 'PCM', false, true],
  ['a.flac', [], 'FLAC', false, true],
  ['a.wv', [], 'WavPack', false, true],
  ['a.tta', [], 'TTA', false, true],
  ['pcm.mov', ['-c:a', 'pcm_s16le'], 'PCM', false, true],
  ['alac.m4a', ['-c:a', 'alac'], 'ALAC', false, true],
  ['a.m4a', ['-c:a', 'aac', '-b:a', '64k'], 'AAC', true, true],
  ['a.mp4', ['-c:a', 'aac'], 'AAC', true, true],
  ['a.mov', ['-c:a', 'aac'], 'AAC', true, true],
  ['a.3gp', ['-c:a', 'aac'], 'AAC', true, true],
  ['a.aac', ['-c:a', 'aac'], 'AAC', true, false],
  ['a.ogg', ['-c:a', 'libvorbis'], 'Vorbis', true, true],
  ['a.opus', ['-c:a', 'libopus', '-b:a', '64k'], 'Opus', true, true],
  ['a.mkv', ['-c:a', 'libopus'], 'Opus', true, true],
  ['a.webm', ['-c:a', 'libopus'], 'Opus', true, true],
  ['pcm.mkv', ['-c:a', 'pcm_s16le'], 'PCM', false, true],
  ['a.mp3', ['-c:a', 'libmp3lame', '-b:a', '128k'], 'MP3', true, true],
  ['bare.mp3', ['-c:a', 'libmp3lame', '-b:a', '128k', '-write_xing', '0'], 'MP3', true, false],
  ['a.mp2', ['-b:a', '128k'], 'MP2', true, false],
  ['a.ac3', [], 'AC-3', true, false],
  ['a.wma', ['-c:a', 'wmav2'], 'WMA', true, false],
  ['adpcm.wav', ['-c:a', 'adpcm_ms'], 'ADPCM', true, true],
];
for (const [name, args, codec, lossy, startKnown] of opened) {
  testWith(needed(args), `${name}: opened under no name at all, coded with ${codec}`, async () => {
    const bytes = encoded(name, ...args);
    const file = memoryFile('recording', bytes);
    expect(await kindOf(file)).toBe('audio');
    const audio = await openAudio(file);
    expect(audio).toMatchObject({ sampleRate: rate, tracks: 1, notices: [] });
    expect(audio.coding).toMatchObject({ codec, lossy, startKnown });
    // Coders add at most a few frames before and behind (from memory: WMA's of 2048 samples are the longest).
    expect(Math.abs(audio.length / rate - seconds)).toBeLessThan(0.1);
    if (args.includes('64k')) expect(audio.coding.bitsPerSecond).toBeGreaterThan(40_000);
    if (args.includes('64k')) expect(audio.coding.bitsPerSecond).toBeLessThan(90_000);
  });
}

testWith(['ffmpeg'], 'a video from a phone: its sound is opened', async () => {
  const picture = ['-f', 'lavfi', '-i', `testsrc=size=64x48:rate=10:duration=${seconds}`];
  for (const name of ['v.mp4', 'v.mov', 'v.mkv']) {
    const bytes = encoded(name, ...picture, '-c:v', 'mpeg4', '-c:a', 'aac');
    const audio = await openAudio(memoryFile('IMG 0001', bytes));
    expect(audio).toMatchObject({ sampleRate: rate, tracks: 1 });
    expect(audio.coding.codec).toBe('AAC');
  }
});

const refused: [name: string, args: string[], line: RegExp][] = [
  ['a.voc', ['-c:a', 'pcm_s16le'], /^x: byte 0: VOC cannot be decoded here/],
  ['a.flv', ['-c:a', 'aac'], /^x: byte 0: FLV cannot be decoded here/],
  ['a.ts', ['-c:a', 'aac'], /^x: byte 0: MPEG transport stream cannot be decoded here/],
  ['alac.caf', ['-c:a', 'alac'], /^x: byte 0: CAF with ALAC in it cannot be decoded here/],
  ['mp3.wav', ['-c:a', 'libmp3lame'], /^x: byte 0: WAV with MP3 in it cannot be decoded here/],
  ['mulaw.au', ['-c:a', 'pcm_mulaw'], /^x: byte 0: AU with µ-law in it cannot be decoded here/],
];
for (const [name, args, line] of refused) {
  testWith(needed(args), `${name} is named, with the way out`, async () => {
    const said = await lineAbout({ x: encoded(name, ...args) });
    expect(said).toMatch(line);
    expect(said).toMatch(/turn it into WAV or FLAC with any audio or video converter/);
  });
}

testWith(['ffmpeg'], 'a film that was cut off before its index, and one without sound', async () => {
  const whole = encoded('a.mov', '-c:a', 'aac');
  expect(await lineAbout({ 'a.mov': whole.subarray(0, whole.length >> 1) })).toMatch(
    /^a\.mov: byte 0: there is no track of sound in it, or its index \("moov"\) is missing/,
  );
});

const cut: [name: string, args: string[]][] = [
  ['a.wav', []],
  ['a.w64', []],
  ['a.au', []],
  ['a.flac', []],
  ['a.aiff', []],
  ['a.caf', []],
  ['a.tta', []],
  ['a.wv', []],
  ['a.ogg', ['-c:a', 'libvorbis']],
  ['a.opus', ['-c:a', 'libopus']],
  ['a.mp3', ['-c:a', 'libmp3lame']],
  ['bare.mp3', ['-c:a', 'libmp3lame', '-write_xing', '0']],
  ['a.mkv', ['-c:a', 'libopus']],
  ['faststart.m4a', ['-c:a', 'aac', '-movflags', 'faststart']],
  ['a.wma', ['-c:a', 'wmav2']],
];
for (const [name, args] of cut) {
  testWith(needed(args), `${name}, cut off: what is there is used, and it is told`, async () => {
    const bytes = encoded(name, ...args);
    const take = await takeOf({ [name]: bytes.subarray(0, Math.floor(0.7 * bytes.length)) });
    const [track] = take.tracks;
    expect(track.length / track.sampleRate).toBeGreaterThan(0.4 * seconds);
    expect(track.length / track.sampleRate).toBeLessThan(0.9 * seconds);
    expect(take.notices).toMatchObject([{ kind: 'header-disagrees', file: name }]);
    expect(take.notices[0].message).toMatch(/used$/);
  });
}

test('text that begins like a frame of MPEG audio, and a picture from a phone, are no recordings', async () => {
  const utf16 = Uint8Array.from([0xff, 0xfe, ...Array.from('1,drum\n', (c) => [c.charCodeAt(0), 0]).flat()]);
  expect(await kindOf(memoryFile('m', utf16))).not.toBe('audio');
  const heic = new Uint8Array(64);
  heic.set(new TextEncoder().encode('\0\0\0\x18ftypheic'));
  expect(await kindOf(memoryFile('IMG_0002.HEIC', heic))).toBe('set-apart');
});

test('the editor offers a new take from every ending that is known', () => {
  const { when } = manifest.contributes.menus['explorer/context'].find(
    ({ command }) => command === 'shimwright.createTake',
  )!;
  const pattern = /resourceExtname =~ \/(.*?)\/i /.exec(when)![1].replaceAll('\\\\', '\\');
  for (const ending of audioEndings) expect(`.${ending}`).toMatch(new RegExp(pattern));
});
