/** E: what no setting mends, what is not measured, and little room. */
import type { Situation } from './situation.ts';

export const adviceSituations: readonly Situation[] = [
  {
    name: 'group-out-of-reach',
    part: 'E',
    finding: 'outOfReach',
    outOfReach: (_, striker, sector) => striker === 1 && sector === 1,
    prepare: ({ groupMs, shape }) => {
      groupMs[shape.sectors + 1] = 15;
    },
  },
  {
    name: 'sector-far-off',
    part: 'E',
    // Of two sectors, so that its joint alone would have to move it, farther than it goes.
    shape: { range: 10 },
    finding: 'outOfReach',
    outOfReach: (_, __, sector) => sector === 1,
    prepare: ({ sectorMs }) => {
      sectorMs[1] = sectorMs[0] + 30;
      sectorMs[2] = sectorMs[0];
    },
  },
  { name: 'little-room', part: 'E', shape: { range: 4 }, alsoTrue: ['outOfReach'], outOfReach: () => true },
  {
    name: 'channel-30-ms-late',
    part: 'E',
    shape: { range: 90 },
    prepare: ({ strikers }) => {
      strikers[1].angularMs = 30;
    },
  },
  {
    name: 'channel-not-heard',
    part: 'E',
    shape: { strikers: 3 },
    finding: 'notHeard',
    alsoTrue: ['fewTurns'],
    outOfReach: (_, striker) => striker === 2,
    recorder: () => ({ label: (id) => (id === 'drum-2' ? null : id) }),
  },
  {
    name: 'channel-not-heard-later',
    part: 'E',
    shape: { strikers: 3 },
    finding: 'notHeard',
    alsoTrue: ['fewTurns'],
    evidentFrom: 1,
    outOfReach: (_, striker) => striker === 2,
    recorder: (k) => ({ label: (id) => (id === 'drum-2' && k > 0 ? null : id) }),
  },
  { name: 'on-the-limit', part: 'E', shape: { channelMs: 0.1, sectorMs: 0.1, turns: 2.2, strokeMs: 0.8 },
    prepare: ({ strikers }) => { strikers[1].angularMs = 1.9; } }, // prettier-ignore
  { name: 'large-effects-unknown', part: 'E', shape: { effectSpread: 0.5, refitMs: 0.3 } },
  {
    name: 'tight-tolerance',
    part: 'E',
    alsoTrue: ['unrepeatable', 'pinScatter', 'outOfReach'],
    outOfReach: (_, striker) => striker === 2,
    prepare: ({ strikers }) => {
      strikers[2].toleranceMs = 0.3;
    },
  },
];
