/** A sampling rate at which strikes cannot be heard well. */
import { finding } from '../results/catalogue.ts';
import { leastSampleRate } from '../hits/signal/clip.ts';
import type { Check } from './check.ts';

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
