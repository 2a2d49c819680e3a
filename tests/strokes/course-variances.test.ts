// The variances of a take's times, and what becomes of them where a fit is begun from one in which fewer played a part.
import { expect, test } from 'vitest';
import { solveCourse, type CourseData, type Variances } from '../../analysis/strokes/course-model.ts';
import { fitVariances } from '../../analysis/strokes/course-variances.ts';
import { seededRandom } from '../../samples/random.ts';

const chanceMs = 0.2;
const latenessMs = 3;

/** A reference on every step and one other channel on every second, each stroke off by chance alone. */
function take(ownPins: readonly boolean[]): CourseData {
  const random = seededRandom(5);
  const steps = 60;
  const pinsPerTurn = 12;
  const strokes = Array.from({ length: steps }, (_, i) => i).flatMap(
    (at) =>
    at % 2 === 0 ? [{ at, keeper: 0 }, { at, keeper: 1 }] : [{ at, keeper: 0 }], // prettier-ignore
  );
  const pinOf = ({ at, keeper }: { at: number; keeper: number }) =>
    ownPins[keeper] ? (keeper === 0 || !ownPins[0] ? 0 : pinsPerTurn) + (at % pinsPerTurn) : -1;
  return {
    x: Float64Array.from({ length: steps }, (_, i) => i),
    knot: Int32Array.from(strokes, ({ at }) => at),
    y: Float64Array.from(strokes, ({ keeper }) => latenessMs * keeper + chanceMs * random.normal()),
    keeper: Int32Array.from(strokes, ({ keeper }) => keeper),
    keepers: 2,
    ownPins,
    pin: Int32Array.from(strokes, pinOf),
    pinKeeper: Int32Array.from({ length: pinsPerTurn * ownPins.filter(Boolean).length }, (_, p) =>
      ownPins[0] && p < pinsPerTurn ? 0 : 1,
    ),
    group: Int32Array.from(strokes, ({ keeper }) => keeper - 1),
    groups: 1,
    columns: [],
    swings: [],
    loose: new Uint8Array(steps - 2),
  };
}

const start: Variances = { wander: 0, chance: Float64Array.of(0.1, 0.1), pins: Float64Array.of(0.01, 0.01) };
const least = Float64Array.of(1e-4, 1e-4);

test.each([[[true, false]], [[true, true]]])(
  'begun from a fit in which the other channel’s pins played no part (%j), it ends where a fresh one does',
  (ownPins) => {
    const near = fitVariances(take([true, false]), start, least).variances;
    expect(near.pins[1]).toBe(0);
    const data = take(ownPins);
    const begun = fitVariances(data, start, least, near);
    const fresh = fitVariances(data, start, least);
    for (const k of [0, 1]) {
      expect(Math.sqrt(begun.variances.chance[k])).toBeCloseTo(chanceMs, 1);
      expect(begun.variances.chance[k] / fresh.variances.chance[k]).toBeCloseTo(1, 0);
    }
    expect(begun.logCovariance.flatMap((row) => [...row]).every(Number.isFinite)).toBe(true);
    expect(solveCourse(data, begun.variances).effects[0]).toBeCloseTo(latenessMs, 1);
  },
);
