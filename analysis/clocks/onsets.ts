/** What starts to sound in a file, and how clearly: a curve, and its moments. */
import type { Run } from '../ports.ts';
import { mixed, type FileSound } from './sound.ts';

/** Resolution of the curve, s. */
export const hopS = 0.001;

export interface Onsets {
  /** For each hop, how much louder the following is than what went before, ln; 0 where it is not. */
  readonly rise: Float32Array;
  /** Ascending. */
  readonly moments: readonly OnsetPower[];
}

export interface OnsetPower {
  readonly timeS: number;
  /** Mean square after it, of the first difference. */
  readonly power: number;
}

/** Hops compared: the attack, and what it stands against. */
const after = 5;
const before = 8;
/** A rise below 5 dB is mostly noise's own (a mean over 5 ms of noise scatters by some 0.6 dB). */
const leastRise = Math.log(10 ** 0.5);
/** Above this a rise counts no more: a clear strike and a clearer one tell the same. */
const mostRise = Math.log(10 ** 2.5);
/** Two moments are not nearer, hops. */
const apart = 20;
const hopsPerRead = 4096;

/** @throws the signal's reason when the run is stopped */
export async function onsetsOf(sound: FileSound, run: Run): Promise<Onsets> {
  const power = await powers(sound, run);
  const floor = Math.max(1e-18, quantile(power, 0.1));
  const sums = new Float64Array(power.length + 1);
  for (let h = 0; h < power.length; h++) sums[h + 1] = sums[h] + power[h] + floor;
  const meanOf = (from: number, to: number) => (sums[to] - sums[from]) / (to - from);
  const rise = new Float32Array(power.length);
  for (let h = before; h + after < power.length; h++) {
    const ratio = Math.log(meanOf(h, h + after) / meanOf(h - before, h));
    rise[h] = Math.min(mostRise, Math.max(0, ratio));
  }
  const moments: OnsetPower[] = [];
  for (let h = before; h + after < power.length; h++) {
    if (rise[h] < leastRise) continue;
    let top = h;
    for (let i = h; i < Math.min(h + apart, power.length - after); i++) if (rise[i] > rise[top]) top = i;
    moments.push({ timeS: top * hopS, power: meanOf(top, top + after) });
    h = top + apart;
  }
  return { rise, moments };
}

/** Mean square of the first difference in each hop: what is low and lasts is mostly gone. */
async function powers(sound: FileSound, run: Run): Promise<Float32Array> {
  const hops = Math.floor(sound.length / sound.sampleRate / hopS);
  const power = new Float32Array(hops);
  const at = (hop: number) => Math.round(hop * hopS * sound.sampleRate);
  for (let first = 0; first < hops; first += hopsPerRead) {
    run.signal?.throwIfAborted();
    const last = Math.min(hops, first + hopsPerRead);
    const samples = await mixed(sound, at(first) - 1, at(last));
    for (let h = first; h < last; h++) {
      let sum = 0;
      const [from, to] = [at(h) - at(first) + 1, at(h + 1) - at(first) + 1];
      for (let i = from; i < to; i++) sum += (samples[i] - samples[i - 1]) ** 2;
      power[h] = sum / (to - from);
    }
  }
  return power;
}

function quantile(values: Float32Array, share: number): number {
  if (values.length === 0) return 0;
  return Float32Array.from(values).sort()[Math.floor(share * (values.length - 1))];
}
