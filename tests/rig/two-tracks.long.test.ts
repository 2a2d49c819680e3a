/** What the tool is for, once through sound: real recordings, two tracks of two and three strikers. */
import { describe, expect, test } from 'vitest';
import { recordingsMissing } from './recordings.ts';
import { twoTracks } from './two-tracks.ts';

describe.skipIf(recordingsMissing)('two tracks of two and three strikers, started mid-turn', () => {
  test.each([1, 9, 16])(
    'seed %i: means within 0.7 ms, the misplaced pin named, none invented',
    async (seed) => {
      const take = await twoTracks(seed);
      expect(take.given).toBe(take.asked);
      expect(take.worstMs).toBeLessThanOrEqual(0.7);
      expect(take.named).toBe(true);
      expect(take.invented).toBe(0);
    },
  );
});
