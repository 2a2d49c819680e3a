/**
 * RIFF `cue ` and `LIST adtl` (Multimedia Programming Interface and Data Specifications 1.0, 1991): cue points are
 * records of 24 bytes (id, position, chunk, chunk start, block start, sample offset); labl, note and ltxt chunks give
 * a cue's text, its remark and its length.
 */
import { bodyOf, letters, readForm, type Chunk, type Form } from '../audio/chunks.ts';
import type { SourceFile } from '../../ports.ts';
import { InputProblem } from '../../input/problem.ts';
import {
  labelOf,
  maxMarkers,
  refuseTooMany,
  unreadable,
  type MarkerReader,
  type RawMarker,
} from './marker-reader.ts';

const recordBytes = 24;
/** Texts for every cue, and as much again. */
const maxListBytes = 2 * maxMarkers * 64;

export const riffCues: MarkerReader = {
  what: 'RIFF cue points with their labels',
  recognises: (_, head) =>
    /^(RIFF|RIFX|RF64|BW64)....WAVE/s.test(String.fromCharCode(...head.subarray(0, 12))),
  async read(file, audio) {
    const form = await readForm(file);
    const chunk = form?.chunks.find(({ id }) => id === 'cue ');
    if (!form || !chunk || !audio) return null;
    const body = await bodyOf(file, chunk, 4 + recordBytes * (maxMarkers + 1));
    const said = body.byteLength >= 4 ? body.getUint32(0, form.littleEndian) : 0;
    const there = Math.max(0, Math.floor((body.byteLength - 4) / recordBytes));
    refuseTooMany(file.name, Math.min(said, there));
    const texts = await textsOf(file, form);
    const markers = Array.from({ length: Math.min(said, there) }, (_, i): RawMarker => {
      const u32 = (at: number) => body.getUint32(4 + recordBytes * i + at, form.littleEndian);
      const id = u32(0);
      // The sample offset is the place; some writers fill only the position in the play order, which means the same
      // where the samples are in one chunk.
      const sample = u32(20) || u32(4);
      const { label = '', note = '', text = '', samples = 0 } = texts.get(id) ?? {};
      return {
        timeS: sample / audio.sampleRate,
        endS: samples > 0 ? (sample + samples) / audio.sampleRate : null,
        label: label || text || note,
        place: `cue ${i + 1}`,
      };
    });
    if (said > there && there === 0) {
      throw new InputProblem(
        file.name,
        `byte ${chunk.at}`,
        'its cue list is cut off',
        'export the recording again',
      );
    }
    const missing =
      said > there ? [unreadable(file.name, `cue ${there + 1}`, 'the cue list is cut off here')] : [];
    return { markers, notices: missing };
  },
};

interface Texts {
  readonly label?: string;
  readonly note?: string;
  /** That ltxt itself may carry. */
  readonly text?: string;
  /** Length of the range, in samples. */
  readonly samples?: number;
}

/** What the associated data lists say, by cue id. */
async function textsOf(file: SourceFile, form: Form): Promise<Map<number, Texts>> {
  const texts = new Map<number, Texts>();
  for (const chunk of form.chunks.filter(({ id }) => id === 'LIST')) {
    const list = await bodyOf(file, chunk, maxListBytes);
    if (list.byteLength < 4 || letters(list, 0) !== 'adtl') continue;
    for (const part of partsOf(list, form.littleEndian)) {
      const u32 = (at: number) => list.getUint32(part.at + at, form.littleEndian);
      const from = (at: number) =>
        labelOf(new Uint8Array(list.buffer, list.byteOffset + part.at + at, part.sizeBytes - at));
      if (part.sizeBytes < 4) continue;
      const id = u32(0);
      if (part.id === 'labl') texts.set(id, { ...texts.get(id), label: from(4) });
      if (part.id === 'note') texts.set(id, { ...texts.get(id), note: from(4) });
      if (part.id === 'ltxt' && part.sizeBytes >= 8) {
        const text = part.sizeBytes > 20 ? from(20) : '';
        texts.set(id, { ...texts.get(id), samples: u32(4), text });
      }
    }
  }
  return texts;
}

function* partsOf(list: DataView, littleEndian: boolean): Generator<Chunk> {
  for (let at = 4; at + 8 <= list.byteLength;) {
    const size = list.getUint32(at + 4, littleEndian);
    yield { id: letters(list, at), at: at + 8, sizeBytes: Math.min(size, list.byteLength - at - 8) };
    at += 8 + size + (size % 2);
  }
}
