/** Recordings of which a codec threw some away. */
import { NORMAL_95 } from '../numbers/normal.ts';
import { finding } from '../results/catalogue.ts';
import { codingErrors } from '../hits/coding-error.ts';
import type { Check } from './check.ts';

export const lossy: Check = {
  id: 'lossy',
  looksFor: 'Recordings that a codec made smaller, and what that does to the strikes’ times.',
  run: ({ take }) => {
    const errors = codingErrors(take);
    const seen = new Set<string>();
    return take.tracks.flatMap(({ file, coding }, t) => {
      if (!coding?.lossy || seen.has(file)) return [];
      seen.add(file);
      const { codec, bitsPerSecond } = coding;
      const rate = bitsPerSecond === null ? 'an unknown rate' : `${Math.round(bitsPerSecond / 1000)} kbit/s`;
      const ms = (1000 * NORMAL_95 * errors[t].onsetSdS).toFixed(1);
      const message = `${file} is ${codec} at ${rate}: such a codec smears attacks ahead of themselves, so where each channel’s sound begins is known to ±${ms} ms at best, and at low rates a sound may be heard milliseconds off`;
      return [finding('lossy', message, { file })];
    });
  },
};
