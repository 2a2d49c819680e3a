/**
 * How a decoded file's sound was coded: with which codec, whether something of it was thrown away and at which rate, and
 * whether the file says how much silence the codec put before the first sample. Where it does not, the file may begin
 * some hundredths of a second early or late against one of another codec.
 */
import { letters, viewOf } from './chunks.ts';
import { formats, mpegFrame, tagBytes, type FormatId } from './format.ts';
import { has, mp4Sound } from './mp4.ts';

export interface Coding {
  /** As people call it: "AAC", "Opus", "PCM"; empty where the file does not tell. */
  readonly codec: string;
  /** Whether sound was thrown away to make the file smaller. */
  readonly lossy: boolean;
  /** Of the coded sound, all its tracks together, bits a second; null where the file does not tell. */
  readonly bitsPerSecond: number | null;
  /** false where the file does not say how late its codec begins. */
  readonly startKnown: boolean;
}

/** Samples as they were recorded: nothing thrown away, and the first is the first. */
export const plainCoding: Coding = { codec: 'PCM', lossy: false, bitsPerSecond: null, startKnown: true };

/** Lossless codings begin with the first sample that was recorded; so do Vorbis and Opus, by their specifications. */
const lossless = new Set(['PCM', 'FLAC', 'ALAC', 'WavPack', 'TTA', 'APE', 'DSD']);
const startsExactly = new Set([...lossless, 'Vorbis', 'Opus', 'QOA', 'A-law', 'µ-law', 'ADPCM']);

/**
 * @param bytes   the whole file
 * @param seconds of sound that were decoded from it; 0 where none could be
 */
export function codingOf(format: FormatId | null, bytes: Uint8Array, seconds: number): Coding {
  const { codec, codedBytes, delayKnown = false } = soundOf(format, bytes);
  return {
    codec,
    lossy: !lossless.has(codec),
    bitsPerSecond: codedBytes === null || !(seconds > 0) ? null : (8 * codedBytes) / seconds,
    startKnown: delayKnown || startsExactly.has(codec),
  };
}

interface Sound {
  readonly codec: string;
  readonly codedBytes: number | null;
  readonly delayKnown?: boolean;
}

/** Where the file does not name its codec, or not where it is looked for. */
const unnamed = '';

function soundOf(format: FormatId | null, bytes: Uint8Array): Sound {
  if (format === null) return { codec: unnamed, codedBytes: bytes.length };
  return soundIn[format]?.(bytes) ?? { codec: formats[format].codec ?? unnamed, codedBytes: bytes.length };
}

/** Formats that hold sound in one of several codings. */
const soundIn: Partial<Record<FormatId, (bytes: Uint8Array) => Sound>> = {
  mp4: (bytes) => {
    const sound = mp4Sound(bytes);
    if (sound === null) return { codec: unnamed, codedBytes: null };
    return { ...sound, codec: mp4Codecs[sound.codec] ?? `“${sound.codec.trim()}”` };
  },
  mkv: (bytes) => ({
    codec: mkvCodec(bytes),
    codedBytes: has(bytes.subarray(0, mkvHead), 'V_') ? null : bytes.length,
  }),
  ogg: (bytes) => ({ codec: oggCodec(bytes), codedBytes: bytes.length }),
  mpeg: mpegSound,
  wav: (bytes) => ({ codec: riffCodec(bytes), codedBytes: bytes.length }),
  avi: (bytes) => ({ codec: riffCodec(bytes), codedBytes: null }),
  w64: (bytes) => ({
    codec: tagName(bytes.length > 106 ? viewOf(bytes).getUint16(104, true) : 0),
    codedBytes: bytes.length,
  }),
  caf: (bytes) => ({ codec: cafCodec(bytes), codedBytes: bytes.length }),
  aiff: (bytes) => ({ codec: aiffCodec(bytes), codedBytes: bytes.length }),
};

/** Sample entries (mp4ra.org, from memory). */
const mp4Codecs: Readonly<Record<string, string>> = {
  mp4a: 'AAC',
  alac: 'ALAC',
  fLaC: 'FLAC',
  Opus: 'Opus',
  '.mp3': 'MP3',
  'ac-3': 'AC-3',
  'ec-3': 'E-AC-3',
  samr: 'AMR',
  sawb: 'AMR-WB',
  sowt: 'PCM',
  twos: 'PCM',
  lpcm: 'PCM',
  ipcm: 'PCM',
  fpcm: 'PCM',
  in24: 'PCM',
  in32: 'PCM',
  fl32: 'PCM',
  fl64: 'PCM',
  'raw ': 'PCM',
  alaw: 'A-law',
  ulaw: 'µ-law',
  ima4: 'ADPCM',
};

/** Track headers stand before the sound; codec names are text. */
const mkvHead = 2 ** 18;

function mkvCodec(bytes: Uint8Array): string {
  const text = String.fromCharCode(...bytes.subarray(0, 2 ** 15));
  const id = /A_[A-Z0-9_/]+/.exec(text)?.[0] ?? '';
  const known = Object.entries(mkvCodecs).find(([start]) => id.startsWith(start));
  return known?.[1] ?? (id === '' ? unnamed : id);
}

/** Matroska's codec names (RFC 9559's registry, from memory). */
const mkvCodecs: Readonly<Record<string, string>> = {
  A_PCM: 'PCM',
  A_OPUS: 'Opus',
  A_VORBIS: 'Vorbis',
  A_FLAC: 'FLAC',
  A_ALAC: 'ALAC',
  A_AAC: 'AAC',
  'A_MPEG/L3': 'MP3',
  'A_MPEG/L2': 'MP2',
  A_AC3: 'AC-3',
  A_EAC3: 'E-AC-3',
  A_DTS: 'DTS',
  A_WAVPACK: 'WavPack',
  A_TTA: 'TTA',
};

/** The first packet of an Ogg stream names its codec (RFC 3533 and each codec's mapping). */
function oggCodec(bytes: Uint8Array): string {
  const text = String.fromCharCode(...bytes.subarray(0, 128));
  if (text.includes('OpusHead')) return 'Opus';
  if (text.includes('\x01vorbis')) return 'Vorbis';
  if (text.includes('\x7fFLAC')) return 'FLAC';
  return text.includes('Speex') ? 'Speex' : unnamed;
}

/** An encoder's own header, in the first frame, says how many samples it put before the first: behind "LAME" or "Lavc". */
function mpegSound(bytes: Uint8Array): Sound {
  const at = tagBytes(bytes);
  const frame = mpegFrame(bytes, at);
  const codec = frame?.layer === 2 ? 'MP2' : 'MP3';
  const codedBytes = bytes.length - at;
  if (!frame || at + frame.sideBytes + 4 > bytes.length) return { codec, codedBytes };
  const header = letters(viewOf(bytes), at + frame.sideBytes);
  const within = bytes.subarray(at + frame.sideBytes, at + frame.bytes);
  const named = has(within, 'LAME') || has(within, 'Lavc') || has(within, 'Lavf');
  return { codec, codedBytes, delayKnown: (header === 'Xing' || header === 'Info') && named };
}

function riffCodec(bytes: Uint8Array): string {
  // The format stands in "fmt " of a WAV, in a "strf" behind an "auds" of an AVI.
  const view = viewOf(bytes.subarray(0, 2 ** 16));
  const isAvi = bytes.length > 12 && letters(view, 8) === 'AVI ';
  let sound = !isAvi;
  for (let at = 12; at + 12 <= view.byteLength; at++) {
    const name = letters(view, at);
    if (name === 'auds') sound = true;
    if (sound && name === (isAvi ? 'strf' : 'fmt ')) return tagName(view.getUint16(at + 8, true));
  }
  return unnamed;
}

/** WAVE format tags (mmreg.h, from memory). */
const tags: Readonly<Record<number, string>> = {
  0x01: 'PCM',
  0x03: 'PCM',
  0x02: 'ADPCM',
  0x06: 'A-law',
  0x07: 'µ-law',
  0x11: 'ADPCM',
  0x31: 'GSM 6.10',
  0x50: 'MP2',
  0x55: 'MP3',
  0xff: 'AAC',
  0x160: 'WMA',
  0x161: 'WMA',
  0x162: 'WMA',
  0x2000: 'AC-3',
  0x2001: 'DTS',
  0xfffe: 'PCM',
};

function tagName(tag: number): string {
  return tags[tag] ?? `WAVE format 0x${tag.toString(16)}`;
}

/** The "desc" chunk comes first; its format is four letters behind the sampling rate. */
function cafCodec(bytes: Uint8Array): string {
  if (bytes.length < 32) return unnamed;
  const name = letters(viewOf(bytes), 28);
  return (
    { lpcm: 'PCM', alac: 'ALAC', 'aac ': 'AAC', ima4: 'ADPCM', ulaw: 'µ-law', alaw: 'A-law' }[name] ??
    `“${name.trim()}”`
  );
}

/** AIFF is PCM; AIFF-C names its coding at the end of "COMM". */
function aiffCodec(bytes: Uint8Array): string {
  const head = viewOf(bytes.subarray(0, 2 ** 14));
  if (head.byteLength < 12 || letters(head, 8) !== 'AIFC') return 'PCM';
  for (let at = 12; at + 30 <= head.byteLength; at++) {
    if (letters(head, at) !== 'COMM') continue;
    const name = letters(head, at + 26);
    return (
      {
        NONE: 'PCM',
        sowt: 'PCM',
        fl32: 'PCM',
        FL32: 'PCM',
        fl64: 'PCM',
        ima4: 'ADPCM',
        ulaw: 'µ-law',
        alaw: 'A-law',
      }[name] ?? `“${name}”`
    );
  }
  return 'PCM';
}
