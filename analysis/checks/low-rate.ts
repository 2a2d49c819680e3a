/** A sampling rate at which strikes cannot be heard well. */
import { finding } from '../catalogue.ts';
import type { Check } from './check.ts';

/**
 * Half of it is the highest tone that a recording holds, and an attack is told by its high tones. Measured on struck
 * sounds at 30 dB: from 16 kHz on each strike is heard once and to some µs; at 11 kHz up to 0.6 ms early, at 8 kHz
 * 1 ms off, some twice.
 */
const leastSampleRate = 16_000;

export const lowRate: Check = {
  id: 'low-rate',
  looksFor: 'Recordings whose sampling rate is too low to time strikes.',
  run: ({ take }) =>
    take.tracks.flatMap(({ file, track, sampleRate }) => {
      if (sampleRate >= leastSampleRate) return [];
      const message = `${file} track ${track} has ${sampleRate} samples a second: strikes are timed a millisecond off there, and some are heard twice`;
      return [finding('low-rate', message, { file, place: `track ${track}` })];
    }),
};
