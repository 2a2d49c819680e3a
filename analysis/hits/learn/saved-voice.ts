/**
 * voices/<channel>.json: how a channel sounds, learnt from a take in which that could be heard well (a solo take, say)
 * and kept with the machine, for takes in which it never strikes alone.
 */
import { z } from 'zod';
import { InputProblem } from '../../input/problem.ts';
import type { Background } from '../signal/background.ts';
import type { Frame } from '../signal/clip.ts';
import { voiceFromWaveform, type Voice } from './voice.ts';

/** The folder beside machine.jsonc. */
export const voicesFolder = 'voices';

const fullScale = 32767;

export const savedVoiceSchema = z
  .strictObject({
    schema: z.literal(1),
    channel: z.string().min(1),
    take: z.string().describe('The take it was learnt from'),
    sampleRate: z.number().min(8000).max(768_000).describe('Hz'),
    strikes: z.number().int().positive().describe('How many it was learnt from'),
    onset: z.number().min(0).describe('Where in the samples it begins; may lie between two'),
    onsetSdMs: z
      .number()
      .min(0)
      .optional()
      .describe('How well its beginning was known there: standard deviation; absent in voices saved before'),
    spread: z.number().min(0).describe('How much its colour varies from strike to strike'),
    peak: z.number().positive().describe('Of a usual strike, full scale 1'),
    samples: z
      .array(z.number().int().min(-fullScale).max(fullScale))
      .min(2)
      .max(100_000)
      .describe(`A usual strike; ${fullScale} is its peak`),
  })
  .describe('How a channel of a machine sounds');

export type SavedVoice = z.output<typeof savedVoiceSchema>;

/** A voice as it is kept: from a millisecond before its onset, or before where it came out of this take's noise, to where it was judged last. */
export function saveVoice(voice: Voice, frame: Frame, channel: string, take: string): SavedVoice {
  const [sounds, to] = voice.span;
  // An onset kept from a quieter take lies before all that could be heard in this one.
  const from = Math.max(0, Math.min(sounds, Math.floor(voice.onset)));
  const sound = frame.fourier.inverse(voice.spectrum).subarray(from, to);
  const peak = sound.reduce((top, x) => Math.max(top, Math.abs(x)), Number.MIN_VALUE);
  return {
    schema: 1,
    channel,
    take,
    sampleRate: frame.sampleRate,
    strikes: voice.count,
    onset: Math.max(0, Math.round(1000 * (voice.onset - from)) / 1000),
    ...(Number.isFinite(voice.onsetSd)
      ? { onsetSdMs: Math.round((1e6 * voice.onsetSd) / frame.sampleRate) / 1000 }
      : {}),
    spread: voice.spread,
    peak,
    samples: Array.from(sound, (x) => Math.round((x / peak) * fullScale) + 0),
  };
}

/** The voice again, in the background of another take of the same sampling rate. */
export function voiceFrom(saved: SavedVoice, background: Background, frame: Frame): Voice {
  const template = new Float64Array(frame.n);
  // Its onset lies where a heard moment does.
  const from = Math.round(frame.pre - saved.onset);
  saved.samples.forEach((x, i) => {
    if (from + i >= 0 && from + i < frame.n) template[from + i] = (x / fullScale) * saved.peak;
  });
  return voiceFromWaveform(template, background, frame, {
    onset: from + saved.onset,
    onsetSd: ((saved.onsetSdMs ?? NaN) * frame.sampleRate) / 1000,
    count: saved.strikes,
    spread: () => saved.spread,
  });
}

const numbersALine = 24;

/** voices/<channel>.json as text, in lines that a comparison of versions can show. */
export function savedVoiceText({ samples, ...rest }: SavedVoice): string {
  const lines = Array.from({ length: Math.ceil(samples.length / numbersALine) }, (_, i) =>
    samples.slice(i * numbersALine, (i + 1) * numbersALine).join(', '),
  );
  const head = JSON.stringify(rest, null, 2).slice(0, -2);
  return `${head},\n  "samples": [\n    ${lines.join(',\n    ')}\n  ]\n}\n`;
}

/** @throws InputProblem where the text is no saved voice */
export function readSavedVoice(file: string, text: string): SavedVoice {
  const mend = 'save it anew with "shimwright voices", or remove the file';
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    throw new InputProblem(file, '', 'is not JSON', mend);
  }
  const read = savedVoiceSchema.safeParse(value);
  if (read.success) return read.data;
  const [{ path, message }] = read.error.issues;
  throw new InputProblem(file, path.join('.'), message, mend);
}
