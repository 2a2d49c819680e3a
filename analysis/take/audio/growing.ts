/**
 * A WAV that a recorder is still writing: its last stretch, as a WAV of its own. What the header says of the length is not true
 * yet; the samples that are there count.
 */
import type { SourceFile } from '../../ports.ts';
import { InputProblem } from '../../input/problem.ts';
import { letters, readForm, unknownSize, viewOf } from './chunks.ts';
import { openWav } from './wav.ts';

export interface Stretch {
  readonly source: SourceFile;
  /** How much has been recorded up to now, s. */
  readonly recordedS: number;
  /** Where the stretch begins in the recording, s. */
  readonly fromS: number;
}

/** So much of a header has been written before the first sample, or the file is no WAV. */
const headerBytes = 64 * 1024;

/** Of the body of "fmt ": bytes of one sample of every track. */
const blockAlignAt = 12;

/**
 * @param lastS how much of its end, s; less where less is there
 * @returns null while no sample has been written
 * @throws InputProblem where the file is no WAV whose samples are stored plainly
 */
export async function stretchOf(file: SourceFile, lastS: number): Promise<Stretch | null> {
  const first = viewOf(await file.read(0, Math.min(12, file.sizeBytes)));
  if (first.byteLength < 12) return null;
  if (!['RIFF', 'RF64', 'BW64'].includes(letters(first, 0)))
    throw new InputProblem(
      file.name,
      'byte 0',
      'cannot be followed while it is written',
      'let the recorder write WAV; any other format is read once it is whole',
    );
  const form = await readForm(file);
  const data = form?.chunks.find(({ id }) => id === 'data');
  if (!form || data === undefined) {
    if (file.sizeBytes < headerBytes) return null;
    throw new InputProblem(file.name, '', 'has no "data" chunk in its header', 'record it as plain WAV');
  }
  // Of a recording that was ended what comes after its samples are none.
  const isWhole = form.brokenAt === null && data.sizeBytes > 0;
  const end = isWhole ? Math.min(file.sizeBytes, data.at + data.sizeBytes) : file.sizeBytes;
  const head = await file.read(0, data.at);
  const all = await openWav(pieced(file, head, data.at, end)).catch((error: unknown) => {
    if (end - data.at < headerBytes) return undefined; // a frame may be half written
    throw error;
  });
  if (all === undefined) return null;
  if (all === null)
    throw new InputProblem(file.name, '', 'is a WAV with a codec in it', 'record it as PCM or float');
  const fmt = form.chunks.find(({ id }) => id === 'fmt ')!;
  const frameBytes = viewOf(head).getUint16(fmt.at + blockAlignAt, true);
  const frames = Math.min(all.length, Math.round(lastS * all.sampleRate));
  const from = data.at + (all.length - frames) * frameBytes;
  return {
    source: pieced(file, head, from, from + frames * frameBytes),
    recordedS: all.length / all.sampleRate,
    fromS: (all.length - frames) / all.sampleRate,
  };
}

/**
 * A WAV of a header and of the bytes `from` to `to` of a file. Its sizes are those of plain RIFF, also where the file is RF64:
 * a stretch is no longer than 4 GiB.
 *
 * @param head up to the first sample
 */
function pieced(file: SourceFile, head: Uint8Array, from: number, to: number): SourceFile {
  const header = head.slice();
  const view = viewOf(header);
  const sizeBytes = header.length + to - from;
  const said = (bytes: number) => (bytes < unknownSize ? bytes : unknownSize);
  header.set(new TextEncoder().encode('RIFF'), 0);
  view.setUint32(4, said(sizeBytes - 8), true);
  view.setUint32(header.length - 4, said(to - from), true);
  return {
    name: file.name,
    sizeBytes,
    async read(start = 0, end = sizeBytes) {
      const stop = Math.min(end, sizeBytes);
      const ofHeader = header.subarray(Math.min(start, header.length), Math.min(stop, header.length));
      if (stop <= header.length) return ofHeader;
      const shift = from - header.length;
      const rest = await file.read(Math.max(start, header.length) + shift, stop + shift);
      if (ofHeader.length === 0) return rest;
      const bytes = new Uint8Array(ofHeader.length + rest.length);
      bytes.set(ofHeader);
      bytes.set(rest, ofHeader.length);
      return bytes;
    },
  };
}
