/**
 * Two files compared strike by strike: when the second began by the first one's clock, and how much slower or faster its own
 * ran. A strike is heard later by the far microphone, by its way there; strikes that are near the one and those that are
 * near the other bound the beginning from both sides, and half-way between them the ways cancel.
 */
import { median, robustSd } from '../numbers/statistics.ts';
import type { Run } from '../ports.ts';
import { coarseLags, type Coarse } from './coarse.ts';
import { lagOf } from './lag.ts';
import type { Onsets } from './onsets.ts';
import type { FileSound } from './sound.ts';

export interface Compared {
  /** Of the second file's first sample, by the first one's clock, s. */
  readonly startS: number;
  readonly startSdS: number;
  /** The beginning lies within ± this by what sound's way through air allows, s; Infinity where only one side bounds it. */
  readonly airS: number;
  /** Seconds of the first clock to a second of the second one's, less 1. */
  readonly drift: number;
  readonly driftSd: number;
  /** Strikes that told. */
  readonly strikes: number;
}

/** Strikes compared in each file; more make it no surer than the ways between microphones allow. */
const mostStrikes = 160;
/** Searched around the rough lag, s: what sound travels between two microphones, and the rough drift's error. */
const reachS = 0.009;
/** Lags of one striker scatter by less, s: about one line they lie within thousandths of a ms, before the drift is known within some tenths. */
const sameWayS = 0.00015;
/**
 * A strike counts as heard in both files where its lag lies within this of its way's line, s. Of 14 right lines in simulated rooms (the cases of `bench recorders`,
 * two seeds each) the rests' robust standard deviation was 0.001 to 0.003 ms; of 114 false ones, a beat or a turn off,
 * 0.02 to 0.13 ms, as wide as the machine's own spread in those takes. No room with people or machines in it was measured.
 */
const heardS = 0.00003;
/**
 * Share of each file's strikes that must be heard. In the same rooms right lines explained 0.65 to 0.89, strikes that coincide
 * being lost; of the 114 false ones three explained more than 0.25 and one 0.38, that one beside a right line of 0.73.
 */
const leastShare = 0.4;
const leastStrikes = 8;
/**
 * The best line must explain this many times as many strikes as the next best: with a steady machine a line a turn off explains many
 * too. In those rooms the ratio was at least 3.1.
 */
const clearly = 2;
/**
 * How much louder each side's strikers must be in their own file than in the other, both sides added, dB. What strikes at one
 * instant before both is as loud in both, and its lag is lateness, not a beginning.
 */
const leastApartDb = 12;
/** Strikes that coincide with a neighbour's hide how much louder their own microphone has them: the clearest of a way tell it. */
const clearest = 0.95;
/**
 * A microphone's own way to its striker, as a share of the way to the other microphone's: sound sinks with distance, so the
 * bleed's level tells it; never taken for less, since contact microphones hear each other through wood.
 */
const leastNearShare = 0.05;
/** Where only one file's strikers are heard in the other, the way there: up to 3 m of air, s, and its spread as a uniform one. */
const mostWayS = 0.009;

interface Told {
  /** In which file it is clear. */
  readonly from: 'a' | 'b';
  /** By the first file's clock. */
  readonly timeS: number;
  /** The second file's time of the strike less the first one's. */
  readonly lagS: number;
  /** How much louder the first file has it, dB. */
  readonly overDb: number;
}

/** @returns null where the sound does not tell */
export async function compareSounds(
  a: FileSound,
  b: FileSound,
  onsets: { readonly a: Onsets; readonly b: Onsets },
  run: Run,
): Promise<Compared | null> {
  const tried: Fit[] = [];
  for (const coarse of await coarseLags(a, b, run)) {
    const told = await toldBy(a, b, onsets, coarse, run);
    const fit = fitOf(told, coarse.drift);
    if (fit !== null) tried.push(fit);
  }
  tried.sort((p, q) => q.heard - p.heard);
  const [best, next] = [tried.at(0), tried.at(1)];
  if (!best || best.heard < leastStrikes || best.share < leastShare) return null;
  if (next && best.heard < clearly * next.heard) return null;
  return between(best);
}

/** The lags of each file's clearest strikes. */
async function toldBy(
  a: FileSound,
  b: FileSound,
  onsets: { readonly a: Onsets; readonly b: Onsets },
  { atS, lagS, drift }: Coarse,
  run: Run,
): Promise<Told[]> {
  const about = (timeS: number) => lagS + drift * (timeS - atS);
  const told: Told[] = [];
  for (const { timeS } of spread(onsets.a)) {
    run.signal?.throwIfAborted();
    const there = timeS + about(timeS);
    if (there < 0 || there * b.sampleRate > b.length) continue;
    const found = await lagOf(a, b, timeS, about(timeS), reachS);
    told.push({ from: 'a', timeS, lagS: found.lagS, overDb: found.overDb });
  }
  for (const { timeS } of spread(onsets.b)) {
    run.signal?.throwIfAborted();
    const first = timeS - about(timeS - lagS);
    if (first < 0 || first * a.sampleRate > a.length) continue;
    const found = await lagOf(b, a, timeS, -about(timeS - lagS), reachS);
    told.push({
      from: 'b',
      timeS: timeS + found.lagS,
      lagS: -found.lagS,
      overDb: -found.overDb,
    });
  }
  return told;
}

/** The strongest moments, evenly over the file. */
function spread({ moments }: Onsets): Onsets['moments'] {
  if (moments.length <= mostStrikes) return moments;
  const each = Math.ceil(moments.length / mostStrikes);
  return Array.from({ length: Math.floor(moments.length / each) }, (_, i) =>
    moments.slice(i * each, (i + 1) * each).reduce((most, m) => (m.power > most.power ? m : most)),
  );
}

interface Fit {
  /** Of the lag, per second of the first clock. */
  readonly slope: number;
  readonly slopeSd: number;
  /** Strikes on a line with others. */
  readonly count: number;
  /** Those on it to `heardS`. */
  readonly heard: number;
  /** Their share of a file's strikes, of the file that has the fewer. */
  readonly share: number;
  /** Strikers, or ways: strikes of one lag, at the take's middle. */
  readonly ways: readonly Way[];
  readonly midS: number;
}

interface Way {
  readonly lagS: number;
  readonly sdS: number;
  /** How much louder the first file has its strikes, dB: of those that stand clearest there, and in the second. */
  readonly overDb: number;
  readonly underDb: number;
  readonly count: number;
}

const rounds = 5;
/** Lags farther from their way's line are a neighbour's doing, robust standard deviations. */
const wildSds = 3;
/** However many strikes agree, what lies over them may move a lag by so much from one end of the file to the other, s: an allowance chosen by hand. */
const leastBendS = 0.00001;
/** Of the strikers of a side, ways of fewer strikes than this share of the commonest's are echoes and coincidences. */
const commonShare = 0.25;

/** Parallel lines through the lags, one for each way. */
function fitOf(told: readonly Told[], coarseDrift: number): Fit | null {
  if (told.length < leastStrikes) return null;
  const midS = median(told.map(({ timeS }) => timeS));
  const spanS = Math.max(1, ...told.map(({ timeS }) => Math.abs(timeS - midS)));
  // The rough drift is known to some ms over the file: the one on which most strikes agree.
  let slope = coarseDrift;
  let most = 0;
  const step = (0.5 * sameWayS) / spanS;
  for (let k = -40; k <= 40; k++) {
    const count = inWays(told, coarseDrift + k * step, midS).reduce((sum, way) => sum + way.length ** 2, 0);
    if (count > most) [most, slope] = [count, coarseDrift + k * step];
  }
  let ways: Told[][] = [];
  let slopeSd = NaN;
  for (let round = 0; round < rounds; round++) {
    ways = inWays(told, slope, midS).filter((way) => way.length >= leastInWay(told));
    const rest = robustSd(ways.flatMap((way) => restsOf(way, slope, midS)));
    if (round > 0) ways = ways.map((way) => tame(way, slope, midS, wildSds * rest));
    const [numerator, denominator] = sums(ways, midS);
    if (!(denominator > 0)) return null;
    slope = numerator / denominator;
    const rests = ways.flatMap((way) => restsOf(way, slope, midS));
    slopeSd = Math.hypot(robustSd(rests) / Math.sqrt(denominator), leastBendS / spanS);
  }
  const heard = ways.flatMap((way) => tame(way, slope, midS, heardS));
  return {
    slope,
    slopeSd,
    heard: heard.length,
    share: Math.min(...(['a', 'b'] as const).map((file) => shareOf(heard, told, file))),
    midS,
    count: ways.reduce((sum, way) => sum + way.length, 0),
    ways: ways.map((way) => wayOf(way, slope, midS)).sort((p, q) => q.count - p.count),
  };
}

/** 0 where the file has none: a lag that one file alone tells is not believed. */
function shareOf(heard: readonly Told[], told: readonly Told[], file: 'a' | 'b'): number {
  const all = told.filter(({ from }) => from === file).length;
  return all === 0 ? 0 : heard.filter(({ from }) => from === file).length / all;
}

function wayOf(way: readonly Told[], slope: number, midS: number): Way {
  const lags = way.map((one) => one.lagS - slope * (one.timeS - midS));
  const over = way.map(({ overDb }) => overDb).sort((p, q) => p - q);
  return {
    lagS: median(lags),
    sdS: robustSd(lags) / Math.sqrt(way.length),
    overDb: over[Math.floor(clearest * (way.length - 1))],
    underDb: over[Math.ceil((1 - clearest) * (way.length - 1))],
    count: way.length,
  };
}

/** Fewer strikes of one lag come together by chance. */
function leastInWay(told: readonly Told[]): number {
  return Math.max(5, 0.04 * told.length);
}

/** Strikes whose lags, the slope taken off, lie together. */
function inWays(told: readonly Told[], slope: number, midS: number): Told[][] {
  const rest = ({ lagS, timeS }: Told) => lagS - slope * (timeS - midS);
  const left = [...told].sort((p, q) => rest(p) - rest(q));
  const ways: Told[][] = [];
  while (left.length > 0) {
    // The fullest stretch of the least width first.
    let best = [0, 0];
    for (let i = 0, j = 0; i < left.length; i++) {
      while (j < left.length && rest(left[j]) - rest(left[i]) <= 2 * sameWayS) j++;
      if (j - i > best[1] - best[0]) best = [i, j];
    }
    if (best[1] - best[0] < 3) break;
    ways.push(left.splice(best[0], best[1] - best[0]));
  }
  return ways;
}

/** Of a common slope by least squares, each way with a lag of its own. */
function sums(ways: readonly (readonly Told[])[], midS: number): [number, number] {
  let [numerator, denominator] = [0, 0];
  for (const way of ways) {
    const time = way.reduce((sum, { timeS }) => sum + timeS - midS, 0) / way.length;
    const lag = way.reduce((sum, { lagS }) => sum + lagS, 0) / way.length;
    for (const { timeS, lagS } of way) {
      numerator += (timeS - midS - time) * (lagS - lag);
      denominator += (timeS - midS - time) ** 2;
    }
  }
  return [numerator, denominator];
}

function tame(way: readonly Told[], slope: number, midS: number, mostS: number): Told[] {
  const rests = restsOf(way, slope, midS);
  return way.filter((_, i) => Math.abs(rests[i]) <= mostS);
}

function restsOf(way: readonly Told[], slope: number, midS: number): number[] {
  const lags = way.map(({ lagS, timeS }) => lagS - slope * (timeS - midS));
  const middle = median(lags);
  return lags.map((lag) => lag - middle);
}

/** The beginning, from the ways of strikers near the one file's microphone and near the other's. */
function between({ slope, slopeSd, count, ways, midS }: Fit): Compared {
  const sides = sidesOf(ways);
  let lagS: number;
  let sdS: number;
  let airS = Infinity;
  if (sides !== null) {
    const { upper, lower, gapS, apartDb } = sides;
    airS = gapS / 2;
    const nearShare = Math.max(leastNearShare, 10 ** (-apartDb / 40));
    lagS = (upper.lagS + lower.lagS) / 2;
    sdS = Math.hypot(airS * nearShare, upper.sdS / 2, lower.sdS / 2);
  } else {
    // Strikers of one side only, and nothing says of which: the way is allowed for in both directions.
    lagS = ways[0].lagS;
    sdS = mostWayS / Math.sqrt(3);
  }
  // t_b = t_a + lag + slope·(t_a − mid), so t_b is 0 at:
  const startS = (slope * midS - lagS) / (1 + slope);
  return { startS, startSdS: sdS, airS, drift: 1 / (1 + slope) - 1, driftSd: slopeSd, strikes: count };
}

/**
 * Lag = −start + way for strikers near the first microphone, −start − way for those near the second: the lags above some
 * value are the first's, those below the second's. Of each side the shortest way bounds the beginning best.
 */
function sidesOf(ways: readonly Way[]): Sides | null {
  const least = commonShare * Math.max(...ways.map(({ count }) => count));
  const byLag = ways.filter(({ count }) => count >= least).sort((p, q) => p.lagS - q.lagS);
  let best: Sides | null = null;
  for (let i = 1; i < byLag.length; i++) {
    const [lower, upper] = [byLag[i - 1], byLag[i]];
    const overDb = Math.max(...byLag.slice(i).map((way) => way.overDb));
    const underDb = Math.min(...byLag.slice(0, i).map((way) => way.underDb));
    // Between the two sides the gap is widest.
    const gapS = upper.lagS - lower.lagS;
    if (overDb - underDb >= leastApartDb && gapS > (best?.gapS ?? 0))
      best = { upper, lower, gapS, apartDb: overDb - underDb };
  }
  return best;
}

interface Sides {
  readonly upper: Way;
  readonly lower: Way;
  readonly gapS: number;
  /** How much louder each side's strikers are in their own file, both together, dB. */
  readonly apartDb: number;
}
