import { describe, expect, test } from 'vitest';
import { recordingsMissing } from './recordings.ts';
import { hearInRoom, rooms } from './room-take.ts';

describe.skipIf(recordingsMissing !== null)('someone talks, a motor hums, someone walks', () => {
  // Seed 4 far: talk bends the rotation that is found from the loud moments alone, so that whole stretches were missed.
  test.each([
    ['near', 2],
    ['far', 4],
  ] as const)('%s, seed %i: nothing is invented, and hardly a strike is missed', async (room, seed) => {
    const heard = await hearInRoom(seed, rooms[room]);
    expect(heard.invented).toBe(0);
    expect(heard.missed / heard.struck).toBeLessThan(0.02);
  });
});
