/** A: takes in which chance, the drive or the recorder is not what a tidy error model takes it for. */
import type { Situation } from './situation.ts';
import { steadyDrive } from './drive.ts';

export const errorSituations: readonly Situation[] = [
  { name: 'usual', part: 'A' },
  { name: 'perfect-drive', part: 'A', shape: { drive: { ...steadyDrive, wander: 0 } }, untrue: ['drift', 'wobble'] }, // prettier-ignore
  { name: 'perfect-pins', part: 'A', shape: { pinMs: 0, referencePinMs: 1, turns: 8 }, untrue: ['pinError'], alsoTrue: ['referenceScatter'] }, // prettier-ignore
  { name: 'one-sector', part: 'A', shape: { sectors: 1, stepsPerSector: 96, pins: 8 } },
  { name: 'six-sectors', part: 'A', shape: { sectors: 6, strikers: 2 } },
  { name: 'ten-strikers', part: 'A', shape: { strikers: 10 } },
  { name: 'reference-pins-scatter', part: 'A', shape: { referencePinMs: 1, referenceStrokeMs: 0.03 }, alsoTrue: ['referenceScatter'] }, // prettier-ignore
  { name: 'reference-pins-scatter-2-ms', part: 'A', shape: { referencePinMs: 2 }, alsoTrue: ['referenceScatter'] }, // prettier-ignore
  { name: 'reference-unrepeatable', part: 'A', shape: { referenceStrokeMs: 1.5 }, alsoTrue: ['referenceScatter', 'unrepeatable'] }, // prettier-ignore
  { name: 'sparse-reference', part: 'A', shape: { referenceEvery: 32, drive: { ...steadyDrive, wander: 0.002 } } }, // prettier-ignore
  { name: 'very-sparse-reference', part: 'A', shape: { referenceEvery: 48, drive: { ...steadyDrive, wander: 0.002 } } }, // prettier-ignore
  { name: 'markers-to-10-ms', part: 'A', finding: 'rounded', recorder: () => ({ roundsToS: 0.01 }) },
  { name: 'markers-to-a-video-frame', part: 'A', finding: 'rounded', recorder: () => ({ roundsToS: 0.04 }) },
  { name: 'markers-to-8-khz', part: 'A', alsoTrue: ['rounded'], recorder: () => ({ roundsToS: 1 / 8000 }) },
  { name: 'hunting', part: 'A', shape: { drive: { ...steadyDrive, hunting: 0.01 } }, alsoTrue: ['drift', 'wobble'] }, // prettier-ignore
  { name: 'slowing', part: 'A', shape: { drive: { ...steadyDrive, slowing: 0.03 } }, alsoTrue: ['drift', 'wobble'] }, // prettier-ignore
  { name: 'wandering', part: 'A', shape: { drive: { ...steadyDrive, wander: 0.003 } }, alsoTrue: ['drift', 'wobble'] }, // prettier-ignore
  { name: 'few-turns', part: 'A', shape: { turns: 1.2 }, alsoTrue: ['fewTurns'] },
  {
    name: 'noisy-striker',
    part: 'A',
    finding: 'unrepeatable',
    shape: { turns: 8 },
    prepare: ({ strikers }) => {
      strikers[1].strokeMs = 4;
    },
  },
  {
    name: 'misses-and-extras',
    part: 'A',
    alsoTrue: ['notHeard'],
    prepare: ({ strikers }) => {
      for (const striker of strikers) Object.assign(striker, { misses: 0.05, extras: 0.05 });
    },
  },
  { name: 'pins-scatter', part: 'A', shape: { pinMs: 3, pins: 5 }, alsoTrue: ['pinScatter'] },
  {
    name: 'reference-on-the-barrel',
    part: 'A',
    prepare: ({ strikers, parts, shape }) => {
      strikers[0] = { ...strikers[0], onBarrel: true };
      // Joints move the reference's pins as they move all others.
      for (const { takes, shifts } of parts)
        for (let s = 0; s < shape.sectors; s++)
          if (shifts.sectors !== undefined) takes[s] = takes[shape.sectors + s];
    },
  },
];
