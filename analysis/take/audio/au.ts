/**
 * AU files (".snd", ".au"): a header of six numbers, then samples, read in parts. From the format's description in
 * audio(5) of SunOS, from memory; held against what SoX writes.
 */
import type { AudioFile } from './audio-file.ts';
import type { SourceFile } from '../../ports.ts';
import { InputProblem } from '../../input/problem.ts';
import { unknownSize, viewOf } from './chunks.ts';
import { plainCoding } from './coding.ts';
import { undecodable } from './undecodable.ts';
import { sampleReader } from './samples.ts';

/** Encoding → bytes a sample; the others are no plain samples. */
const plain: Readonly<Record<number, { sampleBytes: number; float: boolean }>> = {
  3: { sampleBytes: 2, float: false },
  4: { sampleBytes: 3, float: false },
  5: { sampleBytes: 4, float: false },
  6: { sampleBytes: 4, float: true },
  7: { sampleBytes: 8, float: true },
};
const codecs: Readonly<Record<number, string>> = { 1: 'µ-law', 2: 'PCM of 8 bits', 27: 'A-law' };

const headerBytes = 24;

/** @throws InputProblem where the file cannot be used */
export async function openAu(file: SourceFile): Promise<AudioFile> {
  const view = viewOf(await file.read(0, headerBytes));
  const again = 'copy it again from the recorder';
  if (view.byteLength < headerBytes)
    throw new InputProblem(file.name, `byte ${view.byteLength}`, 'its header breaks off', again);
  const littleEndian = view.getUint8(0) === 0x64; // "dns." in place of ".snd"
  const [at, said, encoding, sampleRate, tracks] = [4, 8, 12, 16, 20].map((byte) =>
    view.getUint32(byte, littleEndian),
  );
  const layout = plain[encoding] as (typeof plain)[number] | undefined;
  if (!layout) throw undecodable(file.name, 'au', codecs[encoding] ?? `AU encoding ${encoding}`);
  if (tracks < 1 || tracks > 512 || sampleRate < 1000 || sampleRate > 1_536_000)
    throw new InputProblem(
      file.name,
      'byte 16',
      `the header says ${tracks} tracks of ${sampleRate} samples a second`,
      'export the recording again',
    );
  const frameBytes = tracks * layout.sampleBytes;
  const there = Math.max(0, file.sizeBytes - at);
  const isCut = said !== unknownSize && said > there;
  const length = Math.floor((said === unknownSize ? there : Math.min(said, there)) / frameBytes);
  if (length === 0) throw new InputProblem(file.name, `byte ${at}`, 'there are no samples in it', again);
  const message = `${file.name}: the header says ${said} bytes of samples, but ${there} are there; those were used`;
  return {
    name: file.name,
    sampleRate,
    tracks,
    length,
    coding: plainCoding,
    notices: isCut ? [{ kind: 'header-disagrees', file: file.name, place: 'byte 8', message }] : [],
    read: sampleReader(file, at, length, { ...layout, tracks, frameBytes, littleEndian }),
  };
}
