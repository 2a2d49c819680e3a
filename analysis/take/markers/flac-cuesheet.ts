/**
 * FLAC CUESHEET (RFC 9639, section 8.7): tracks with a start in samples, each with index points that count from it.
 * It carries no titles, so a marker's label is "track 3", or "track 3 index 2" beyond a track's first point; map them
 * under "labels" in take.jsonc.
 */
import type { SourceFile } from '../../ports.ts';
import { viewOf } from '../audio/chunks.ts';
import { unreadable, type MarkerReader, type RawMarker } from './marker-reader.ts';

const CUESHEET = 5;
const headBytes = 396;
const trackBytes = 36;
const indexBytes = 12;
/** 255 tracks of 255 points: the most that the format can hold. */
const maxBlockBytes = headBytes + 255 * (trackBytes + 255 * indexBytes);
/** Programs write a dozen; a file may be made of empty ones, each of which costs a read. */
const maxBlocks = 1000;
/** The lead-out's track number on a CD and elsewhere: the end of the audio, which nobody marked. */
const leadOuts = [170, 255];

export const flacCuesheet: MarkerReader = {
  what: 'FLAC cue sheet',
  recognises: (_, head) => /^(fLaC|ID3)/.test(String.fromCharCode(...head.subarray(0, 4))),
  async read(file, audio) {
    const block = await cuesheetOf(file);
    if (!block || !audio) return null;
    const markers: RawMarker[] = [];
    let at = headBytes;
    for (let left = block.byteLength >= headBytes ? block.getUint8(headBytes - 1) : 0; left > 0; left--) {
      if (at + trackBytes > block.byteLength) return cut(file.name, markers);
      const start = Number(block.getBigUint64(at));
      const number = block.getUint8(at + 8);
      const points = block.getUint8(at + 35);
      at += trackBytes;
      if (at + points * indexBytes > block.byteLength) return cut(file.name, markers);
      for (let i = 0; i < points; i++, at += indexBytes) {
        const index = block.getUint8(at + 8);
        const timeS = (start + Number(block.getBigUint64(at))) / audio.sampleRate;
        const label = index === 1 ? `track ${number}` : `track ${number} index ${index}`;
        if (!leadOuts.includes(number)) markers.push({ timeS, endS: null, label, place: label });
      }
    }
    return { markers, notices: [] };
  },
};

function cut(file: string, markers: RawMarker[]) {
  return { markers, notices: [unreadable(file, 'CUESHEET', 'the cue sheet is cut off')] };
}

/** Metadata blocks follow "fLaC": a byte of type (its top bit marks the last), three of length, the body. */
async function cuesheetOf(file: SourceFile): Promise<DataView | null> {
  let at = await startOf(file);
  if (at === null) return null;
  for (let block = 0; block < maxBlocks; block++) {
    const header = await file.read(at, at + 4);
    if (header.length < 4) return null;
    const size = (header[1] << 16) | (header[2] << 8) | header[3];
    if ((header[0] & 0x7f) === CUESHEET) {
      return viewOf(await file.read(at + 4, at + 4 + Math.min(size, maxBlockBytes)));
    }
    if (header[0] & 0x80) return null;
    at += 4 + size;
  }
  return null;
}

/** Some programs put an ID3v2 tag before the stream; its length is in four bytes of seven bits. */
async function startOf(file: SourceFile): Promise<number | null> {
  const head = await file.read(0, 10);
  const tag = String.fromCharCode(...head.subarray(0, 3)) === 'ID3' && head.length === 10;
  const skip = tag ? 10 + ((head[6] << 21) | (head[7] << 14) | (head[8] << 7) | head[9]) : 0;
  const magic = await file.read(skip, skip + 4);
  return String.fromCharCode(...magic) === 'fLaC' ? skip + 4 : null;
}
