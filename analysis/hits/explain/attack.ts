/**
 * Where a voice fits at several delays, a period of its tone apart, its attack says which is right. A drum or a bell fitted a
 * whole period off correlates nearly as well over its length, and the strike's own colour can make it correlate better; but
 * between the two onsets one fit has sound where the other has none, and there the energies of the residuals differ clearly.
 */
import { correlation, greatestOf, type Alignment } from '../signal/align.ts';
import type { Clip, Frame } from '../signal/clip.ts';
import type { Voice } from '../learn/voice.ts';

/** Least correlation of a delay that is considered, as a share of the greatest. */
const nearGreatest = 0.75;
/** Delays closer than this are of one peak, s: half a period of 3 kHz. */
const onePeakS = 0.00017;
const mostPeaks = 6;
/** The residuals are compared from `beforeS` before the earliest onset to `afterS` after the latest. */
const beforeS = 0.001;
const afterS = 0.004;

/** A clip to be explained. */
export interface Unexplained {
  readonly clip: Clip;
  /** Its waveform under the background's weights. */
  readonly white: Float64Array;
  /** Its correlations with voices, as they were worked out: each is asked for several times. */
  readonly correlations: Map<Voice, Float64Array>;
}

/** The best whole-sample delay within `reach` of `around`, by the attack where several are nearly as good. */
export function fitByAttack(
  rest: Unexplained,
  voice: Voice,
  frame: Frame,
  around: number,
  reach: number,
): Alignment {
  const c = rest.correlations.get(voice) ?? correlation(rest.clip, voice.mask, frame);
  rest.correlations.set(voice, c);
  const greatest = greatestOf(c, voice.mask, frame, around, reach);
  if (!(greatest.gain > 0)) return greatest;
  const peaks = peaksOf(c, voice, frame, { from: around - reach, to: around + reach }, greatest);
  if (peaks.length === 1) return greatest;
  const delays = peaks.map(({ delay }) => delay);
  const from = Math.round(voice.onset + Math.min(...delays) - beforeS * frame.sampleRate);
  const to = Math.round(voice.onset + Math.max(...delays) + afterS * frame.sampleRate);
  const left = peaks.map((fit) => unexplained(rest.white, voice.white, fit, Math.max(0, from), to));
  return peaks[left.indexOf(Math.min(...left))];
}

/** Energy between two samples of what a fit leaves, whole samples being near enough to tell periods apart. */
function unexplained(
  heard: Float64Array,
  voice: Float64Array,
  { delay, gain }: Alignment,
  from: number,
  to: number,
): number {
  let sum = 0;
  for (let i = from; i < to && i < heard.length; i++) {
    const left = heard[i] - gain * (voice[i - delay] ?? 0);
    sum += left * left;
  }
  return sum;
}

function peaksOf(
  c: Float64Array,
  { mask }: Voice,
  frame: Frame,
  { from, to }: { readonly from: number; readonly to: number },
  greatest: Alignment,
): Alignment[] {
  const least = nearGreatest * greatest.gain * mask.energy;
  const apart = onePeakS * frame.sampleRate;
  const at = (d: number) => c[((d % frame.n) + frame.n) % frame.n];
  const found: Alignment[] = [];
  for (let delay = Math.ceil(from) + 1; delay < to; delay++)
    if (at(delay) >= least && at(delay) > at(delay - 1) && at(delay) >= at(delay + 1))
      found.push({ delay, gain: at(delay) / mask.energy });
  found.sort((a, b) => b.gain - a.gain);
  const peaks = [greatest];
  for (const fit of found)
    if (peaks.length < mostPeaks && peaks.every(({ delay }) => Math.abs(delay - fit.delay) > apart))
      peaks.push(fit);
  return peaks;
}
