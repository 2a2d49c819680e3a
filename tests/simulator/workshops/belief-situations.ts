/** B: machines that change while nobody touches them, and some that do not. */
import type { Situation } from './situation.ts';
import type { Shape } from './world.ts';

/** Calibrated some time ago. */
const calm: Partial<Shape> = { channelMs: 0.3, sectorMs: 0.2 };

export const beliefSituations: readonly Situation[] = [
  { name: 'quiet', part: 'B', shape: calm, takes: 6 },
  {
    name: 'wear',
    part: 'B',
    shape: calm,
    takes: 10,
    finding: 'wear',
    alsoTrue: ['moved'],
    evidentFrom: 6,
    from: 6,
    before: ({ strikers }, k) => {
      if (k > 0) strikers[1].angularMs += 0.5;
    },
  },
  {
    name: 'mended-striker',
    part: 'B',
    shape: calm,
    takes: 9,
    finding: 'moved',
    evidentFrom: 5,
    from: 5,
    before: ({ strikers }, k) => {
      if (k === 5) strikers[1].angularMs += 6;
    },
  },
  {
    name: 'striker-jumps-3-ms',
    part: 'B',
    shape: calm,
    takes: 8,
    finding: 'moved',
    evidentFrom: 4,
    from: 4,
    before: ({ strikers }, k) => {
      if (k === 4) strikers[2].angularMs -= 3;
    },
  },
  {
    name: 'sector-knocked',
    part: 'B',
    shape: calm,
    takes: 7,
    finding: 'moved',
    evidentFrom: 3,
    from: 3,
    before: ({ sectorMs }, k) => {
      if (k === 3) sectorMs[1] += 5;
    },
  },
  {
    name: 'channels-wander',
    part: 'B',
    shape: calm,
    takes: 8,
    alsoTrue: ['moved', 'wear'],
    before: ({ strikers }, k, random) => {
      if (k > 0) for (const striker of strikers.slice(1)) striker.angularMs += 0.6 * random.normal();
    },
  },
  {
    name: 'tempo-changes',
    part: 'B',
    takes: 5,
    prepare: ({ strikers }, random) => {
      for (const striker of strikers.slice(1)) striker.fixedMs = 4 * random.normal();
    },
    before: (world, k) => {
      world.bpm = [120, 90, 120, 105, 105][k];
    },
  },
];
