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
import { mean, median, robustSd } from '../numbers/statistics.ts';
import type { Take } from '../take/take.ts';
import {
  dueTimeS,
  matchNearest,
  offsetOf,
  polishOffsets,
  type Due,
  type Offsets,
  type MatchedHit,
} from './match.ts';
import { findMisplaced, type Moved, type Stray } from './misplaced.ts';
import { otherTunesOf, type OtherTuneFit } from './other-tune.ts';
import { reachS, readingOf, withChannel, type WholeStepReading } from './reading.ts';
import { throughAll } from './through-all.ts';
import { throughReference } from './through-reference.ts';
import type { Course } from './course.ts';
import { instantSdsMs } from './instant-errors.ts';
import { roundingStep } from './resolution.ts';
import { missingStrokes } from './missing.ts';
import { longestStretch, standsOf, whileStanding } from './stands.ts';
import { noCourse, type Rotation, type Stand, type Strokes } from './strokes.ts';
import type { WholeOffset } from './whole-steps.ts';
import { wildStrokes } from './wild.ts';

/** A hit is its pin's within half a step, or within half the way to the channel's next pin where steps are short. */
const reachSteps = 0.5;
/** A pin seated so ill is still its hole's by a single hit; one that is worse must say so turn after turn. */
const illSeatedS = 0.02;
const scatterSds = 8;
const rounds = 3;
/** A middle and a spread of fewer strokes say too little. */
const leastToJudge = 4;

export const noPinReason = 'no pin here';
export const misplacedPinReason = 'misplaced pin';
export const outlierReason = 'outlier';
export const noReferenceReason = 'the reference was not heard';
export const noRotationReason = 'no rotation found';
export const readsBackwardsReason = 'the pattern reads backwards';
export const ofAnotherTuneReason = 'the take is of another tune';
export const driveStoodReason = 'the drive stood still';
export const swappedChannelReason = 'sounds at another channel’s pins';

export function layOnBarrel(hearing: Hearing, machine: Machine, take: Take): Strokes {
  const recorded = hearing.hits;
  const asNamed = withChannel(recorded);
  const named = asNamed.indices;
  const reading = readingOf(take, machine, asNamed);
  const { clearly, perhaps } = otherTunesOf(take, { machine, hits: asNamed, reading });
  if (clearly !== null) return notLaid(hearing, clearly);
  if (reading === null) return nothingLaid(recorded, noRotationReason);
  if (reading.mirrored) return { ...nothingLaid(recorded, readsBackwardsReason), mirrored: true };
  // Swapped channels' hits are laid where they sit, so that they disturb no other's, and set aside in the end.
  const hits = {
    ...recorded,
    channel: recorded.channel.map((c) => (c < 0 ? c : reading.sitsAt[c])),
  };
  const { rough, strokes: due } = reading;
  const pinned = new Set(machine.pins.map((pin) => pin.channel));
  const laid = named.filter((i) => pinned.has(hits.channel[i]));
  const to: Laying = { machine, hits, laid, due, rough };
  let timeAt = reading.whole.length > 0 ? reading.timeAt : rough.timeAt;
  let offsets = firstOffsets(reading);
  let smooth: Course | null = null;
  let pairs: MatchedHit[] = [];
  let moved: Moved = { pins: [], pairs: [], bent: [] };
  let own: readonly MatchedHit[] = [];
  for (let round = 0; round < rounds; round++) {
    const reach = reachOf(machine, own, offsets, rough.secondsPerStep);
    pairs = give(to, { timeAt, offsets }, reach);
    offsets = polishOffsets(machine, pairs, offsets);
    moved = displaced(to, { timeAt, offsets }, pairs);
    const gone = new Set(moved.pairs.map(({ hit }) => hit));
    pairs = [...pairs.filter(({ hit }) => !gone.has(hit)), ...moved.bent];
    own = pairs;
    const fitted = throughReference(machine, hits, pairs);
    if (fitted === null) break;
    if (round === rounds - 1) smooth = throughAll(machine, hits, pairs, fitted);
    timeAt = (smooth ?? fitted.rotation).timeAt;
    pairs = pairs.map((pair) => ({ ...pair, latenessS: hits.timeS[pair.hit] - dueTimeS(pair.due, timeAt) }));
    offsets = polishOffsets(machine, pairs, offsets);
  }
  const laidOut = { reading, smooth, pairs, moved, timeAt, offsets, named };
  return {
    ...strokesOf(machine, hits, recorded, take, laidOut),
    onsetSdMs: instantSdsMs(hearing, machine),
    stepMs: 1000 * roundingStep(recorded, pairs),
    ...(perhaps === null ? {} : { perhapsTune: perhaps }),
  };
}

/** Of a take of another tune than was named. */
export function notLaid({ hits }: Hearing, otherTune: OtherTuneFit): Strokes {
  return { ...nothingLaid(hits, ofAnotherTuneReason), otherTune };
}

/** Where channels and sectors are expected at first: as the rotation has them, or as they lie where something is off as a whole. */
function firstOffsets({ rough, offsets, whole }: WholeStepReading): Offsets {
  return whole.length > 0
    ? offsets
    : { channelS: rough.offsetS, sectorS: new Float64Array(offsets.sectorS.length) };
}

/**
 * How far from where it is expected a hit may be its pin's, by channel, s: at first anything that is not the next step's,
 * then, its strokes' own scatter known, what scatter and an ill-seated pin may do.
 */
function reachOf(
  machine: Machine,
  pairs: readonly MatchedHit[],
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

/** What is laid, and on what: the same in every round. */
interface Laying {
  readonly machine: Machine;
  readonly hits: Hits;
  /** Indices of the hits whose channel has pins. */
  readonly laid: readonly number[];
  /** By channel, the strokes that were due. */
  readonly due: readonly (readonly Due[])[];
  readonly rough: RoughRotation;
}

/** Where strokes are expected, as far as a round knows. */
interface Expected {
  /** Barrel position to time, s. */
  readonly timeAt: (position: number) => number;
  readonly offsets: Offsets;
}

/** Gives hits to pins, channel by channel; lateness is against `timeAt`. */
function give(
  { machine, hits, laid, due, rough: { secondsPerStep } }: Laying,
  { timeAt, offsets }: Expected,
  reachesS: Float64Array,
): MatchedHit[] {
  return due.flatMap((strokes, channel) => {
    const own = laid.filter((i) => hits.channel[i] === channel);
    const dueS = strokes.map((stroke) => dueTimeS(stroke, timeAt));
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
  { machine, hits, laid, due, rough }: Laying,
  { timeAt, offsets }: Expected,
  pairs: readonly MatchedHit[],
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
        latenessFrom: (stroke) => hits.timeS[hit] - dueTimeS(stroke, timeAt),
      };
    });
  const beyondUsual = pairs.map((pair) => ({
    ...pair,
    latenessS: pair.latenessS - offsetOf(machine, offsets, pair.due.channel, pair.due.sector),
  }));
  const unheard = due.flat().filter((stroke) => !heard.has(stroke));
  const heardFrom = rough.positionAt(hits.timeS[laid[0]]);
  const heardTo = rough.positionAt(hits.timeS[laid[laid.length - 1]]);
  return findMisplaced({
    machine,
    pairs: beyondUsual,
    unheard,
    strays,
    heardFrom,
    heardTo,
    reachesS: reachOf(machine, pairs, offsets, rough.secondsPerStep),
    secondsPerStep: rough.secondsPerStep,
  });
}

interface Laid {
  readonly reading: WholeStepReading;
  readonly smooth: Course | null;
  readonly pairs: readonly MatchedHit[];
  readonly moved: Moved;
  readonly timeAt: (position: number) => number;
  readonly offsets: Offsets;
  readonly named: readonly number[];
}

/** @param hits with the channels at whose pins they sit */
function strokesOf(machine: Machine, hits: Hits, recorded: Hits, { tracks }: Take, laid: Laid): Strokes {
  const { reading, smooth, pairs, moved, named, timeAt } = laid;
  const turn = new Int32Array(hits.count).fill(-1);
  const step = new Float64Array(hits.count).fill(-1);
  const latenessMs = new Float64Array(hits.count).fill(NaN);
  const why = Array.from(hits.why);
  for (const i of named) why[i] ??= noPinReason;
  const put = ({ hit, due }: MatchedHit, reason: string | null) => {
    turn[hit] = due.turn;
    step[hit] = due.step;
    if (smooth) latenessMs[hit] = 1000 * (hits.timeS[hit] - dueTimeS(due, timeAt));
    why[hit] = hits.why[hit] ?? reason;
  };
  for (const pair of pairs) put(pair, smooth ? null : noReferenceReason);
  for (const pair of moved.pairs) put(pair, misplacedPinReason);
  if (smooth) {
    const fitted = new Set(smooth.referenceHits);
    const judged = pairs.filter(({ hit }) => hits.why[hit] === null);
    for (const hit of wildStrokes(judged.filter(({ due }) => due.channel !== machine.reference)))
      why[hit] = outlierReason;
    for (const { hit, due } of judged)
      if (due.channel === machine.reference && !fitted.has(hit)) why[hit] = outlierReason;
  }
  const stands = standsOf(machine, hits, pairs);
  for (const i of named)
    if (stands.some((stand) => hits.timeS[i] > stand.knownUntilS && hits.timeS[i] < stand.knownFromS))
      why[i] = hits.why[i] ?? driveStoodReason;
  for (const i of named) {
    if (hits.channel[i] === recorded.channel[i]) continue;
    turn[i] = step[i] = -1;
    latenessMs[i] = NaN;
    why[i] = hits.why[i] ?? swappedChannelReason;
  }
  const own = ({ channel }: { channel: number }) => reading.sitsAt[channel] === channel;
  const due = reading.strokes;
  return {
    hits: recorded,
    turn,
    step,
    latenessMs,
    why,
    rotation: rotationOf(machine, laid, tempoOf(machine, hits, laid, stands)),
    misplaced: moved.pins.filter(own).sort((a, b) => a.channel - b.channel || a.step - b.step),
    missing: missingStrokes(machine, hits, { ...laid, due }, reading.rough.pieces, tracks)
      .filter(own)
      .filter(({ turn: t, step: at }) => !whileStanding(stands, t * machine.description.barrel.steps + at)),
    whole: smooth ? asMeasured(machine, reading.whole, pairs) : reading.whole,
    sitsAt: reading.sitsAt,
    mirrored: false,
    stands,
  };
}

/** What is off as a whole, by as much as its strokes lie off now that each has its pin. */
function asMeasured(
  machine: Machine,
  whole: readonly WholeOffset[],
  pairs: readonly MatchedHit[],
): WholeOffset[] {
  const { channels } = machine.description;
  return whole.map((off) => {
    const others = pairs.filter(({ due }) => due.channel !== machine.reference);
    if (off.channel === machine.reference)
      return { ...off, offsetMs: -1000 * median(others.map(({ latenessS }) => latenessS)) };
    const own = others.filter(({ due }) =>
      off.channel === null ? due.sector === off.sector : due.channel === off.channel,
    );
    if (off.channel !== null) return { ...off, offsetMs: 1000 * mean(own.map(({ latenessS }) => latenessS)) };
    // Against the same channels' strokes in sectors that are not off.
    const inPlace = others.filter(({ due }) => !whole.some(({ sector }) => sector === due.sector));
    const usual = channels.map((_, c) => {
      const list = inPlace.filter(({ due }) => due.channel === c).map(({ latenessS }) => latenessS);
      return list.length > 0 ? median(list) : NaN;
    });
    const rests = own
      .filter(({ due }) => channels[due.channel].onBarrel && !Number.isNaN(usual[due.channel]))
      .map(({ due, latenessS }) => latenessS - usual[due.channel]);
    return rests.length > 0 ? { ...off, offsetMs: 1000 * median(rests) } : off;
  });
}

/** The fit that tells the tempo: all of it, or the longest stretch where the drive stood. */
function tempoOf(machine: Machine, hits: Hits, { smooth, pairs }: Laid, stands: readonly Stand[]) {
  if (stands.length === 0) return smooth;
  const stretch = longestStretch(pairs, stands);
  const first = throughReference(machine, hits, stretch);
  return first && throughAll(machine, hits, stretch, first);
}

function rotationOf(
  machine: Machine,
  { reading: { rough }, smooth, timeAt }: Laid,
  tempo: Course | null,
): Rotation {
  const { steps } = machine.description.barrel;
  return {
    found: true,
    secondsPerTurn: steps * (tempo?.secondsPerStep ?? rough.secondsPerStep),
    secondsPerTurnCi95: tempo ? steps * tempo.secondsPerStepCi95 : NaN,
    startPosition: rough.startPosition,
    timeAt,
    rivals: rough.rivals,
    settledBy: rough.settledBy,
    referenceHits: smooth?.referenceHits ?? new Int32Array(0),
    referenceSectors: smooth?.sectors ?? [],
    swingInStep: smooth?.swingInStep ?? null,
    errors: smooth?.errors ?? noCourse,
  };
}

function nothingLaid(hits: Hits, reason: string): Strokes {
  return {
    hits,
    turn: new Int32Array(hits.count).fill(-1),
    step: new Float64Array(hits.count).fill(-1),
    latenessMs: new Float64Array(hits.count).fill(NaN),
    why: hits.why.map((why) => why ?? reason),
    rotation: {
      found: false,
      secondsPerTurn: NaN,
      secondsPerTurnCi95: NaN,
      startPosition: NaN,
      timeAt: () => NaN,
      rivals: [],
      settledBy: 'unsettled',
      referenceHits: new Int32Array(0),
      referenceSectors: [],
      errors: noCourse,
    },
    misplaced: [],
    missing: [],
    whole: [],
    sitsAt: [],
    mirrored: false,
    stands: [],
  };
}
