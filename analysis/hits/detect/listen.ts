/**
 * First pass over a track: the instants at which something started to sound. One sweep, no transform, about ten
 * operations a sample, so that its cost is that of reading the file; it only has to come within a few ms, and rather
 * report a moment too many than too few. What a moment was, and exactly when, is settled later from the waveform.
 */
import type { Run } from '../../ports.ts';
import type { Track } from '../../take/take.ts';

/** Moments at which the track changed for the louder, ascending. */
export interface OnsetCandidates {
  /** Sample at which the change begins, to about a hop. */
  readonly at: Int32Array;
  /** Log-likelihood ratio of a change there against none: how sure. */
  readonly strength: Float32Array;
  /** Peak of the absolute sample value in the 30 ms after. */
  readonly peak: Float32Array;
  /** Peak of the absolute sample value in the 18 ms that end 2 ms before. */
  readonly peakBefore: Float32Array;
  /** Mean square of the background: the quieter parts of the track, without its mean. */
  readonly noisePower: number;
  readonly clippedSamples: number;
  readonly badSamples: number;
}

/** Hops a second; a hop is the resolution of the first pass. */
const hopsPerSecond = 1000;
/** Hops to a read: a read of about two seconds. */
const hopsPerRead = 2048;
/** Hops compared before and after a moment: long enough for the lowest band, shorter than the quickest repetition. */
const before = 8;
const after = 6;
/**
 * What counts as one independent value a hop, in the three bands. The highest band has many more, but drums are not
 * white Gaussian noise: counting all would call every roughness of a tail a strike.
 */
const mostFreedom = [12, 4, 1] as const;
/** Differences of neighbouring white samples are correlated by −½: so many tell as much as one independent value. */
const samplesAValue = 1.5;
/** Noise peaks at 5 standard deviations about once in a million samples, 14 dB over its root mean square. */
export const clearlyOverNoiseDb = 15;
/** Least log-likelihood ratio. White noise passes 9 about once in an hour with these freedoms (measured). */
const leastStrength = 10;
/** Two moments on one track nearer than this are one: the sounds are told apart later, by their shape. */
const refractoryHops = 10;
/** Power below which everything is silence: −140 dB, under the last bit of 24. */
const silence = 1e-14;
const peakS = 0.03;
const peakBeforeHops = 18;
/** A moment is told to about a hop: what stands just before it may be its own. */
const guardHops = 2;

/**
 * Sweeps a track.
 *
 * @param progress called with 0 to 1
 * @throws the signal's reason when the run is stopped
 */
export async function listen(
  track: Track,
  run: Run,
  progress: (fraction: number) => void,
): Promise<OnsetCandidates> {
  const hop = Math.max(8, Math.round(track.sampleRate / hopsPerSecond));
  const hops = Math.ceil(track.length / hop);
  // One piece of memory, 72 MB for an hour: pieces below 32 MB a C library keeps for later once they are let go (mallopt(3)).
  const all = new Float32Array(5 * hops);
  const part = (i: number) => all.subarray(i * hops, (i + 1) * hops);
  const bands = [part(0), part(1), part(2)] as const;
  const tops = part(3);
  const state = newState();
  for (let first = 0; first < hops; first += hopsPerRead) {
    run.signal?.throwIfAborted();
    const last = Math.min(hops, first + hopsPerRead);
    const samples = await track.read(first * hop, Math.min(track.length, last * hop));
    measureHops(samples, { hop, firstHop: first }, state, { bands, tops });
    progress(last / hops);
  }
  const peakHops = Math.ceil(peakS * hopsPerSecond);
  const risen = changes(bands, part(4), freedomAt(hop));
  const noisePower = backgroundPower(bands[0]);
  const moments = risen.filter(
    // The background itself begins with the file, and is no sound.
    (moment) =>
      moment.hop >= before ||
      topOf(tops, moment.hop, peakHops) > Math.sqrt(noisePower) * 10 ** (clearlyOverNoiseDb / 20),
  );
  return {
    at: Int32Array.from(moments, (m) => m.hop * hop),
    strength: Float32Array.from(moments, (m) => m.strength),
    peak: Float32Array.from(moments, (m) => topOf(tops, m.hop, peakHops)),
    peakBefore: Float32Array.from(moments, (m) =>
      topOf(tops, m.hop - guardHops - peakBeforeHops, peakBeforeHops),
    ),
    noisePower,
    clippedSamples: state.clipped,
    badSamples: state.bad,
  };
}

/** One number a hop. */
interface Measured {
  /** Energies in three bands. */
  readonly bands: readonly [Float32Array, Float32Array, Float32Array];
  /** Greatest sample, as a size. */
  readonly tops: Float32Array;
}

/** What is carried from one read to the next. */
interface State {
  previous: number;
  previousBlock: number;
  previousHop: number;
  run: number;
  clipped: number;
  bad: number;
}

function newState(): State {
  return { previous: NaN, previousBlock: NaN, previousHop: NaN, run: 0, clipped: 0, bad: 0 };
}

/** Full scale less half a 16-bit step: what a converter that ran out gives. */
const fullScale = 1 - 1 / 65536;

/**
 * Energies a hop of three first differences: of samples, of means over an eighth of a ms, of means over a hop. Each
 * difference takes away the mean and most of what is lower; so a bass drum stands out in the last, a clapper in the
 * first.
 */
function measureHops(
  samples: Float32Array,
  { hop, firstHop }: { readonly hop: number; readonly firstHop: number },
  state: State,
  { bands, tops }: Measured,
): void {
  const block = blockOf(hop);
  let { previous, previousBlock, previousHop, run } = state;
  if (Number.isNaN(previous)) {
    previous = finite(samples[0] ?? 0);
    previousBlock = previousHop = previous;
  }
  for (let from = 0, h = firstHop; from < samples.length; from += hop, h++) {
    const to = Math.min(samples.length, from + hop);
    let high = 0;
    let middle = 0;
    let top = 0;
    let hopSum = 0;
    for (let blockFrom = from; blockFrom < to; blockFrom += block) {
      const blockTo = Math.min(to, blockFrom + block);
      let sum = 0;
      for (let i = blockFrom; i < blockTo; i++) {
        let x = samples[i];
        const size = Math.abs(x);
        if (size > top || !(size < fullScale)) {
          if (!Number.isFinite(x)) {
            state.bad++;
            x = 0;
          } else {
            if (size > top) top = size;
            if (size >= fullScale) {
              run++;
              state.clipped += run === 3 ? 3 : run > 3 ? 1 : 0;
            }
          }
        }
        if (size < fullScale) run = 0;
        const step = x - previous;
        previous = x;
        high += step * step;
        sum += x;
      }
      hopSum += sum;
      const mean = sum / (blockTo - blockFrom);
      middle += (mean - previousBlock) * (mean - previousBlock);
      previousBlock = mean;
    }
    const mean = hopSum / (to - from);
    bands[0][h] = high / (to - from);
    bands[1][h] = middle / Math.ceil((to - from) / block);
    bands[2][h] = (mean - previousHop) * (mean - previousHop);
    previousHop = mean;
    tops[h] = top;
  }
  Object.assign(state, { previous, previousBlock, previousHop, run });
}

function finite(x: number): number {
  return Number.isFinite(x) ? x : 0;
}

/** A hop of few samples has fewer independent values, and where its blocks are single samples the second band is the first again. */
function freedomAt(hop: number): readonly number[] {
  const [high, middle, low] = mostFreedom;
  return [Math.min(high, hop / samplesAValue), blockOf(hop) > 1 ? middle : 0, low];
}

/** Samples whose mean is one value of the second band. */
function blockOf(hop: number): number {
  return Math.max(1, Math.round(hop / 8));
}

/**
 * Moments at which the bands' energies rose: local maxima of the generalised likelihood ratio of "the variance changes
 * here" (Basseville & Nikiforov 1993, ch. 2) summed over the bands in which it rises.
 */
function changes(
  bands: readonly Float32Array[],
  ratio: Float32Array,
  freedom: readonly number[],
): { hop: number; strength: number }[] {
  const hops = bands[0].length;
  for (let b = 0; b < bands.length; b++) {
    const energy = bands[b];
    const n1 = before * freedom[b];
    const n2 = after * freedom[b];
    let past = 0;
    let future = 0;
    for (let j = 0; j < after && j < hops; j++) future += energy[j];
    // What lies before the track is taken to sound like silence: a strike at the very start is a change.
    for (let h = 0; h < hops; h++) {
      const v1 = past / before + silence;
      const v2 = future / after + silence;
      if (freedom[b] > 0 && v2 > 1.5 * v1) {
        const mean = (n1 * v1 + n2 * v2) / (n1 + n2);
        ratio[h] += 0.5 * ((n1 + n2) * Math.log(mean) - n1 * Math.log(v1) - n2 * Math.log(v2));
      }
      past += energy[h] - (h >= before ? energy[h - before] : 0);
      future += (h + after < hops ? energy[h + after] : 0) - energy[h];
      if (past < 0) past = 0;
      if (future < 0) future = 0;
    }
  }
  const found: { hop: number; strength: number }[] = [];
  for (let h = 0; h < hops; h++) {
    if (ratio[h] < leastStrength || !isTop(ratio, h)) continue;
    found.push({ hop: h, strength: ratio[h] });
  }
  return found;
}

/** Greatest within the refractory distance; of equals the first. */
function isTop(ratio: Float32Array, h: number): boolean {
  const value = ratio[h];
  const to = Math.min(ratio.length - 1, h + refractoryHops);
  for (let j = Math.max(0, h - refractoryHops); j < h; j++) if (ratio[j] >= value) return false;
  for (let j = h + 1; j <= to; j++) if (ratio[j] > value) return false;
  return true;
}

function topOf(tops: Float32Array, from: number, count: number): number {
  let top = 0;
  for (let h = Math.max(0, from); h < Math.min(tops.length, from + count); h++) top = Math.max(top, tops[h]);
  return top;
}

/** A hop in five is quieter than this: where strikes ring all the time, still mostly background. */
const backgroundQuantile = 0.2;

/** Power of white noise that has the background's energy of differences: half of it. Leaves `high` sorted. */
function backgroundPower(high: Float32Array): number {
  if (high.length === 0) return 0;
  const sorted = high.sort();
  return sorted[Math.floor(backgroundQuantile * (sorted.length - 1))] / 2;
}
