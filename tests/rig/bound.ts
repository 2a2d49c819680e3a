/** How exactly a strike's time can be known at all. */
import { RealFourier } from '../../analysis/numbers/fft.ts';

/**
 * The Cramér–Rao bound on the standard deviation of the time of a known pulse in white noise, in s: no unbiased
 * estimate does better. var ≥ σ² / Σ s′(n·Ts)² (Kay 1993, "Fundamentals of Statistical Signal Processing: Estimation
 * Theory", 3.11). The derivative is taken of the band-limited waveform, through its spectrum.
 *
 * @param pulse its samples, noise-free and beginning and ending near zero
 * @param noiseRms σ, in the pulse's units
 */
export function timeBoundS(pulse: Float32Array | Float64Array, sampleRate: number, noiseRms: number): number {
  const n = 2 ** Math.ceil(Math.log2(2 * pulse.length));
  const fourier = new RealFourier(n);
  const padded = new Float64Array(n);
  padded.set(pulse);
  const power = fourier.power(padded);
  // Parseval: Σ s′² = (1/n)·Σ over all bins of ω²·|S|²; those between 0 and n/2 count for their mirror image too.
  let slope = 0;
  for (let k = 1; k < power.length; k++) {
    const omega = (2 * Math.PI * k * sampleRate) / n;
    slope += ((k === n / 2 ? 1 : 2) * omega * omega * power[k]) / n;
  }
  return noiseRms / Math.sqrt(slope);
}
