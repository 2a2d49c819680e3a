/**
 * The WAV family, read in parts: RIFF, RIFX, RF64, BW64 and Wave64, plain or extensible, PCM of 8 to 32 bits and float of 32
 * and 64. An hour of it never has to be in memory. Headers that disagree with what is there are common after a full
 * card or a power cut: the samples that are there are used, and a notice says so.
 */
import type { AudioFile } from './audio-file.ts';
import type { SourceFile } from '../../ports.ts';
import { InputProblem } from '../../input/problem.ts';
import type { Notice } from '../take.ts';
import { bodyOf, readForm, unknownSize, type Chunk, type Form } from './chunks.ts';
import { plainCoding } from './coding.ts';
import { sampleReader, type SampleLayout } from './samples.ts';

const PCM = 1;
const FLOAT = 3;
const EXTENSIBLE = 0xfffe;

/** Below, no strike can be timed; above, no converter works: such a rate is a broken header. */
const sampleRates = { min: 1000, max: 1_536_000 };
/** A broken header's 65535 tracks would be that many readers; recorders stop at a few dozen. */
const maxTracks = 512;

interface Format extends SampleLayout {
  readonly sampleRate: number;
}

/**
 * @returns null where the file is no WAV, or one with a codec that is left to audio-decode
 * @throws InputProblem with the byte
 */
export async function openWav(file: SourceFile): Promise<AudioFile | null> {
  const form = await readForm(file);
  // AVI is RIFF too, and left to audio-decode.
  if (form === null || form.id === 'FORM' || form.type === 'AVI ') return null;
  if (form.type !== 'WAVE') {
    throw new InputProblem(file.name, 'byte 8', 'this is RIFF, but no WAV', 'export the recording as WAV');
  }
  const fmt = form.chunks.find((chunk) => chunk.id === 'fmt ');
  if (!fmt) throw cutOff(file, 'the "fmt " chunk that says how samples are stored is missing');
  const format = await formatOf(file, form, fmt);
  if (format === null) return null;
  const data = form.chunks.find((chunk) => chunk.id === 'data');
  if (!data) throw cutOff(file, 'there is no "data" chunk: the recording is cut off before its samples');
  const { sizeBytes, notices } = samplesIn(file, form, data);
  const length = Math.floor(sizeBytes / format.frameBytes);
  if (length === 0) {
    throw new InputProblem(
      file.name,
      `byte ${data.at}`,
      'there are no samples in it',
      'record or export it again',
    );
  }
  return {
    name: file.name,
    sampleRate: format.sampleRate,
    tracks: format.tracks,
    length,
    notices,
    coding: plainCoding,
    read: sampleReader(file, data.at, length, format),
  };
}

/** fmt: tag, tracks, rate, bytes a second, bytes a frame, bits; extensible adds size, valid bits, speakers, GUID. */
async function formatOf(file: SourceFile, form: Form, chunk: Chunk): Promise<Format | null> {
  const body = await bodyOf(file, chunk, 40);
  if (body.byteLength < 16) throw cutOff(file, 'the "fmt " chunk breaks off');
  const u16 = (at: number) => body.getUint16(at, form.littleEndian);
  const extended = u16(0) === EXTENSIBLE && body.byteLength >= 26;
  const tag = extended ? u16(24) : u16(0);
  if (tag !== PCM && tag !== FLOAT) return null;

  const fault = (at: number, what: string) =>
    new InputProblem(file.name, `byte ${chunk.at + at}`, what, 'export the recording again');
  const tracks = u16(2);
  const sampleRate = body.getUint32(4, form.littleEndian);
  const bits = u16(14);
  if (tracks < 1 || tracks > maxTracks) throw fault(2, `the header says ${tracks} tracks`);
  if (sampleRate < sampleRates.min || sampleRate > sampleRates.max) {
    throw fault(4, `the header says ${sampleRate} samples a second`);
  }
  // A sample stands in whole bytes; bytes a frame is the surer witness for how many, where it fits.
  const least = Math.ceil(bits / 8);
  const told = u16(12) / tracks;
  const sampleBytes = Number.isInteger(told) && told >= least && told <= 8 ? told : least;
  const known = tag === FLOAT ? sampleBytes === 4 || sampleBytes === 8 : sampleBytes >= 1 && sampleBytes <= 4;
  if (!known) throw fault(14, `samples of ${bits} bits are not known here`);
  return {
    sampleRate,
    tracks,
    sampleBytes,
    frameBytes: sampleBytes * tracks,
    float: tag === FLOAT,
    littleEndian: form.littleEndian,
  };
}

/** How many bytes of samples are really there, and what the header said instead. */
function samplesIn(file: SourceFile, form: Form, data: Chunk): { sizeBytes: number; notices: Notice[] } {
  const there = file.sizeBytes - data.at;
  const end = form.sizeBytes === unknownSize ? file.sizeBytes : form.sizeBytes + 8;
  const notice = (message: string): Notice[] => [
    {
      kind: 'header-disagrees',
      file: file.name,
      place: `byte ${data.at - 4}`,
      message: `${file.name}: ${message}`,
    },
  ];
  if (data.sizeBytes === unknownSize || (data.sizeBytes === 0 && there > 0 && !goesOn(form, data))) {
    const message = `the header does not say how long the samples are; all ${there} bytes after it were used`;
    return { sizeBytes: there, notices: notice(message) };
  }
  if (data.sizeBytes > there) {
    const message = `the header says ${data.sizeBytes} bytes of samples, but ${there} are there; those were used`;
    return { sizeBytes: there, notices: notice(message) };
  }
  const after = data.at + data.sizeBytes;
  if (form.brokenAt !== null && form.brokenAt >= after && form.brokenAt <= after + 1 && after < end) {
    const rest = file.sizeBytes - after;
    const message = `after the ${data.sizeBytes} bytes of samples in the header come ${rest} that are no whole chunk; the first were used`;
    return { sizeBytes: data.sizeBytes, notices: notice(message) };
  }
  if (end > file.sizeBytes + 1 || after > end) {
    const message = `the header says ${end} bytes in all, but there are ${file.sizeBytes}; its samples were used`;
    return { sizeBytes: data.sizeBytes, notices: notice(message) };
  }
  return { sizeBytes: data.sizeBytes, notices: [] };
}

/** Whether proper chunks follow, so that a size of 0 is meant and not left from a recorder that was stopped. */
function goesOn(form: Form, data: Chunk): boolean {
  return form.brokenAt === null && form.chunks.indexOf(data) < form.chunks.length - 1;
}

function cutOff(file: SourceFile, what: string): InputProblem {
  return new InputProblem(
    file.name,
    `byte ${file.sizeBytes}`,
    what,
    'copy the recording again from the recorder',
  );
}
