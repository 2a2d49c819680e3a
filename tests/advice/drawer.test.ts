// The drawer along the order of the work: what a step takes has to lie there by then, or it is said what to have at hand.
import { describe, expect, it } from 'vitest';
import { drawerOf } from '../../analysis/advice/drawer.ts';
import { orderOfWork } from '../../analysis/advice/order.ts';
import { meansWords } from '../../analysis/advice/work.ts';
import { stacksInOrder } from '../../analysis/advice/stacks-in-order.ts';
import { builtOf, type Counts, type Stack } from '../../analysis/advice/stock.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { workLines } from '../../analysis/report/work-words.ts';
import { block, machineOf, shim } from './small.ts';

const ids = ['drum', 'bell', 'gong'];
const plain = machineOf(
  [block, ...ids.map((id) => ({ id }))],
  ['A', 'B'],
  [shim('joint', { sectors: ['B'] }), ...ids.map((id) => shim(`lever-${id}`, { channels: [id] }))],
);
const stock = (count: number) => [{ unit: 'shim', mm: 0.1, count }];
const machineWith = (count: number) => ({
  ...plain,
  description: machineSchema.parse({ ...plain.description, stock: stock(count) }),
});
/** Two groups a channel; the joint moves all that the levers move. */
const share = ids.flatMap((_, c) =>
  [0, 1].map((s) => Float64Array.from([1 + s, ...ids.map((__, k) => (k === c ? 1 : 0))])),
);
const stack = (adjuster: number, tenths: number, mm = 0.1): Stack => ({
  adjuster,
  holds: [],
  takes: tenths > 0 ? [{ mm, count: tenths }] : [],
  givesBack: tenths < 0 ? [{ mm, count: -tenths }] : [],
  isUnknown: false,
});

function ordered(count: number, stacks: readonly Stack[]) {
  const machine = machineWith(count);
  const drawer = drawerOf(machine, { stacks, left: [], buy: [] });
  const stops = orderOfWork({ machine, share }, [...new Set(stacks.map(({ adjuster }) => adjuster))], drawer);
  const order = stops.flatMap(({ adjusters }) => adjusters);
  return { order, lacked: drawer.lackedIn(order) };
}

describe('the order of the work', () => {
  it('puts what gives pieces back before what needs them', () => {
    expect(ordered(0, [stack(1, 2), stack(2, -3), stack(3, 1)])).toEqual({ order: [2, 1, 3], lacked: [] });
    // With enough in the drawer it is as before.
    expect(ordered(3, [stack(1, 2), stack(2, -3), stack(3, 1)]).order).toEqual([1, 2, 3]);
  });

  it('keeps the joint before the levers that are set against it, and says what that lacks', () => {
    const { order, lacked } = ordered(1, [stack(0, 3), stack(1, -2), stack(2, -1)]);
    expect(order[0]).toBe(0);
    expect(lacked).toEqual([{ unit: 'shim', mm: 0.1, count: 2 }]);
  });

  it('of two stacks that need each other’s pieces says which to have at hand', () => {
    const machine = machineWith(0);
    const swap = (adjuster: number, takes: number, givesBack: number): Stack => ({
      ...stack(adjuster, 0),
      takes: [{ mm: takes, count: 1 }],
      givesBack: [{ mm: givesBack, count: 1 }],
    });
    const drawer = drawerOf(machine, { stacks: [swap(1, 0.2, 0.1), swap(2, 0.1, 0.2)], left: [], buy: [] });
    const order = orderOfWork({ machine, share }, [1, 2], drawer).flatMap(({ adjusters }) => adjusters);
    const atHand = drawer.lackedIn(order);
    expect(atHand).toEqual([{ unit: 'shim', mm: 0.2, count: 1 }]);
    const words = meansWords({ minutes: null, steps: [], atHand }, null, null).join(' ');
    expect(words).toContain('have 1 × 0.2 mm more at hand, which come out again in a later step');
  });

  it('of stacks of equally few pieces takes those that need nothing at hand, where there are any', () => {
    const levers = (drum: object, bell: object, pieces: readonly number[]) => {
      const { description, ...rest } = machineOf(
        [block, { id: 'drum' }, { id: 'bell' }],
        ['A', 'B'],
        [shim('lever-drum', { channels: ['drum'] }, drum), shim('lever-bell', { channels: ['bell'] }, bell)],
      );
      const own = pieces.map((count, i) => ({ mm: (i + 1) / 10, count }));
      return { ...rest, description: machineSchema.parse({ ...description, stock: own }) };
    };
    const each = [0, 1].map((c) => Float64Array.from([0, 1], (a) => (a === c ? 1 : 0)));
    const choose = (machine: Machine, settings: readonly number[], counts: Counts) =>
      stacksInOrder({ machine, share: each }, settings, builtOf(machine, counts, []));
    // 0.6 and 0.4 mm of five pieces: two of 0.3 in the first would need one at hand that only the second gives back, and the other way.
    const machine = levers({ installed: 1, max: 9 }, { installed: 5, max: 9, stack: [0.2, 0.3] }, [1, 0, 1]);
    const other = new Map([
      [0, new Map([[300, 2]])],
      [1, new Map([[200, 1], [100, 2]])], // prettier-ignore
    ]);
    const built = choose(machine, [6, 4], other);
    expect(built.order).toEqual([1, 0]);
    expect(drawerOf(machine, built).lackedIn(built.order!)).toEqual([]);
    expect(built.stacks.find(({ adjuster }) => adjuster === 1)!.holds).toEqual([
      { mm: 0.3, count: 1 },
      { mm: 0.1, count: 1 },
    ]);
    // One piece of each, and they change places: no choice is left.
    const swap = levers({ installed: 2, stack: [0.2] }, { installed: 1 }, [0, 0]);
    const swapped = new Map([
      [0, new Map([[100, 1]])],
      [1, new Map([[200, 1]])],
    ]);
    expect(choose(swap, [1, 2], swapped)).toEqual(builtOf(swap, swapped, []));
  });

  it('is said with what it was planned by', () => {
    const change = {
      adjuster: 'lever-drum',
      from: 3,
      to: 4,
      minutes: 4,
      holds: [],
      takes: [],
      givesBack: [],
    };
    const step = { access: 'gallery', openMinutes: 5, changes: [change] };
    const lines = (one: object) =>
      workLines({ work: { minutes: 9, steps: [{ ...step, ...one }] }, settings: [] }).join(' ');
    expect(lines({})).toMatch(
      /1\. open gallery .* Planned by what machine\.jsonc says of access \(nothing is opened twice\) and of stock \(the fewest/,
    );
    const bare = { adjuster: 'lever-drum', from: 3, to: 4, minutes: 4 };
    expect(lines({ changes: [bare] })).toMatch(/says of access \(nothing is opened twice\)\.$/);
    expect(lines({ access: null })).toMatch(/says of stock \(the fewest pieces in all/);
  });

  it('spares as many pieces as the best of all orders does, of random plans', () => {
    let seed = 5;
    const random = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
    for (let trial = 0; trial < 200; trial++) {
      const stacks = [1, 2, 3].map((a) => stack(a, Math.round(random() * 6) - 3));
      const count = Math.max(
        Math.floor(random() * 3),
        stacks.reduce(
          (sum, { takes, givesBack }) => sum + (takes[0]?.count ?? 0) - (givesBack[0]?.count ?? 0),
          0,
        ),
      );
      // What all of them need is there or comes out, so some order does without lack.
      expect(ordered(count, stacks).lacked).toEqual([]);
    }
  });
});
