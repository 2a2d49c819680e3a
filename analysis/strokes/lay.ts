/**
 * Lays a take's hits on the barrel. A rough rotation says where on the barrel each hit lies (rotation/rotation.ts); hits
 * are given to pins, the smooth rotation is fitted through the reference's strokes (reference.ts), and what that teaches
 * about each channel's and sector's lateness gives hits to pins once more. Then pins in wrong holes are looked for.
 *
 * Where the reference was not heard three times there is no due time: hits still get turn and step, lateness is NaN.
 */
import type { Hearing, Hits } from '../hits/hits.ts';
import { sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import type { RoughRotation } from '../rotation/rotation.ts';
import { median, robustSd } from '../numbers/statistics.ts';
import { roughRotationOf } from '../rotation/of-take.ts';
import type { Take } from '../take/take.ts';
import {
  matchNearest,
  offsetOf,
  polishOffsets,
  strokesDue,
  type Due,
  type Offsets,
  type Pair,
} from './match.ts';
import { findMisplaced, type Moved, type Stray } from './misplaced.ts';
import { fitRotation, type ReferenceStrokes, type SmoothRotation } from './reference.ts';
import { missingStrokes } from './missing.ts';
import type { Rotation, Strokes } from './strokes.ts';
import { wildStrokes } from './wild.ts';

/** Channels lie up to 40 ms off as built; what is left after their own lateness is known is far less. */
const reachS = 0.06;
/** A hit is its pin's within half a step, or within half the way to the channel's next pin where steps are short. */
const reachSteps = 0.5;
/** A pin seated so ill is still its hole's by a single hit; one that is worse must say so turn after turn. */
const illSeatedS = 0.02;
const scatterSds = 8;
const rounds = 3;
/** A middle and a spread of fewer strokes say too little. */
const leastToJudge = 4;

export const noPin = 'no pin here';
export const misplacedPin = 'misplaced pin';
export const outlier = 'outlier';
export const noReference = 'the reference was not heard';
export const noRotation = 'no rotation found';

export function layOnBarrel({ hits }: Hearing, machine: Machine, take: Take): Strokes {
  const named = Array.from({ length: hits.count }, (_, i) => i).filter((i) => hits.channel[i] >= 0);
  const rough = roughRotationOf(
    take,
    machine,
    named.map((i) => ({ timeS: hits.timeS[i], channels: [hits.channel[i]] })),
  );
  if (!rough.found) return nothingLaid(hits);

  const pinned = new Set(machine.pins.map((pin) => pin.channel));
  const laid = named.filter((i) => pinned.has(hits.channel[i]));
  const span = spanOf(rough, hits, laid);
  const due = strokesDue(machine, span.from, span.to);
  let timeAt = rough.timeAt;
  let offsets: Offsets = {
    channelS: rough.offsetS,
    sectorS: new Float64Array(machine.description.barrel.sectors.length),
  };
  let smooth: { rotation: SmoothRotation; hits: Int32Array } | null = null;
  let pairs: Pair[] = [];
  let moved: Moved = { pins: [], pairs: [], bent: [] };
  let own: readonly Pair[] = [];
  for (let round = 0; round < rounds; round++) {
    const reach = reachOf(machine, own, offsets, rough.secondsPerStep);
    pairs = give(machine, hits, laid, due, timeAt, offsets, reach, rough.secondsPerStep);
    offsets = polishOffsets(machine, pairs);
    moved = displaced(machine, hits, laid, due, pairs, timeAt, offsets, rough);
    const gone = new Set(moved.pairs.map(({ hit }) => hit));
    pairs = [...pairs.filter(({ hit }) => !gone.has(hit)), ...moved.bent];
    own = pairs;
    const fitted = throughReference(machine, hits, pairs, round === rounds - 1);
    if (fitted === null) break;
    smooth = fitted;
    timeAt = fitted.rotation.timeAt;
    pairs = pairs.map((pair) => ({ ...pair, latenessS: hits.timeS[pair.hit] - timeAt(pair.due.position) }));
    offsets = polishOffsets(machine, pairs);
  }
  return strokesOf(machine, hits, take, { rough, smooth, pairs, moved, due, timeAt, offsets, named });
}

/** Positions from the first to the last hit, with room for the hits' own lateness. */
function spanOf(rough: RoughRotation, hits: Hits, laid: readonly number[]): { from: number; to: number } {
  const room = 1 + reachS / rough.secondsPerStep;
  return {
    from: rough.positionAt(hits.timeS[laid[0]]) - room,
    to: rough.positionAt(hits.timeS[laid[laid.length - 1]]) + room,
  };
}

/**
 * How far from where it is expected a hit may be its pin's, by channel, s: at first anything that is not the next step's,
 * then, its strokes' own scatter known, what scatter and an ill-seated pin may do.
 */
function reachOf(
  machine: Machine,
  pairs: readonly Pair[],
  offsets: Offsets,
  secondsPerStep: number,
): Float64Array {
  const rests = machine.description.channels.map(() => [] as number[]);
  for (const { due, latenessS } of pairs)
    rests[due.channel].push(latenessS - offsetOf(machine, offsets, due.channel, due.sector));
  return Float64Array.from(rests, (list) => {
    const first = Math.max(reachSteps * secondsPerStep, reachS);
    return list.length < leastToJudge ? first : Math.min(first, illSeatedS + scatterSds * robustSd(list));
  });
}

/** Gives hits to pins, channel by channel; lateness is against `timeAt`. */
function give(
  machine: Machine,
  hits: Hits,
  laid: readonly number[],
  due: readonly (readonly Due[])[],
  timeAt: (position: number) => number,
  offsets: Offsets,
  reachesS: Float64Array,
  secondsPerStep: number,
): Pair[] {
  return due.flatMap((strokes, channel) => {
    const own = laid.filter((i) => hits.channel[i] === channel);
    const dueS = strokes.map(({ position }) => timeAt(position));
    const expected = strokes.map(({ sector }, k) => dueS[k] + offsetOf(machine, offsets, channel, sector));
    const apart = strokes.slice(1).map(({ position }, k) => position - strokes[k].position);
    const nearest = apart.reduce((least, steps) => Math.min(least, steps), Infinity);
    const reach = Math.min(reachesS[channel], Math.max(reachSteps, nearest / 2) * secondsPerStep);
    const of = matchNearest(
      own.map((i) => hits.timeS[i]),
      expected,
      reach,
    );
    return own.flatMap((hit, k) =>
      of[k] >= 0 ? [{ hit, due: strokes[of[k]], latenessS: hits.timeS[hit] - dueS[of[k]] }] : [],
    );
  });
}

function displaced(
  machine: Machine,
  hits: Hits,
  laid: readonly number[],
  due: readonly (readonly Due[])[],
  pairs: readonly Pair[],
  timeAt: (position: number) => number,
  offsets: Offsets,
  rough: RoughRotation,
): Moved {
  const { steps } = machine.description.barrel;
  const matched = new Set(pairs.map(({ hit }) => hit));
  const heard = new Set(pairs.map(({ due: stroke }) => stroke));
  const strays: Stray[] = laid
    .filter((hit) => !matched.has(hit))
    .map((hit) => {
      const channel = hits.channel[hit];
      const whereAt = (timeS: number) => {
        const roughly = rough.positionAt(timeS);
        return roughly + (timeS - timeAt(roughly)) / rough.secondsPerStep;
      };
      const near = Math.round(whereAt(hits.timeS[hit] - offsets.channelS[channel]));
      const sector = sectorOf(machine.description, near - steps * Math.floor(near / steps));
      return {
        hit,
        channel,
        position: whereAt(hits.timeS[hit] - offsetOf(machine, offsets, channel, sector)),
        latenessFrom: (stroke) => hits.timeS[hit] - timeAt(stroke.position),
      };
    });
  const beyondUsual = pairs.map((pair) => ({
    ...pair,
    latenessS: pair.latenessS - offsetOf(machine, offsets, pair.due.channel, pair.due.sector),
  }));
  const unheard = due.flat().filter((stroke) => !heard.has(stroke));
  const heardFrom = rough.positionAt(hits.timeS[laid[0]]);
  const heardTo = rough.positionAt(hits.timeS[laid[laid.length - 1]]);
  return findMisplaced(
    machine,
    beyondUsual,
    unheard,
    strays,
    heardFrom,
    heardTo,
    reachOf(machine, pairs, offsets, rough.secondsPerStep),
    rough.secondsPerStep,
  );
}

function throughReference(
  machine: Machine,
  hits: Hits,
  pairs: readonly Pair[],
  careful: boolean,
): { rotation: SmoothRotation; hits: Int32Array } | null {
  const { reference } = machine;
  const own = pairs
    .filter(({ due, hit }) => due.channel === reference && hits.why[hit] === null)
    .sort((a, b) => a.due.position - b.due.position);
  const { onBarrel } = machine.description.channels[reference];
  const strokes: ReferenceStrokes = {
    position: Float64Array.from(own, ({ due }) => due.position),
    timeS: Float64Array.from(own, ({ hit }) => hits.timeS[hit]),
    step: Int32Array.from(own, ({ due }) => due.step),
    sector: Int32Array.from(own, ({ due }) => (onBarrel ? due.sector : -1)),
    hearingSdS: own.length > 0 ? median(own.map(({ hit }) => hits.timeSdS[hit])) : NaN,
    stepsPerTurn: machine.description.barrel.steps,
  };
  const rotation = fitRotation(strokes, careful);
  return rotation && { rotation, hits: Int32Array.from(rotation.used, (i) => own[i].hit) };
}

interface Laid {
  readonly rough: RoughRotation;
  readonly smooth: { readonly rotation: SmoothRotation; readonly hits: Int32Array } | null;
  readonly pairs: readonly Pair[];
  readonly moved: Moved;
  readonly due: readonly (readonly Due[])[];
  readonly timeAt: (position: number) => number;
  readonly offsets: Offsets;
  readonly named: readonly number[];
}

function strokesOf(machine: Machine, hits: Hits, { tracks }: Take, laid: Laid): Strokes {
  const { smooth, pairs, moved, named, timeAt } = laid;
  const turn = new Int32Array(hits.count).fill(-1);
  const step = new Int32Array(hits.count).fill(-1);
  const latenessMs = new Float64Array(hits.count).fill(NaN);
  const why = Array.from(hits.why);
  for (const i of named) why[i] ??= noPin;
  const put = ({ hit, due }: Pair, reason: string | null) => {
    turn[hit] = due.turn;
    step[hit] = due.step;
    if (smooth) latenessMs[hit] = 1000 * (hits.timeS[hit] - timeAt(due.position));
    why[hit] = hits.why[hit] ?? reason;
  };
  for (const pair of pairs) put(pair, smooth ? null : noReference);
  for (const pair of moved.pairs) put(pair, misplacedPin);
  if (smooth) {
    const fitted = new Set(smooth.hits);
    const judged = pairs.filter(({ hit }) => hits.why[hit] === null);
    for (const hit of wildStrokes(judged.filter(({ due }) => due.channel !== machine.reference)))
      why[hit] = outlier;
    for (const { hit, due } of judged)
      if (due.channel === machine.reference && !fitted.has(hit)) why[hit] = outlier;
  }
  return {
    hits,
    turn,
    step,
    latenessMs,
    why,
    rotation: rotationOf(machine, laid),
    misplaced: [...moved.pins].sort((a, b) => a.channel - b.channel || a.step - b.step),
    missing: missingStrokes(machine, hits, laid, laid.rough.pieces, tracks),
  };
}

function rotationOf(machine: Machine, { rough, smooth, timeAt }: Laid): Rotation {
  const { steps } = machine.description.barrel;
  const fitted = smooth?.rotation;
  return {
    found: true,
    secondsPerTurn: steps * (fitted?.secondsPerStep ?? rough.secondsPerStep),
    secondsPerTurnCi95: fitted ? steps * fitted.secondsPerStepCi95 : NaN,
    startPosition: rough.startPosition,
    timeAt,
    rivals: rough.rivals,
    settledBy: rough.settledBy,
    referenceWeights: fitted ? (positions) => fitted.weights(positions) : () => new Float64Array(0),
    referenceHits: smooth?.hits ?? new Int32Array(0),
    referenceSdS: fitted?.noiseSdS ?? NaN,
    referenceSectors: fitted?.sectors ?? [],
    referenceDegreesOfFreedom: fitted?.degreesOfFreedom ?? NaN,
    referenceVarianceS2: fitted ? (positions, own) => fitted.varianceS2(positions, own) : () => NaN,
    pointVarianceS2: fitted?.pointVarianceS2 ?? NaN,
  };
}

function nothingLaid(hits: Hits): Strokes {
  return {
    hits,
    turn: new Int32Array(hits.count).fill(-1),
    step: new Int32Array(hits.count).fill(-1),
    latenessMs: new Float64Array(hits.count).fill(NaN),
    why: hits.why.map((why) => why ?? noRotation),
    rotation: {
      found: false,
      secondsPerTurn: NaN,
      secondsPerTurnCi95: NaN,
      startPosition: NaN,
      timeAt: () => NaN,
      rivals: [],
      settledBy: 'unsettled',
      referenceWeights: () => new Float64Array(0),
      referenceHits: new Int32Array(0),
      referenceSdS: NaN,
      referenceSectors: [],
      referenceDegreesOfFreedom: NaN,
      referenceVarianceS2: () => NaN,
      pointVarianceS2: NaN,
    },
    misplaced: [],
    missing: [],
  };
}
