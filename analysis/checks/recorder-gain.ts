/**
 * Whether a recorder changed its gain while it recorded: automatic gain, a limiter, a hand on the level. Then levels say
 * nothing of the strikers. Two signs, each of strikers against one another, so that no single striker makes them:
 *
 * - a stroke is fainter after others were loud;
 * - of two strokes of different channels that follow each other, both are louder than their pins usually are, or both fainter.
 */
import { finding } from '../results/catalogue.ts';
import { grouped } from '../numbers/grouped.ts';
import { sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { studentTQuantile } from '../numbers/inference.ts';
import { slopesWithin } from '../numbers/regression.ts';
import { mean, robustSd } from '../numbers/statistics.ts';
import { channelLevels, type ChannelLevels } from '../strokes/levels.ts';
import type { Check, Study } from './check.ts';

/** Chance of one false word in a take. */
const falseAlarm = 0.005;
/** Times over which recorders of voice and music let their gain recover, s; common practice, no source. */
const recoveriesS = [0.5, 3];
/** Fewer pins, or pairs of strokes, tell nothing. */
const leastPins = 10;
const leastPairs = 20;
/** A gain that follows less steeply does no harm, dB a dB. */
const leastSlope = 0.05;
/** Of strokes nearer than this each is in the other's fitted gain, s. */
const apartS = 0.05;
/** Strokes further apart than this need not have met the same gain, s. */
const sameGainS = 2;
/** Outliers count as so many robust spreads. */
const outlier = 3;

/** Indices of tracks whose recorder seems to have changed its gain; the tracks of a file have one recorder. */
export function tracksOfOtherGain(study: Study): Set<number> {
  const known = found.get(study);
  if (known !== undefined) return known;
  const { take, strokes, machine, hearing } = study;
  const levels = channelLevels(strokes, machine, hearing.tracks);
  const files = grouped([...take.tracks.keys()], (track) => take.tracks[track].file);
  const chance = falseAlarm / Math.max(1, files.size * (recoveriesS.length + 1));
  const moved = [...files.values()].filter((tracks) => {
    const own = strokesOn(study, levels, tracks);
    return (
      recoveriesS.some((s) => isFainterAfterLoud(machine, own, s, chance)) || isMovingTogether(own, chance)
    );
  });
  const tracks = new Set(moved.flat());
  found.set(study, tracks);
  return tracks;
}

/** Worked out once a take: several checks ask. */
const found = new WeakMap<Study, Set<number>>();

export const recorderGain: Check = {
  id: 'recorder-gain',
  looksFor: 'Recorders that changed their gain while they recorded.',
  run: (study) => {
    const moved = tracksOfOtherGain(study);
    const files = new Set([...moved].map((track) => study.take.tracks[track].file));
    return [...files].map((file) => {
      const message = `the gain of ${file} seems to have changed while it was recorded: strokes of different channels grow and fade together, or are fainter after loud ones; nothing is said of their loudness`;
      return finding('recorder-gain', message, { file });
    });
  },
};

interface Levelled {
  readonly channel: number;
  readonly step: number;
  readonly timeS: number;
  readonly levelDb: number;
}

/** Ascending in time. */
function strokesOn({ strokes }: Study, levels: readonly ChannelLevels[], tracks: readonly number[]) {
  const { timeS, levelDb } = strokes.hits;
  const own = levels.flatMap(({ track, byPin }, channel) =>
    tracks.includes(track)
      ? [...byPin].flatMap(([step, hits]) =>
          hits.map((i): Levelled => ({ channel, step, timeS: timeS[i], levelDb: levelDb[i] })),
        )
      : [],
  );
  return own.sort((a, b) => a.timeS - b.timeS);
}

/** Pin by pin, since what goes before a pin is the same at every turn. */
function isFainterAfterLoud(
  machine: Machine,
  own: readonly Levelled[],
  recoveryS: number,
  chance: number,
): boolean {
  const beforeDb = loudnessBefore(own, recoveryS);
  const strokes = own.map((stroke, i) => ({ ...stroke, beforeDb: beforeDb[i] }));
  const pins = [...grouped(strokes, ({ channel, step }) => `${channel} ${step}`).values()].flatMap((hits) => {
    const heard = hits.filter((hit) => Number.isFinite(hit.beforeDb));
    if (heard.length === 0) return [];
    return [
      {
        ...heard[0],
        levelDb: mean(heard.map(({ levelDb }) => levelDb)),
        beforeDb: mean(heard.map((hit) => hit.beforeDb)),
      },
    ];
  });
  if (pins.length < leastPins) return false;
  // Within a sector: one that plays louder would hide that the recorder turns down.
  const sector = ({ step }: Levelled) => sectorOf(machine.description, step);
  const groups = [...grouped([...pins.keys()], (p) => `${pins[p].channel} ${sector(pins[p])}`).values()];
  const told = slopesWithin(
    groups,
    pins.map(({ levelDb }) => levelDb),
    [pins.map((pin) => pin.beforeDb)],
  );
  if (told === null) return false;
  const surely = studentTQuantile(1 - chance, told.degreesOfFreedom) * told.standardErrors[0];
  return told.slopes[0] < -leastSlope && told.slopes[0] + surely < 0;
}

/** How loud the other channels were before each stroke, dB; NaN where none sounded within some recoveries. */
function loudnessBefore(own: readonly Levelled[], recoveryS: number): number[] {
  return own.map(({ timeS, channel }, i) => {
    let power = 0;
    for (let j = i - 1; j >= 0 && timeS - own[j].timeS < 4 * recoveryS; j--) {
      const beforeS = timeS - own[j].timeS;
      if (own[j].channel !== channel && beforeS >= apartS)
        power += 10 ** (own[j].levelDb / 10) * Math.exp(-beforeS / recoveryS);
    }
    return power > 0 ? 10 * Math.log10(power) : NaN;
  });
}

function isMovingTogether(own: readonly Levelled[], chance: number): boolean {
  const pins = grouped(own, ({ channel, step }) => `${channel} ${step}`);
  const middles = new Map([...pins].map(([pin, hits]) => [pin, mean(hits.map(({ levelDb }) => levelDb))]));
  const repeated = own.flatMap((stroke) => {
    const pin = `${stroke.channel} ${stroke.step}`;
    return pins.get(pin)!.length < 2 ? [] : [{ ...stroke, db: stroke.levelDb - middles.get(pin)! }];
  });
  const most = outlier * robustSd(repeated.map(({ db }) => db));
  const bounded = repeated.map((stroke) => ({ ...stroke, db: Math.max(-most, Math.min(most, stroke.db)) }));
  const pairs = bounded.slice(1).flatMap((stroke, i) => {
    const before = bounded[i];
    const gapS = stroke.timeS - before.timeS;
    return stroke.channel !== before.channel && gapS >= apartS && gapS <= sameGainS
      ? [[before.db, stroke.db] as const]
      : [];
  });
  if (pairs.length < leastPairs) return false;
  const sum = (of: (pair: readonly [number, number]) => number) =>
    pairs.reduce((total, pair) => total + of(pair), 0);
  const r = sum(([a, b]) => a * b) / Math.sqrt(sum(([a]) => a * a) * sum(([, b]) => b * b));
  const degreesOfFreedom = pairs.length - 2;
  // Student's t of a correlation.
  const t = r * Math.sqrt(degreesOfFreedom / (1 - r * r));
  return t > studentTQuantile(1 - chance, degreesOfFreedom);
}
