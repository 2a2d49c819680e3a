/** How much a FLAC file unpacks to, told from its frames' headers (RFC 9639, 9.1) without decoding any. */
import { afterId3 } from './id3.ts';

/** CRC of the header: polynomial x⁸ + x² + x + 1, no reflection (RFC 9639, 9.1.8). */
const crc8 = Uint8Array.from({ length: 256 }, (_, byte) => {
  let crc = byte;
  for (let bit = 0; bit < 8; bit++) crc = ((crc << 1) ^ (crc & 0x80 ? 0x07 : 0)) & 0xff;
  return crc;
});

/**
 * What STREAMINFO says may be a lie, so the frames are counted. A header by chance, which the sync word and the checksum
 * let through once in some ten million bytes, counts too.
 *
 * @returns samples of all tracks together; 0 where the bytes are no FLAC, neither plain nor in Ogg
 */
export function flacSamples(bytes: Uint8Array): number {
  const text = (from: number, to: number) => String.fromCharCode(...bytes.subarray(from, to));
  const start = text(0, 3) === 'ID3' ? afterId3(bytes) : 0;
  if (text(start, start + 4) === 'fLaC') return samplesOf(bytes);
  return text(0, 4) === 'OggS' && text(28, 33) === '\x7fFLAC' ? samplesOf(pagesJoined(bytes)) : 0;
}

function samplesOf(bytes: Uint8Array): number {
  let samples = 0;
  for (let at = bytes.indexOf(0xff); at >= 0; at = bytes.indexOf(0xff, at + 1))
    if ((bytes[at + 1] & 0xfe) === 0xf8) samples += samplesOfFrame(bytes, at);
  return samples;
}

/** 0 where no frame's header stands there. */
function samplesOfFrame(bytes: Uint8Array, at: number): number {
  const sizeCode = bytes[at + 2] >> 4;
  const rateCode = bytes[at + 2] & 15;
  const tracksCode = bytes[at + 3] >> 4;
  if (sizeCode === 0 || rateCode === 15 || tracksCode > 10) return 0;
  // The frame's number, coded as UTF-8 codes a character.
  const coded = bytes[at + 4];
  const numberBytes = coded < 0x80 ? 1 : Math.clz32(~(coded << 24));
  let next = at + 4 + numberBytes;
  let size = sizeCode === 1 ? 192 : sizeCode < 6 ? 144 * 2 ** sizeCode : 2 ** sizeCode;
  if (sizeCode === 6) size = bytes[next++] + 1;
  if (sizeCode === 7) [size, next] = [bytes[next] * 256 + bytes[next + 1] + 1, next + 2];
  next += rateCode === 12 ? 1 : rateCode > 12 ? 2 : 0;
  if (next >= bytes.length) return 0;
  let crc = 0;
  for (let i = at; i < next; i++) crc = crc8[crc ^ bytes[i]];
  if (crc !== bytes[next]) return 0;
  return size * (tracksCode < 8 ? tracksCode + 1 : 2);
}

/** What the pages of an Ogg file carry (RFC 3533, 6), so that no header is cut in two. */
function pagesJoined(bytes: Uint8Array): Uint8Array {
  const out = new Uint8Array(bytes.length);
  let length = 0;
  for (let at = 0; at + 27 <= bytes.length;) {
    const segments = bytes.subarray(at + 27, at + 27 + bytes[at + 26]);
    const from = at + 27 + segments.length;
    const to = from + segments.reduce((sum, size) => sum + size, 0);
    out.set(bytes.subarray(from, to), length);
    length += Math.min(to, bytes.length) - Math.min(from, bytes.length);
    at = to;
  }
  return out.subarray(0, length);
}
