// Whole calibrations of machines whose truth is known: many in tests/bench/advice.bench.ts, here a few, and one by ear.
import { describe, expect, it } from 'vitest';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { seededRandom } from '../../samples/random.ts';
import { recordings, recordingsMissing } from '../rig/recordings.ts';
import { byEar } from './audio.ts';
import { bestWorstMs } from './best.ts';
import { leastWorstMs } from './bound.ts';
import { closeTheLoop, truePins } from './loop.ts';
import { machineOf, withFaults } from './machines.ts';

const solve = nodeSolver();

describe('a calibration', () => {
  it.each([301, 302, 303])(
    'ends well in two rounds, seed %d',
    async (seed) => {
      const random = seededRandom(seed);
      const faulty = withFaults(machineOf(4, 6, 1, random), random);
      const pins = truePins(faulty, faulty.truth.builtWith ?? {});
      const bestMs = bestWorstMs(faulty, pins, random.split('best'));
      expect(await leastWorstMs(faulty, pins, solve)).toBeLessThanOrEqual(bestMs + 1e-6);
      const { rounds, worstMs } = await closeTheLoop(faulty, 2, solve, random, true);
      expect(rounds[0].worstMs).toBeGreaterThan(9.5);
      expect(rounds[1].worstMs).toBeLessThan(rounds[0].worstMs);
      expect(worstMs).toBeLessThanOrEqual(Math.max(2, 1.25 * bestMs) + 2 * faulty.refitMs);
    },
    60_000,
  );

  it.skipIf(recordingsMissing)(
    'ends well by ear',
    async () => {
      const { faulty, random, measure } = byEar(312, recordings(44_100));
      const pins = truePins(faulty, faulty.truth.builtWith ?? {});
      const bestMs = bestWorstMs(faulty, pins, random.split('best'));
      const { rounds, worstMs } = await closeTheLoop(faulty, 2, solve, random, true, measure);
      const held = rounds.flatMap(({ meansHeld }) => meansHeld);
      // 16 groups and the reference's four, twice; intervals of 95 %.
      expect(held.length).toBe(40);
      expect(held.filter(Boolean).length).toBeGreaterThanOrEqual(34);
      expect(rounds[0].worstMs).toBeGreaterThan(9.5);
      expect(worstMs).toBeLessThanOrEqual(Math.max(2, 1.25 * bestMs) + 2 * faulty.refitMs);
    },
    120_000,
  );
});
