/** C: what the files say of the machine, of the work or of the takes is not so. */
import type { Change } from './person.ts';
import type { Erring, Situation } from './situation.ts';
import type { World } from './world.ts';

/** Told changes, those that move most first. */
const largestFirst = (told: readonly Change[], { parts }: World) => {
  const size = ({ adjuster, from, to }: Change) =>
    Math.abs(to - from) * parts.find(({ id }) => id === adjuster)!.unitMs;
  return [...told].sort((a, b) => size(b) - size(a));
};

const asTold = (told: readonly Change[]): Erring => ({ done: told, noted: told, erred: false });

/** In the first round something goes otherwise with the largest change that `fits`; later all is done as told. */
function onceWith(
  how: (change: Change) => Partial<Record<'done' | 'noted', readonly Change[]>>,
  fits: (change: Change) => boolean = () => true,
): Situation['act'] {
  return (told, world, k) => {
    const change = k === 0 ? largestFirst(told, world).find(fits) : undefined;
    if (change === undefined || Math.abs(change.to - change.from) < 3) return asTold(told);
    const others = told.filter((one) => one !== change);
    const { done = [change], noted = [change] } = how(change);
    return { done: [...others, ...done], noted: [...others, ...noted], erred: true };
  };
}

const further = ({ adjuster, from, to }: Change, units: number): Change => ({
  adjuster,
  from,
  to: to + units,
});

export const recordSituations: readonly Situation[] = [
  {
    name: 'labels-swapped',
    part: 'C',
    shape: { strikers: 3 },
    takes: 6,
    finding: 'swapped',
    evidentFrom: 1,
    standing: true,
    prepare: ({ labels }) => {
      labels.set('lever-1', 'lever-2').set('lever-2', 'lever-1');
    },
    settle: ({ labels }) => labels.clear(),
  },
  {
    name: 'next-joints-shims',
    part: 'C',
    takes: 5,
    shape: { sectors: 4 },
    finding: 'nextJoint',
    act: onceWith(
      (change) => ({ done: [{ ...change, adjuster: change.adjuster === 'joint-AB' ? 'joint-BC' : 'joint-AB' }] }),
      ({ adjuster }) => adjuster === 'joint-AB' || adjuster === 'joint-BC',
    ), // prettier-ignore
  },
  {
    name: 'joints-move-one-sector',
    part: 'C',
    takes: 5,
    finding: 'joints',
    evidentFrom: 1,
    standing: true,
    prepare: ({ parts, shape }) => {
      const joint = parts.find(({ id }) => id === 'joint-AB')!;
      joint.takes.forEach((_, i) => {
        if (i % shape.sectors > 1) joint.takes[i] = 0;
      });
    },
    settle: ({ parts }) => {
      parts.find(({ id }) => id === 'joint-AB')!.shifts = { sectors: ['B'] };
    },
  },
  { name: 'work-not-done', part: 'C', takes: 5, finding: 'notDone', act: onceWith(() => ({ done: [] })) },
  { name: 'done-and-not-noted', part: 'C', takes: 5, finding: 'notNoted', act: onceWith(() => ({ noted: [] })) }, // prettier-ignore
  {
    name: 'done-twice',
    part: 'C',
    takes: 5,
    finding: 'doneTwice',
    act: onceWith((change) => ({ done: [further(change, change.to - change.from)] })),
  },
  {
    name: 'one-unit-more',
    part: 'C',
    takes: 5,
    alsoTrue: ['oneMore'],
    act: onceWith((change) => ({ done: [further(change, 1)] })),
  },
  {
    name: 'lever-knocked-5-units',
    part: 'C',
    takes: 5,
    finding: 'slipped',
    evidentFrom: 2,
    alsoTrue: ['moved'],
    before: ({ parts }, k) => {
      if (k === 2) parts.find(({ id }) => id === 'lever-1')!.stands += 5;
    },
  },
  {
    name: 'ring-slipped',
    part: 'C',
    takes: 5,
    finding: 'slipped',
    evidentFrom: 2,
    alsoTrue: ['moved'],
    before: ({ parts }, k) => {
      if (k === 2) parts.find(({ id }) => id === 'ring')!.stands -= 6;
    },
  },
  {
    name: 'ring-slips-at-each-change',
    part: 'C',
    takes: 5,
    alsoTrue: ['slipped', 'moved', 'noEffect', 'wrongWay'],
    prepare: (world) => {
      world.parts.find(({ id }) => id === 'ring')!.slips = 2;
      // The reference late as a whole: the ring has to be moved.
      for (const striker of world.strikers.slice(1)) striker.angularMs += 6;
    },
  },
  {
    name: 'backlash',
    part: 'C',
    takes: 5,
    prepare: ({ parts }) => {
      for (const part of parts) Object.assign(part, { backlash: 2, lastWay: 1 });
    },
  },
  {
    name: 'coupled-neighbour',
    part: 'C',
    shape: { strikers: 3 },
    takes: 6,
    finding: 'coupled',
    evidentFrom: 1,
    standing: true,
    prepare: ({ parts, shape, strikers }) => {
      // Out by itself, so that its lever is moved and shows what else it does.
      strikers[1].angularMs = 8;
      const lever = parts.find(({ id }) => id === 'lever-1')!;
      for (let s = 0; s < shape.sectors; s++) lever.takes[2 * shape.sectors + s] = 0.5;
    },
    settle: ({ parts }) => {
      parts.find(({ id }) => id === 'lever-1')!.alsoShifts = [{ channels: ['drum-2'], share: 0.5 }];
    },
  },
  { name: 'seized-lever', part: 'C', finding: 'noEffect', evidentFrom: 1, standing: true,
    alsoTrue: ['notDone', 'outOfReach'], prepare: (world) => leverOf(world, 0) }, // prettier-ignore
  { name: 'sign-wrong', part: 'C', finding: 'wrongWay', evidentFrom: 1, standing: true,
    alsoTrue: ['notDone', 'outOfReach'], prepare: (world) => leverOf(world, -1) }, // prettier-ignore
  { name: 'same-recording-twice', part: 'C', takes: 5, finding: 'sameRecording', evidentFrom: 1, repeats: (k) => k === 1 }, // prettier-ignore
  {
    name: 'undated-takes',
    part: 'C',
    takes: 4,
    finding: 'undated',
    evidentFrom: 1,
    recorder: () => ({ dated: false }),
    takeName: (k) => ['winter', 'spring', 'summer', 'autumn'][k],
  },
];

/** The first lever does something else than the file says, and its drum needs it. */
function leverOf({ parts, strikers }: World, factor: number): void {
  strikers[1].angularMs = 8;
  const at = parts.findIndex(({ id }) => id === 'lever-1');
  parts[at] = { ...parts[at], factor: factor === 0 ? 1e-9 : factor };
}
