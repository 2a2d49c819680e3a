/** Files of a take that began apart, or whose recorders' clocks differ, and those of which nothing tells it. */
import { NORMAL_95 } from '../numbers/normal.ts';
import { finding } from '../results/catalogue.ts';
import { withMinus } from '../words/minus.ts';
import type { FileClock } from '../take/clock.ts';
import type { Check } from './check.ts';

export const clocks: Check = {
  id: 'clocks',
  looksFor: 'Files that began apart, or ran by other clocks than the first one’s.',
  run: ({ take: { clocks = [] } }) =>
    clocks.flatMap((clock) => {
      const details = { file: clock.file };
      if (clock.how === 'found') return [finding('clocks-apart', foundMessage(clock, clocks[0]), details)];
      if (clock.how === 'unknown') {
        const message = `cannot tell whether ${clock.file} began together with ${clocks[0].file}: neither microphone hears the other’s strikers; lateness between the two is not known`;
        return [finding('clocks-unknown', message, details)];
      }
      if (clock.how === 'said') {
        const message = `cannot tell from the sound whether ${clock.file} began together with ${clocks[0].file}; they are of one length to the sample, so they are taken for one recorder’s`;
        return [{ ...finding('clocks-unknown', message, details), severity: 'note' as const }];
      }
      return [];
    }),
};

function foundMessage({ file, startS, startSdS, drift, driftSd }: FileClock, first: FileClock): string {
  const ms = (1000 * NORMAL_95 * startSdS).toFixed(2);
  const way = startS < 0 ? 'before' : 'after';
  // A clock that counts more is fast: its seconds are short.
  const pace = drift < 0 ? 'fast' : 'slow';
  const ppm = withMinus((1e6 * Math.abs(drift)).toFixed(1));
  return `${file} began ${Math.abs(startS).toFixed(4)} s (±${ms} ms) ${way} ${first.file}, and its clock ran ${ppm} ppm (±${(1e6 * NORMAL_95 * driftSd).toFixed(1)}) ${pace}, by the sound of strikers that both heard; this was taken off`;
}
