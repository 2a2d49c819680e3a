/** D: whole steps, likeness and mistaken identity. */
import { steadyDrive } from './drive.ts';
import type { Situation } from './situation.ts';
import type { World } from './world.ts';

const ofFirstDrum = (_: World, striker: number) => striker === 1;
const ofSecondSector = (_: World, __: number, sector: number) => sector === 1;

export const stepSituations: readonly Situation[] = [
  { name: 'channel-100-ms-late', part: 'D', finding: 'channelOff', alsoTrue: ['outOfReach', 'notHeard'], outOfReach: ofFirstDrum,
    prepare: ({ strikers }) => { strikers[1].angularMs = 100; } }, // prettier-ignore
  {
    name: 'channel-a-step-off',
    part: 'D',
    shape: { strikers: 3 },
    finding: 'channelOff',
    alsoTrue: ['outOfReach', 'notHeard'],
    outOfReach: ofFirstDrum,
    prepare: ({ pins }) => {
      for (const pin of pins) if (pin.striker === 1) pin.trueStep += 1;
    },
  },
  {
    name: 'sector-a-step-off',
    part: 'D',
    finding: 'sectorOff',
    alsoTrue: ['outOfReach', 'notHeard'],
    outOfReach: ofSecondSector,
    prepare: ({ pins }) => {
      for (const pin of pins) if (pin.striker !== 0 && pin.trueSector === 1) pin.trueStep += 1;
    },
  },
  {
    name: 'pattern-mirrored',
    part: 'D',
    finding: 'mirrored',
    alsoTrue: ['notHeard'],
    outOfReach: () => true,
    prepare: ({ pins, steps, shape }) => {
      for (const pin of pins) {
        if (pin.striker === 0) continue;
        pin.trueStep = (steps - pin.writtenStep) % steps;
        pin.trueSector = Math.floor(pin.trueStep / shape.stepsPerSector);
      }
    },
  },
  { name: 'sectors-alike', part: 'D', shape: { alike: true }, finding: 'alike', alsoTrue: ['notHeard'] },
  {
    name: 'boundary-wrong',
    part: 'D',
    shape: { pins: 6, sectorMs: 6 },
    finding: 'boundary',
    alsoTrue: ['misplaced', 'pinScatter'],
    prepare: ({ writtenFrom }) => {
      writtenFrom[1] -= 14;
    },
  },
  {
    name: 'channels-swapped',
    part: 'D',
    shape: { strikers: 3 },
    finding: 'channelsSwapped',
    alsoTrue: ['notHeard'],
    outOfReach: (_, striker) => striker === 1 || striker === 2,
    recorder: () => ({ label: (id) => ({ 'drum-1': 'drum-2', 'drum-2': 'drum-1' })[id] ?? id }),
  },
  { name: 'stop-and-restart', part: 'D', shape: { turns: 8, drive: { ...steadyDrive, stopS: 5.3 } }, finding: 'stopped' }, // prettier-ignore
  {
    name: 'one-pin-misplaced',
    part: 'D',
    shape: { pins: 4 },
    finding: 'misplaced',
    prepare: ({ pins }, random) => {
      const pin = random.pick(pins.filter(({ striker }) => striker === 2));
      pin.trueStep += 1;
      pin.astray = true;
    },
  },
];
