/**
 * Where a sound that swells begins, told from its whole template: its first instant above 1 % of its peak, as of every
 * sound (arrival.ts). What lies below the background that is left in the template is not seen. A rise begins as a line or as
 * a square, or between the two; the beginning is put between where either would have it, and is known as well as they agree.
 */
import { centredMean } from '../../numbers/centred-mean.ts';
import { crossing, onsetShare, surelyRms } from './arrival.ts';

/** Amplitude is told over this, s: most beats within a sound are shorter. */
const blurS = 0.008;
/** What stands out and is then silent again for longer than this, s, is not of the swell. */
const silentS = 0.015;
/** The rise is followed up to this share of the peak, −6 dB. */
const risenTo = 0.5;
/** Above this share nothing is seen of a rise: it may have taken as long as all that lies before it. */
const hardlySeen = 0.35;

/** Swings of the lowest tones are so far apart, s: 170 Hz, either way. */
const swingS = 0.003;

export interface SwellBeginning {
  /** Index in the template, fractional. */
  readonly at: number;
  /** Its standard deviation, samples. */
  readonly sd: number;
  /** From the beginning until the sound has risen to −6 dB, samples. */
  readonly rise: number;
  /** From the beginning to the loudest moment, samples. */
  readonly toPeak: number;
}

/** @param quiet samples at the template's start that are surely before the sound */
export function swellBeginning(wave: Float64Array, quiet: number, sampleRate: number): SwellBeginning {
  const half = Math.round((blurS * sampleRate) / 2);
  const amplitude = centredMean(
    wave.map((x) => x * x),
    half,
  ).map(Math.sqrt);
  let loudest = quiet;
  for (let i = quiet; i < wave.length; i++) if (amplitude[i] > amplitude[loudest]) loudest = i;
  const peak = wave.reduce((top, x) => Math.max(top, Math.abs(x)), 0);
  let energy = 0;
  for (let i = half; i < quiet; i++) energy += wave[i] * wave[i];
  const noise = Math.sqrt(energy / (quiet - half)) / peak;
  const threshold = Math.max(onsetShare, surelyRms * noise);
  const seen = crossing(wave, quiet, loudest, threshold * peak, silentS * sampleRate);
  let risen = Math.floor(seen);
  while (risen < loudest && amplitude[risen] < risenTo * amplitude[loudest]) risen++;
  const visible = risen - seen;
  // Of the rise from the beginning to −6 dB so much lies below the threshold, as a multiple of what lies above it.
  const lower = Math.min(threshold, hardlySeen);
  const unseen = (power: number) =>
    (lower ** power - onsetShare ** power) / (risenTo ** power - lower ** power);
  const [least, most] = [visible * unseen(1), visible * unseen(1 / 2)];
  const at = Math.max(0, seen - (least + most) / 2);
  // Between two swings nothing passes the threshold.
  const betweenSwings = ((swingS * sampleRate) / Math.sqrt(12)) * (1 - onsetShare / threshold);
  // The first of many samples that passes it does so by two standard deviations of what is left; a square is flattest there.
  const byNoise = (visible * noise) / (Math.sqrt(lower) * (Math.sqrt(risenTo) - Math.sqrt(lower)));
  const hidden = threshold > hardlySeen ? seen - quiet : 0;
  return {
    at,
    sd: Math.hypot((most - least) / 2, hidden, betweenSwings, byNoise),
    rise: risen - at,
    toPeak: loudest - at,
  };
}
