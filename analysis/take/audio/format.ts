/**
 * What kind of audio or video file a file is, by its first bytes. Names tell little: a phone's m4a, mp4, mov and 3gp are
 * one format, and people rename files. Signatures from the formats' own specifications, from memory; each is checked in
 * the tests against a file that another program wrote.
 */

export type FormatId =
  | 'wav'
  | 'w64'
  | 'aiff'
  | 'au'
  | 'voc'
  | 'flac'
  | 'ogg'
  | 'caf'
  | 'mp4'
  | 'mkv'
  | 'avi'
  | 'asf'
  | 'mpeg'
  | 'aac'
  | 'ac3'
  | 'dts'
  | 'wv'
  | 'tta'
  | 'mpc'
  | 'ape'
  | 'qoa'
  | 'amr'
  | 'dsd'
  | 'flv'
  | 'ts'
  | 'ps'
  | 'rm';

/** As people call a format, and the codec of those that hold one only; others are looked into (coding.ts). */
export const formats: Readonly<Record<FormatId, { readonly name: string; readonly codec?: string }>> = {
  wav: { name: 'WAV' },
  w64: { name: 'Wave64' },
  aiff: { name: 'AIFF' },
  au: { name: 'AU' },
  voc: { name: 'VOC' },
  flac: { name: 'FLAC', codec: 'FLAC' },
  ogg: { name: 'Ogg' },
  caf: { name: 'CAF' },
  mp4: { name: 'MP4 (m4a, mov, 3gp)' },
  mkv: { name: 'Matroska (mkv, webm)' },
  avi: { name: 'AVI' },
  asf: { name: 'ASF (wma)', codec: 'WMA' },
  mpeg: { name: 'MPEG audio (mp3, mp2)' },
  aac: { name: 'AAC stream', codec: 'AAC' },
  ac3: { name: 'AC-3', codec: 'AC-3' },
  dts: { name: 'DTS', codec: 'DTS' },
  wv: { name: 'WavPack', codec: 'WavPack' },
  tta: { name: 'TTA', codec: 'TTA' },
  mpc: { name: 'Musepack', codec: 'Musepack' },
  ape: { name: 'APE', codec: 'APE' },
  qoa: { name: 'QOA', codec: 'QOA' },
  amr: { name: 'AMR', codec: 'AMR' },
  dsd: { name: 'DSD', codec: 'DSD' },
  flv: { name: 'FLV' },
  ts: { name: 'MPEG transport stream' },
  ps: { name: 'MPEG program stream' },
  rm: { name: 'RealMedia', codec: 'RealAudio' },
};

/** Bytes that `formatOf` needs: two frames of MPEG audio at its highest rate and lowest sampling, with room. */
export const formatHeadBytes = 4096;

/** @returns null where the bytes are no recording's */
export function formatOf(head: Uint8Array): FormatId | null {
  const text = (from: number, to: number) => String.fromCharCode(...head.subarray(from, to));
  const start = text(0, 4);
  if (/^(RIFF|RIFX|RF64|BW64)$/.test(start)) return riffForms[text(8, 12)] ?? null;
  if (start === 'FORM') return /^AIF[FC]$/.test(text(8, 12)) ? 'aiff' : null;
  // Wave64's chunk names are GUIDs: this is RIFF's, whole.
  if (text(0, 16) === 'riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb\x04\xc1\x00\x00') return 'w64';
  if (text(0, 16) === '\x30\x26\xb2\x75\x8e\x66\xcf\x11\xa6\xd9\x00\xaa\x00\x62\xce\x6c') return 'asf';
  if (text(0, 19) === 'Creative Voice File') return 'voc';
  const box = text(4, 8);
  if (box === 'ftyp') return /^(heic|heix|hevc|mif1|msf1|avif|avis|crx )$/.test(text(8, 12)) ? null : 'mp4';
  // Files of before "ftyp": the first box is one of these, and its size is that of a box.
  if (/^(moov|mdat|wide|pnot)$/.test(box) && head[0] <= 1) return 'mp4';
  return byStart[start] ?? byPrefix(head, text) ?? framed(head);
}

const riffForms: Readonly<Record<string, FormatId>> = { WAVE: 'wav', 'AVI ': 'avi' };

const byStart: Readonly<Record<string, FormatId>> = {
  '.snd': 'au',
  'dns.': 'au',
  fLaC: 'flac',
  OggS: 'ogg',
  caff: 'caf',
  '\x1a\x45\xdf\xa3': 'mkv',
  wvpk: 'wv',
  TTA1: 'tta',
  MPCK: 'mpc',
  'MAC ': 'ape',
  qoaf: 'qoa',
  'DSD ': 'dsd',
  FRM8: 'dsd',
  '.RMF': 'rm',
  '\x00\x00\x01\xba': 'ps',
  '\x7f\xfe\x80\x01': 'dts',
  '\xfe\x7f\x01\x80': 'dts',
};

function byPrefix(head: Uint8Array, text: (from: number, to: number) => string): FormatId | null {
  if (text(0, 5) === '#!AMR') return 'amr';
  if (text(0, 3) === 'MP+') return 'mpc';
  if (text(0, 4) === 'FLV\x01') return 'flv';
  if (head[0] === 0x47 && head[188] === 0x47 && head[376] === 0x47) return 'ts';
  if (text(0, 3) === 'ID3') return behindTag(head);
  return null;
}

/** An ID3 tag stands before MPEG audio mostly, but before others too; where it is longer than what was read, before MPEG. */
function behindTag(head: Uint8Array): FormatId | null {
  const rest = head.subarray(tagBytes(head));
  return rest.length < 4 ? 'mpeg' : (formatOf(rest) ?? 'mpeg');
}

/** Length of an ID3v2 tag at the start, 0 where there is none (id3.org, ID3v2.4 §3.1: 7 bits a byte). */
export function tagBytes(head: Uint8Array): number {
  if (String.fromCharCode(...head.subarray(0, 3)) !== 'ID3' || head.length < 10) return 0;
  const size = (head[6] << 21) | (head[7] << 14) | (head[8] << 7) | head[9];
  return 10 + size + (head[5] & 0x10 ? 10 : 0);
}

/** Formats that are frames from the first byte on; two in a row must fit, since two bytes of a mark are found by chance. */
function framed(head: Uint8Array): FormatId | null {
  const first = mpegFrame(head, 0);
  if (first !== null && mpegFrame(head, first.bytes) !== null) return 'mpeg';
  const adts = adtsBytes(head, 0);
  if (adts > 0 && adtsBytes(head, adts) > 0) return 'aac';
  if (head[0] === 0x0b && head[1] === 0x77 && head.length > 8) return 'ac3';
  return null;
}

/** kbit/s by version (1, then 2 and 2.5), layer (II, III) and index (ISO/IEC 11172-3 and 13818-3). */
const mpegRates: Readonly<Record<string, readonly number[]>> = {
  '1 2': [0, 32, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 384],
  '1 3': [0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320],
  '2 2': [0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160],
  '2 3': [0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160],
};

export interface MpegFrame {
  readonly layer: 2 | 3;
  readonly bytes: number;
  readonly samples: number;
  readonly sampleRate: number;
  /** Bytes of header, check and side information, behind which an encoder's own header stands. */
  readonly sideBytes: number;
}

/** @returns null where no frame of MPEG audio, layer II or III, begins at this byte */
export function mpegFrame(bytes: Uint8Array, at: number): MpegFrame | null {
  if (at + 4 > bytes.length || bytes[at] !== 0xff || (bytes[at + 1] & 0xe0) !== 0xe0) return null;
  const version = (bytes[at + 1] >> 3) & 3; // 3: MPEG-1, 2: MPEG-2, 0: 2.5
  const layer = 4 - ((bytes[at + 1] >> 1) & 3);
  const rateIndex = (bytes[at + 2] >> 2) & 3;
  const bitrateIndex = bytes[at + 2] >> 4;
  if (version === 1 || (layer !== 2 && layer !== 3) || rateIndex === 3) return null;
  if (bitrateIndex === 0 || bitrateIndex === 15) return null;
  const first = version === 3;
  const sampleRate = [44_100, 48_000, 32_000][rateIndex] / (first ? 1 : version === 2 ? 2 : 4);
  const bitrate = 1000 * mpegRates[`${first ? 1 : 2} ${layer}`][bitrateIndex];
  const padding = (bytes[at + 2] >> 1) & 1;
  const samples = layer === 3 && !first ? 576 : 1152;
  const mono = bytes[at + 3] >> 6 === 3;
  return {
    layer,
    sampleRate,
    samples,
    bytes: Math.floor(((samples / 8) * bitrate) / sampleRate) + padding,
    sideBytes: 4 + (first ? (mono ? 17 : 32) : mono ? 9 : 17),
  };
}

/** Length of the ADTS frame at this byte, 0 where there is none (ISO/IEC 13818-7 §6.2). */
function adtsBytes(bytes: Uint8Array, at: number): number {
  if (at + 7 > bytes.length || bytes[at] !== 0xff || (bytes[at + 1] & 0xf6) !== 0xf0) return 0;
  const length = ((bytes[at + 3] & 3) << 11) | (bytes[at + 4] << 3) | (bytes[at + 5] >> 5);
  return length > 7 ? length : 0;
}
