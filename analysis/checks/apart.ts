/** Channels that should sound as one (`together` in machine.jsonc): how far apart they strike, and whether one hears it. */
import { finding } from '../results/catalogue.ts';
import { studentTQuantile } from '../numbers/inference.ts';
import { mean } from '../numbers/statistics.ts';
import { sectorOf } from '../machine/effects.ts';
import { grouped } from '../numbers/grouped.ts';
import { contrast, halfWidthMs } from '../strokes/estimate.ts';
import { chances, usedByPin } from '../strokes/repeatability.ts';
import type { Check, Study } from './check.ts';
import { channelName, counted, signedMs } from '../words/names.ts';
import { thinned, type Point } from './plot-points.ts';

/** Two sounds are heard as two from 2 to 3 ms on, and which came first from about 20 ms: Hirsh 1959, JASA 31:759. */
export const heardAsTwoMs = 2;
const orderHeardMs = 20;
/** Chance of one false pair in a take. */
const falseAlarm = 0.005;
const leastPairs = 3;
/** More in one plot are not told apart. */
const pairsDrawn = 4;

export interface ChannelPair {
  readonly a: number;
  readonly b: number;
  /** Lateness of b less that of a. */
  readonly differenceMs: number;
  readonly ci95Ms: number;
  readonly standardErrorMs: number;
  readonly degreesOfFreedom: number;
  /** Strokes that the two should have struck at once; 0 where their means were compared. */
  readonly pairs: number;
  readonly latenessMs: readonly [number, number];
  /** Each common stroke: s into the take, and by how many ms b came after a. */
  readonly strokes: readonly Point[];
}

export const apart: Check = {
  id: 'apart',
  looksFor: 'Channels that should sound as one and are heard as two.',
  run: (study) => {
    const pairs = pairsOf(study);
    return pairs
      .filter((pair) => surelyApart(pair, pairs.length))
      .map((pair) => {
        const { a, b, differenceMs, ci95Ms } = pair;
        const [late, early] = differenceMs > 0 ? [b, a] : [a, b];
        const size = `${Math.abs(differenceMs).toFixed(2)} ± ${ci95Ms.toFixed(2)} ms`;
        const name = (channel: number) => channelName(study.machine, channel);
        const message = `${name(late)} strikes ${size} after ${name(early)}: ${heard(pair)}; ${which(pair, name)}`;
        return finding('apart', message, { channel: study.machine.description.channels[late].id });
      });
  },
  section: (study) => {
    const pairs = pairsOf(study);
    if (pairs.length === 0) return null;
    const name = (channel: number) => channelName(study.machine, channel);
    const { timeS } = study.strokes.hits;
    // Where two have no stroke in common, the difference of their means stands in the middle.
    const middleS = (timeS[0] + timeS[timeS.length - 1]) / 2;
    return {
      id: 'apart',
      title: 'Strikers that should sound as one',
      sentences: [
        `Two sounds are heard as two from ${heardAsTwoMs} to 3 ms on, and which came first from about ${orderHeardMs} ms (Hirsh 1959).`,
        ...pairs.map((pair) => {
          const size = `${signedMs(pair.differenceMs)} ± ${pair.ci95Ms.toFixed(2)} ms`;
          const from = pair.pairs > 0 ? counted(pair.pairs, 'common stroke') : 'their means';
          return `${name(pair.b)} against ${name(pair.a)}: ${size} (from ${from}): ${heard(pair)}.`;
        }),
      ],
      plot: {
        xLabel: 's into the take',
        yLabel: 'ms after the other',
        rules: [
          { axis: 'y', at: 0, name: 'together' },
          { axis: 'y', at: heardAsTwoMs, name: 'heard as two' },
          { axis: 'y', at: -heardAsTwoMs, name: 'heard as two' },
        ],
        series: pairs.slice(0, pairsDrawn).map(({ a, b, strokes, differenceMs, ci95Ms }) => ({
          name: `${name(b)} after ${name(a)}`,
          ...(strokes.length > 0
            ? { points: thinned(strokes) }
            : { points: thinned([[middleS, differenceMs]]), ci95: [Number(ci95Ms.toPrecision(3))] }),
        })),
      },
    };
  },
};

function heard({ differenceMs, ci95Ms }: ChannelPair): string {
  const [least, most] = [Math.abs(differenceMs) - ci95Ms, Math.abs(differenceMs) + ci95Ms];
  if (most <= heardAsTwoMs) return 'heard as one';
  if (least > orderHeardMs) return 'heard as two, one after the other';
  if (least > heardAsTwoMs) return 'may be heard as two';
  return 'not decided, the interval reaches across what is heard; record more turns';
}

/** Which one to move: the one that is further from the reference's time. */
function which(
  { a, b, latenessMs: [lateA, lateB], differenceMs }: ChannelPair,
  name: (channel: number) => string,
) {
  const [move, by] = Math.abs(lateB) > Math.abs(lateA) ? [b, -differenceMs] : [a, differenceMs];
  return `move ${name(move)} ${signedMs(by)} ms, which brings the two together and nearer to the reference`;
}

function surelyApart(
  { differenceMs, standardErrorMs, degreesOfFreedom }: ChannelPair,
  pairs: number,
): boolean {
  const quantile = studentTQuantile(1 - falseAlarm / (2 * pairs), degreesOfFreedom);
  return Math.abs(differenceMs) - quantile * standardErrorMs > heardAsTwoMs;
}

/** Every two of each set, in the order in which machine.jsonc names them. */
export function pairsOf(study: Study): ChannelPair[] {
  const { machine, strokes } = study;
  const { channels, together: sets = [] } = machine.description;
  if (!strokes.rotation.found || sets.length === 0) return [];
  const byPin = usedByPin(strokes, machine);
  const chanceOf = chances(strokes, machine);
  const indices = sets.map((set) => set.map((id) => channels.findIndex((channel) => channel.id === id)));
  return indices
    .flatMap((set) => set.flatMap((a, i) => set.slice(i + 1).map((b): [number, number] => [a, b])))
    .flatMap(([a, b]) => {
      const lateness = (channel: number) =>
        [...byPin[channel].values()].flat().map((i) => strokes.latenessMs[i]);
      const [ofA, ofB] = [lateness(a), lateness(b)];
      if (ofA.length < leastPairs || ofB.length < leastPairs) return [];
      const latenessMs: [number, number] = [mean(ofA), mean(ofB)];
      const together = commonStrokes(byPin[a], byPin[b], strokes.turn).sort(([i], [j]) => i - j);
      const common = together.map(([i, j]) => 1000 * (strokes.hits.timeS[j] - strokes.hits.timeS[i]));
      const here = common.length >= leastPairs;
      // At one place of the barrel the reference and the rotation cancel.
      const weighed = here
        ? together.flatMap(([i, j]) => [
            { hit: i, amount: -1 / together.length },
            { hit: j, amount: 1 / together.length },
          ])
        : acrossSectors(study, byPin[a], byPin[b]);
      const error = contrast(
        strokes,
        machine,
        chanceOf,
        weighed.map(({ hit }) => hit),
        weighed.map(({ amount }) => amount),
      );
      if (weighed.length === 0 || error === null || !Number.isFinite(halfWidthMs(error))) return [];
      const { meanMs, standardErrorMs, degreesOfFreedom } = error;
      return [
        {
          a,
          b,
          differenceMs: meanMs,
          ci95Ms: halfWidthMs(error),
          standardErrorMs,
          degreesOfFreedom,
          pairs: here ? common.length : 0,
          latenessMs,
          strokes: here ? common.map((ms, k): Point => [strokes.hits.timeS[together[k][0]], ms]) : [],
        },
      ];
    });
}

/**
 * Means compared sector by sector, since a sector moves both: sectors weigh by how surely they compare. Each stroke's
 * amount in the difference; none where no sector has both.
 */
function acrossSectors(
  { machine }: Study,
  a: ReadonlyMap<number, readonly number[]>,
  b: ReadonlyMap<number, readonly number[]>,
): { hit: number; amount: number }[] {
  const bySector = (pins: ReadonlyMap<number, readonly number[]>) => {
    const sectors = grouped(pins, ([step]) => sectorOf(machine.description, step));
    return new Map([...sectors].map(([sector, own]) => [sector, own.flatMap(([, hits]) => hits)]));
  };
  const ofB = bySector(b);
  const common = [...bySector(a)].flatMap(([sector, own]) => {
    const other = ofB.get(sector);
    if (other === undefined) return [];
    return [{ own, other, weight: (own.length * other.length) / (own.length + other.length) }];
  });
  const total = common.reduce((sum, { weight }) => sum + weight, 0);
  return common.flatMap(({ own, other, weight }) => [
    ...own.map((hit) => ({ hit, amount: -weight / total / own.length })),
    ...other.map((hit) => ({ hit, amount: weight / total / other.length })),
  ]);
}

/** Hits of both at one step in one turn. */
function commonStrokes(
  a: ReadonlyMap<number, readonly number[]>,
  b: ReadonlyMap<number, readonly number[]>,
  turn: Int32Array,
): [number, number][] {
  return [...a].flatMap(([step, own]) => {
    const others = grouped(b.get(step) ?? [], (i) => turn[i]);
    return own.flatMap((i): [number, number][] => {
      const other = others.get(turn[i])?.[0];
      return other === undefined ? [] : [[i, other]];
    });
  });
}
