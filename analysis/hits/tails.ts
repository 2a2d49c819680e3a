/**
 * What a struck thing still sounds when the next strike comes. A gong rings for seconds; its tail under the next blow
 * would be taken for part of that blow, or its beating for blows. So each voice learns its tail from stretches of
 * consecutive strikes, every other strike's sound taken off, and the tails of all earlier strikes are taken off before
 * a strike is judged.
 */
import type { Track } from '../take/take.ts';
import type { Background } from './background.ts';
import { readSamples, takeMeanOff, type Frame } from './clip.ts';
import { addVoice, type Struck, type Voice } from './voice.ts';

/** Longer tails are so even that they are part of the background. */
const longestS = 1.5;
/** Strikes that teach a tail; its error is then 1/48 of the background's power. */
const lessons = 48;
/** The first round takes the other strikes off without their tails, the second with them. */
const rounds = 2;
/** Tails are looked at in pieces of this length, s. */
const pieceS = 0.01;
/** Below this share of the background's power a tail does no harm. */
const harmless = 0.03;

/**
 * @param runs stretches of consecutive strikes, each ascending; voices by index into `voices`
 * @returns the voices with their tails
 */
export async function learnTails(
  track: Track,
  runs: readonly (readonly Struck[])[],
  voices: readonly Voice[],
  background: Background,
  frame: Frame,
): Promise<Voice[]> {
  let current = voices.map((voice): Voice => ({ ...voice, tail: null }));
  for (let round = 0; round < rounds; round++) {
    const next: Voice[] = [];
    for (let v = 0; v < voices.length; v++)
      next.push(await withTail(v, current, track, runs, background, frame));
    current = next;
  }
  return current;
}

/** Looks further and further for the tail's end. */
async function withTail(
  v: number,
  voices: readonly Voice[],
  track: Track,
  runs: readonly (readonly Struck[])[],
  background: Background,
  frame: Frame,
): Promise<Voice> {
  const longest = Math.round(longestS * frame.sampleRate);
  for (let length = 3 * frame.n; ; length *= 3) {
    const tail = await tailOf(v, voices, track, runs, Math.min(length, longest), background, frame);
    if (length >= longest || !tail || tail.length < length - 2 * Math.round(pieceS * frame.sampleRate))
      return { ...voices[v], tail };
  }
}

async function tailOf(
  v: number,
  voices: readonly Voice[],
  track: Track,
  runs: readonly (readonly Struck[])[],
  length: number,
  background: Background,
  frame: Frame,
): Promise<Float64Array | null> {
  // In two halves, every other strike: what is in both is the voice's own, what is in one is something else's.
  const halves = [0, 1].map(() => ({ sum: new Float64Array(length), squares: new Float64Array(length) }));
  let used = 0;
  for (const run of runs) {
    const last = run.at(-1);
    for (const strike of run) {
      if (strike.voice !== v || used >= lessons) continue;
      const { sum, squares } = halves[used++ % 2];
      const whole = Math.floor(strike.at);
      // Past the run's last strike nobody knows what else sounds.
      const known = Math.min(length, Math.floor(last!.at) + frame.pre - whole);
      if (known <= frame.n) continue;
      const samples = await readSamples(track, whole, whole + known);
      takeMeanOff(samples, frame);
      for (const other of run) {
        const others = { ...voices[other.voice], tail: other === strike ? null : voices[other.voice].tail };
        addVoice(samples, others, frame, other.at - whole, -other.gain);
      }
      // Between samples by a straight line: what rings long is slow.
      const fraction = strike.at - whole;
      for (let i = 0; i + 1 < known; i++) {
        sum[i] += strike.gain * ((1 - fraction) * samples[i] + fraction * samples[i + 1]);
        squares[i] += strike.gain ** 2;
      }
    }
  }
  const from = voices[v].span[1] - Math.round(0.001 * frame.sampleRate);
  return trimmed(halves, from, background, frame);
}

/** Cosine between the halves' tails from which a tail is taken for real. */
const coherent = 0.5;

/** Up to where the halves agree, it stands out of what is left of the background, and does harm. */
function trimmed(
  [one, two]: readonly { sum: Float64Array; squares: Float64Array }[],
  from: number,
  background: Background,
  frame: Frame,
): Float64Array | null {
  const piece = Math.round(pieceS * frame.sampleRate);
  const tail = new Float64Array(one.sum.length);
  let end = from;
  for (let start = from; start + piece <= tail.length; start += piece) {
    if (!(one.squares[start + piece - 1] > 0 && two.squares[start + piece - 1] > 0)) break;
    let both = 0;
    let first = 0;
    let second = 0;
    for (let i = start; i < start + piece; i++) {
      const a = one.sum[i] / one.squares[i];
      const b = two.sum[i] / two.squares[i];
      both += a * b;
      first += a * a;
      second += b * b;
      tail[i] = (one.sum[i] + two.sum[i]) / (one.squares[i] + two.squares[i]);
    }
    if (both < coherent * Math.sqrt(first * second) || both / piece < harmless * background.power) break;
    end = start + piece;
  }
  if (end === from) return null;
  const out = tail.slice(0, end);
  const flank = Math.min(piece, end - from);
  for (let i = 0; i < flank; i++) out[end - 1 - i] *= i / flank;
  return out;
}
