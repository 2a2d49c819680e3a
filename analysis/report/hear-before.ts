/**
 * Hearing a change before the machine is taken apart: each hit of a recording moved to where advice predicts it. A track
 * is cut shortly before each hit; every piece is moved by what its channel and sector are predicted to move, between
 * samples where it must be, and joined to the last by a short crossfade over what rings on. Pure: samples in, samples out.
 */
import type { Advice, Report } from '../results/results.ts';

/** A hit of one track and how far it goes. */
export interface HitMove {
  /** s, where the hit is now */
  readonly timeS: number;
  /** s; positive is later */
  readonly byS: number;
}

/** Pieces begin so long before their hit at least: whatever an attack has before its onset goes there, s. */
const leadS = 0.004;
/** Where there is room, so long: hearing judges an attack by the quiet before it, and a join must not lie in that. */
const longLeadS = 0.025;
/**
 * What rings on from earlier hits is moved with the piece, and goes over from one place to the other in a crossfade:
 * the longer, the less it sounds like a hit of its own. It keeps off the hit before by `leadS`.
 */
const shortestFadeS = 0.002;
const longestFadeS = 0.03;
/** Taps either side of a point between samples, under a Kaiser window (Kaiser 1974): exact to −100 dB below 0.9 of Nyquist. */
const halfWidth = 32;
const kaiserBeta = 10;

/** By how much advice moves the hits of a channel in a sector, s; hits of which it says nothing stay. */
export function changeOf(advice: Advice): (channel: string | null, sector: string | null) => number {
  const changes = new Map(
    advice.predicted.map(({ channel, sector, beforeMs, afterMs }) => [
      JSON.stringify([channel, sector]),
      beforeMs === null || afterMs === null ? 0 : afterMs - beforeMs,
    ]),
  );
  return (channel, sector) => (changes.get(JSON.stringify([channel, sector])) ?? 0) / 1000;
}

/** What advice does to each hit of one track (index into the report's tracks), ascending in time. */
export function movesOf(report: Report, track: number): HitMove[] {
  const change = changeOf(report.advice);
  return report.hits
    .filter((hit) => hit.track === track)
    .map(({ timeS, channel, sector }) => ({ timeS, byS: change(channel, sector) }))
    .sort((a, b) => a.timeS - b.timeS);
}

/** A stretch of a track that moves as one. */
interface Piece {
  readonly byS: number;
  readonly startS: number;
  /** The crossfade from the piece before, which ends at the start. */
  readonly fadeS: number;
}

export interface CutPieces {
  readonly pieces: readonly Piece[];
  /** Hits too close to the one before to go their own way: they move with it. */
  readonly tied: number;
}

/** Cuts a track into what moves as one. @param moves ascending in time */
export function piecesOf(moves: readonly HitMove[]): CutPieces {
  const pieces: Piece[] = [{ byS: 0, startS: -Infinity, fadeS: shortestFadeS }];
  let tied = 0;
  moves.forEach(({ timeS, byS }, i) => {
    const gapS = i === 0 ? Infinity : timeS - moves[i - 1].timeS;
    const before = pieces[pieces.length - 1];
    // The join lies before the cut in the piece that is moved less, so that no attack is heard twice.
    const room = leadS + shortestFadeS + Math.abs(byS - before.byS);
    if (gapS < room) {
      if (byS !== before.byS) tied++;
      return;
    }
    if (byS === before.byS) return;
    const lead = Math.min(longLeadS, leadS + (gapS - room) / 2);
    const startS = timeS - lead + Math.min(byS, before.byS);
    const freeS = i === 0 ? Infinity : startS - (moves[i - 1].timeS + Math.max(byS, before.byS) + leadS);
    pieces.push({ byS, startS, fadeS: Math.max(shortestFadeS, Math.min(longestFadeS, freeS)) });
  });
  return { pieces, tied };
}

/** How far beyond a window, s, its sound comes from: the largest move, and the taps between samples. */
export function reachOf({ pieces }: CutPieces, sampleRate: number): number {
  return Math.max(...pieces.map(({ byS }) => Math.abs(byS))) + (halfWidth + 2) / sampleRate;
}

/**
 * One window of the moved track: samples `from` to `to`. Windows laid side by side are the whole, whatever their widths.
 *
 * @param samples of the track as it is, the first being the track's sample `offset`; they must reach `reachOf` beyond
 *   the window either way, or to the track's ends
 */
export function movedPart(
  { pieces }: CutPieces,
  sampleRate: number,
  samples: Float32Array,
  offset: number,
  [from, to]: readonly [number, number],
): Float32Array {
  const out = new Float32Array(Math.max(0, to - from));
  const fadeOf = (piece: Piece) => Math.max(1, Math.round(piece.fadeS * sampleRate));
  pieces.forEach((piece, i) => {
    const { byS, startS } = piece;
    const fade = fadeOf(piece);
    const nextFade = i + 1 < pieces.length ? fadeOf(pieces[i + 1]) : 1;
    const start = i === 0 ? -Infinity : Math.round(startS * sampleRate);
    const end = i + 1 < pieces.length ? Math.round(pieces[i + 1].startS * sampleRate) : Infinity;
    const first = Math.max(from, start - fade);
    const last = Math.min(to, end);
    if (first >= last) return;
    const read = delayed(samples, byS * sampleRate);
    for (let n = first; n < last; n++) {
      const rising = Math.min(1, (n - (start - fade) + 1) / fade);
      const falling = Math.min(1, Math.max(0, (end - n - 1) / nextFade));
      out[n - from] += Math.min(smooth(rising), smooth(falling)) * read(n - offset);
    }
  });
  return out;
}

/** A raised cosine: it and what it leaves of 1 begin and end without a kink. */
function smooth(share: number): number {
  return 0.5 - 0.5 * Math.cos(Math.PI * share);
}

/** Reads samples as they are when all of them come so many samples later. */
function delayed(samples: Float32Array, by: number): (n: number) => number {
  const whole = Math.floor(by);
  const fraction = by - whole;
  if (fraction === 0) return (n) => samples[n - whole] ?? 0;
  const taps = Float64Array.from({ length: 2 * halfWidth }, (_, j) =>
    windowedSinc(j - halfWidth + 1 - fraction),
  );
  return (n) => {
    // out[n] = Σ x[n − whole − k]·h(k − fraction)
    const last = n - whole + halfWidth - 1;
    let sum = 0;
    for (let j = 0; j < taps.length; j++) sum += (samples[last - j] ?? 0) * taps[j];
    return sum;
  };
}

function windowedSinc(x: number): number {
  const r = x / halfWidth;
  if (Math.abs(r) >= 1) return 0;
  const window = besselI0(kaiserBeta * Math.sqrt(1 - r * r)) / besselI0(kaiserBeta);
  return x === 0 ? window : (window * Math.sin(Math.PI * x)) / (Math.PI * x);
}

/** Modified Bessel function of order 0 by its power series. */
function besselI0(x: number): number {
  let [term, sum] = [1, 1];
  for (let k = 1; term > 1e-17 * sum; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}
