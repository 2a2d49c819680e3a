/** A struck sound by formula; needs nothing of Node, for tests in a browser too. */
import { soundFrom, type Sound } from '../../samples/place.ts';

/** A body that rings in three modes after a blow of half a ms: silent before sample 10, −60 dB after `decayS`. */
export function struck(hz: number, decayS: number, sampleRate = 48_000): Sound {
  const samples = Float32Array.from({ length: Math.round(1.3 * decayS * sampleRate) }, (_, i) => {
    const t = (i - 10) / sampleRate;
    if (t < 0) return 0;
    const rise = 1 - Math.exp(-t / 0.0001);
    const fall = Math.exp((-6.9 * t) / decayS);
    const modes = [1, 2.3, 4.1].map((m, k) => Math.sin(2 * Math.PI * hz * m * t) / (k + 1));
    return 0.3 * rise * fall * (modes[0] + modes[1] + modes[2]);
  });
  return soundFrom(`struck ${hz}`, samples, sampleRate);
}
