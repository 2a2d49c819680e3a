/**
 * Where a voice fits at several delays, a swing of its tone apart, its attack says which is right. A drum or a bell laid a
 * whole swing aside is nearly as alike over its length, and what a strike's own colour adds can make it more alike; but
 * where the one began and the other did not yet, nothing hides that.
 */
import { addShifted, coarseFit, correlation, refineFit, type Fit } from './align.ts';
import type { Background } from './background.ts';
import type { Frame } from './clip.ts';
import type { Weighed } from './sounds.ts';
import type { Voice } from './voice.ts';

/** A delay stands for choice where the correlation comes so near the greatest. */
const nearGreatest = 0.75;
/** Delays closer than this are of one peak, s: half a swing of 3 kHz. */
const onePeakS = 0.00017;
const mostPeaks = 6;
/** What is compared: from so long before the earliest attack until so long after the latest, s. */
const beforeS = 0.001;
const afterS = 0.004;

/** The best whole-sample delay within `reach` of `around`, by the attack where several are nearly as good. */
export function fitByAttack(
  rest: Weighed,
  voice: Voice,
  background: Background,
  frame: Frame,
  around: number,
  reach: number,
): Fit {
  const greatest = coarseFit(rest.clip, voice.mask, frame, around, reach);
  if (!(greatest.gain > 0)) return greatest;
  const peaks = peaksOf(rest, voice, frame, around, reach, greatest);
  if (peaks.length === 1) return greatest;
  const fits = peaks.map((fit) => refineFit(rest.clip, voice.mask, frame, fit));
  const delays = fits.map(({ delay }) => delay);
  const window = [
    Math.round(voice.onset + Math.min(...delays) - beforeS * frame.sampleRate),
    Math.round(voice.onset + Math.max(...delays) + afterS * frame.sampleRate),
  ] as const;
  const left = fits.map(({ delay, gain }) => {
    const spectrum = Float64Array.from(rest.clip.spectrum);
    addShifted(spectrum, voice.spectrum, frame, -delay, -gain);
    return energyIn(spectrum, background, frame, window);
  });
  return peaks[left.indexOf(Math.min(...left))];
}

function peaksOf(
  rest: Weighed,
  { mask }: Voice,
  frame: Frame,
  around: number,
  reach: number,
  greatest: Fit,
): Fit[] {
  const c = correlation(rest.clip, mask, frame);
  const least = nearGreatest * greatest.gain * mask.energy;
  const apart = onePeakS * frame.sampleRate;
  const at = (d: number) => c[((d % frame.n) + frame.n) % frame.n];
  const found: Fit[] = [];
  for (let delay = Math.ceil(around - reach) + 1; delay < around + reach; delay++)
    if (at(delay) >= least && at(delay) > at(delay - 1) && at(delay) >= at(delay + 1))
      found.push({ delay, gain: at(delay) / mask.energy });
  found.sort((a, b) => b.gain - a.gain);
  const peaks = [greatest];
  for (const fit of found)
    if (peaks.length < mostPeaks && peaks.every(({ delay }) => Math.abs(delay - fit.delay) > apart))
      peaks.push(fit);
  return peaks;
}

/** Energy of a spectrum under the background's weights between two samples. */
function energyIn(
  spectrum: Float64Array,
  { weight }: Background,
  frame: Frame,
  [from, to]: readonly [number, number],
): number {
  for (let k = 0; k < weight.length; k++) {
    const root = Math.sqrt(weight[k]);
    spectrum[2 * k] *= root;
    spectrum[2 * k + 1] *= root;
  }
  const white = frame.fourier.inverse(spectrum);
  let sum = 0;
  for (let i = Math.max(0, from); i < Math.min(frame.n, to); i++) sum += white[i] * white[i];
  return sum;
}
