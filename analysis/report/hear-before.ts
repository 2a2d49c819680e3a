/**
 * Hearing a change before the machine is taken apart: each hit of a recording moved to where advice predicts it. A track
 * is cut shortly before each hit; every piece is moved by what its channel and sector are predicted to move, between
 * samples where it must be, and joined to the last by a short crossfade over what rings on. Pure: samples in, samples out.
 */
import type { Report } from '../results.ts';

/** A hit of one track and how far it goes. */
export interface Move {
  /** s, where the hit is now */
  readonly timeS: number;
  /** s; positive is later */
  readonly byS: number;
}

/** Pieces begin so long before their hit: a crossfade and whatever an attack has before its onset go there, s. */
const leadS = 0.004;
const fadeS = 0.002;
/** Taps either side of a point between samples, under a Kaiser window (Kaiser 1974): exact to −100 dB below 0.9 of Nyquist. */
const halfWidth = 32;
const kaiserBeta = 10;

/** What advice does to each hit of one track (index into the report's tracks), ascending in time. */
export function movesOf(report: Report, track: number): Move[] {
  const changes = new Map(
    report.advice.predicted.map(({ channel, sector, beforeMs, afterMs }) => [
      `${channel} ${sector}`,
      beforeMs === null || afterMs === null ? 0 : afterMs - beforeMs,
    ]),
  );
  return report.hits
    .filter((hit) => hit.track === track)
    .map(({ timeS, channel, sector }) => ({
      timeS,
      byS: (changes.get(`${channel} ${sector}`) ?? 0) / 1000,
    }))
    .sort((a, b) => a.timeS - b.timeS);
}

export interface Moved {
  readonly samples: Float32Array;
  /** Hits too close to the one before to go their own way: they moved with it. */
  readonly tied: number;
}

/** @param moves ascending in time */
export function moveHits(samples: Float32Array, sampleRate: number, moves: readonly Move[]): Moved {
  const pieces: { readonly byS: number; readonly startS: number }[] = [{ byS: 0, startS: -Infinity }];
  let tied = 0;
  moves.forEach(({ timeS, byS }, i) => {
    const gapS = i === 0 ? Infinity : timeS - moves[i - 1].timeS;
    const before = pieces[pieces.length - 1];
    // The join lies before the cut in the piece that is moved less, so that no attack is heard twice.
    const room = leadS + fadeS + Math.abs(byS - before.byS);
    if (gapS < room) {
      if (byS !== before.byS) tied++;
      return;
    }
    if (byS !== before.byS) pieces.push({ byS, startS: timeS - leadS + Math.min(byS, before.byS) });
  });
  const out = new Float32Array(samples.length);
  const fade = Math.max(1, Math.round(fadeS * sampleRate));
  pieces.forEach(({ byS, startS }, i) => {
    const start = i === 0 ? 0 : Math.round(startS * sampleRate);
    const end = i + 1 < pieces.length ? Math.round(pieces[i + 1].startS * sampleRate) : samples.length;
    const from = Math.max(0, i === 0 ? 0 : start - fade);
    const to = Math.min(samples.length, end);
    const read = delayed(samples, byS * sampleRate);
    for (let n = from; n < to; n++) {
      const rising = i === 0 ? 1 : Math.min(1, (n - (start - fade) + 1) / fade);
      const falling = i + 1 < pieces.length ? Math.min(1, Math.max(0, (end - n - 1) / fade)) : 1;
      out[n] += Math.min(rising, falling) * read(n);
    }
  });
  return { samples: out, tied };
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

/** Adds tracks into one, and makes both mixes as loud as the louder allows, so that they compare. */
export function mixed(
  before: readonly Float32Array[],
  after: readonly Float32Array[],
): { readonly before: Float32Array; readonly after: Float32Array } {
  const added = (tracks: readonly Float32Array[]) => {
    const out = new Float32Array(tracks.reduce((most, track) => Math.max(most, track.length), 0));
    for (const track of tracks) for (let i = 0; i < track.length; i++) out[i] += track[i];
    return out;
  };
  const [a, b] = [added(before), added(after)];
  let peak = 0;
  for (const mix of [a, b]) for (const value of mix) peak = Math.max(peak, Math.abs(value));
  const gain = peak > 0 ? 0.9 / peak : 1;
  return { before: a.map((value) => gain * value), after: b.map((value) => gain * value) };
}

/** A WAVE file of one track, 16 bits. */
export function waveFile(samples: Float32Array, sampleRate: number): Uint8Array {
  const bytes = new Uint8Array(44 + 2 * samples.length);
  const view = new DataView(bytes.buffer);
  const text = (at: number, word: string) =>
    bytes.set(
      [...word].map((c) => c.charCodeAt(0)),
      at,
    );
  text(0, 'RIFF');
  view.setUint32(4, bytes.length - 8, true);
  text(8, 'WAVEfmt ');
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, sampleRate, true);
  view.setUint32(28, 2 * sampleRate, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  text(36, 'data');
  view.setUint32(40, 2 * samples.length, true);
  samples.forEach((value, i) =>
    view.setInt16(44 + 2 * i, Math.round(32_767 * Math.max(-1, Math.min(1, value))), true),
  );
  return bytes;
}
