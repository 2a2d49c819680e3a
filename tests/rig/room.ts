/**
 * What else sounds in a workshop, made by formula and seed: someone talking, a motor's hum, footsteps. Speech is a source
 * and filters (Fant 1960): pulses at a voice's pitch or breath, through three formants that change with each syllable.
 */
import { seededRandom, type Random } from '../../samples/random.ts';

/** Formants of five vowels, Hz (Peterson & Barney 1952, men, from memory). */
const vowels = [
  [270, 2290, 3010],
  [530, 1840, 2480],
  [730, 1090, 2440],
  [570, 840, 2410],
  [300, 870, 2240],
];

/** Adds a resonance of a filter's two poles to what it is given. */
function resonator(hz: number, widthHz: number, sampleRate: number) {
  const r = Math.exp((-Math.PI * widthHz) / sampleRate);
  const [a1, a2] = [2 * r * Math.cos((2 * Math.PI * hz) / sampleRate), -r * r];
  let [y1, y2] = [0, 0];
  return (x: number) => {
    const y = (1 - r) * x + a1 * y1 + a2 * y2;
    [y2, y1] = [y1, y];
    return y;
  };
}

/** Talk: syllables of 120 to 300 ms, some beginning with a burst of breath, pauses between phrases. */
export function speech(length: number, sampleRate: number, seed: number): Float32Array {
  const random = seededRandom(seed);
  const out = new Float32Array(length);
  let at = Math.round(random.between(0.1, 0.6) * sampleRate);
  while (at < length) {
    for (let left = 3 + random.integer(7); left > 0 && at < length; left--)
      at = syllable(out, at, sampleRate, random);
    at += Math.round(random.between(0.3, 1.2) * sampleRate);
  }
  return out;
}

function syllable(out: Float32Array, from: number, sampleRate: number, random: Random): number {
  const samples = Math.round(random.between(0.12, 0.3) * sampleRate);
  const pitch = random.between(95, 150);
  const filters = random.pick(vowels).map((hz, f) => resonator(hz, [70, 100, 140][f], sampleRate));
  // Plosives and sibilants: what is most like a strike.
  const burst = random.uniform() < 0.6 ? Math.round(random.between(0.008, 0.06) * sampleRate) : 0;
  const hiss = resonator(random.between(2500, 6000), 1500, sampleRate);
  let phase = 0;
  for (let i = 0; i < samples && from + i < out.length; i++) {
    const rise = Math.min(1, i / (0.03 * sampleRate));
    const fall = Math.min(1, (samples - i) / (0.05 * sampleRate));
    phase += (pitch * (1 - (0.2 * i) / samples)) / sampleRate;
    let pulse = 0.02 * random.normal();
    if (phase >= 1) {
      phase -= 1;
      pulse += 12;
    }
    const voiced = filters.reduce((sum, filter) => sum + filter(pulse), 0) * rise * fall;
    const breath = i < burst ? hiss(random.normal()) * (1 - i / burst) : 0;
    out[from + i] += voiced + 0.8 * breath;
  }
  return from + samples + Math.round(random.between(0, 0.05) * sampleRate);
}

/** A motor on the mains: 50 Hz and its harmonics, and a bearing's whine, all wavering slowly. */
export function hum(length: number, sampleRate: number, seed: number): Float32Array {
  const random = seededRandom(seed);
  const tones = [50, 100, 150, 200, 250, 300, 600, 1730].map((hz, k) => ({
    rate: (2 * Math.PI * hz * (1 + 0.002 * random.normal())) / sampleRate,
    phase: 2 * Math.PI * random.uniform(),
    gain: 1 / (1 + 0.7 * k),
    waver: (2 * Math.PI * random.between(0.1, 0.7)) / sampleRate,
  }));
  return Float32Array.from({ length }, (_, i) =>
    tones.reduce(
      (sum, { rate, phase, gain, waver }) =>
        sum + gain * (1 + 0.2 * Math.sin(waver * i)) * Math.sin(rate * i + phase),
      0,
    ),
  );
}

/** Steps on boards, about every 0.55 s for some seconds, then none: a thud of the floor and the sole's scrape. */
export function footsteps(length: number, sampleRate: number, seed: number): Float32Array {
  const random = seededRandom(seed);
  const out = new Float32Array(length);
  let at = random.between(0, 1) * sampleRate;
  while (at < length) {
    for (let left = 6 + random.integer(8); left > 0 && at < length; left--) {
      const thud = resonator(random.between(60, 120), 40, sampleRate);
      const scrape = resonator(random.between(800, 2500), 900, sampleRate);
      const from = Math.round(at);
      for (let i = 0; i < 0.15 * sampleRate && from + i < length; i++) {
        const t = i / sampleRate;
        const blow = Math.exp(-t / 0.012) * (1 - Math.exp(-t / 0.002)) * random.normal();
        out[from + i] += 6 * thud(blow) + 0.6 * scrape(blow);
      }
      at += random.between(0.48, 0.62) * sampleRate;
    }
    at += random.between(2, 6) * sampleRate;
  }
  return out;
}

/** The loudest tenth of a sound's 50 ms windows, as an rms: pauses do not count. */
export function loudness(x: Float32Array, sampleRate: number): number {
  const window = Math.round(0.05 * sampleRate);
  const powers = Array.from({ length: Math.floor(x.length / window) }, (_, w) => {
    let sum = 0;
    for (let i = w * window; i < (w + 1) * window; i++) sum += x[i] * x[i];
    return sum / window;
  }).sort((a, b) => a - b);
  return Math.sqrt(powers[Math.floor(0.9 * (powers.length - 1))]);
}
