/**
 * FLAC CUESHEET (RFC 9639, section 8.7): tracks with a start in samples, each with index points that count from it.
 * It carries no titles, so a marker's label is "track 3", or "track 3 index 2" beyond a track's first point; map them
 * under "labels" in take.jsonc.
 */
import { flacBlock } from './flac-blocks.ts';
import { unreadable, type MarkerReader, type RawMarker } from './marker-reader.ts';

const CUESHEET = 5;
const headBytes = 396;
const trackBytes = 36;
const indexBytes = 12;
/** 255 tracks of 255 points: the most that the format can hold. */
const maxBlockBytes = headBytes + 255 * (trackBytes + 255 * indexBytes);
/** The lead-out's track number on a CD and elsewhere: the end of the audio, which nobody marked. */
const leadOuts = [170, 255];

export const flacCuesheet: MarkerReader = {
  what: 'FLAC cue sheet',
  recognises: (_, head) => /^(fLaC|ID3)/.test(String.fromCharCode(...head.subarray(0, 4))),
  async read(file, audio) {
    const block = await flacBlock(file, CUESHEET, maxBlockBytes);
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
