/**
 * What the takes before and after a movement say of a channel of a tune: by how much it changed beyond what noted settings do, and what of that
 * no other movement that is told accounts for.
 */
import { grouped } from '../numbers/grouped.ts';
import { shiftMs } from '../machine/effects.ts';
import { ofTune } from '../machine/tune.ts';
import type { Belief } from './belief.ts';
import { movementKinds } from './doubt.ts';
import { seriesOf } from './series.ts';
import { sharesOf } from './shares.ts';
import type { Upheld } from './supposition.ts';
import { USUAL_WANDER_MS } from './wander.ts';
import { shownIn, shows, type RoundSpan } from './when-moved.ts';

/** From the last take up to a span to the first after it. */
export interface Change {
  readonly tune: string;
  readonly sector: number;
  /** Ms of lateness, what the noted settings do between the two takes taken off, and its standard deviation. */
  readonly ms: number;
  readonly sdMs: number;
  /** The same with what other movements do taken off too; of a movement of one tune's pins those that two tunes show. */
  readonly leftMs: number;
  /** Ms of it for one ms of the movement that is asked about. */
  readonly share: number;
  /** Whether it tells of that movement by itself. */
  readonly isTelling: boolean;
}

/**
 * @param apart the movement that is asked about
 * @returns one a tune, sector and tempo that has takes on both sides of the span
 */
export function changesAcross(
  belief: Belief,
  channel: number,
  { from, to }: RoundSpan,
  apart: Upheld,
): Change[] {
  const { rounds, machine, effects, factorCovariance, upheld } = belief;
  const { adjusters } = machine.description;
  // What one tune shows of a movement of all may be its pins: of a tune's own movement it is part of the question.
  const isTold = (one: Upheld) =>
    apart.tune === undefined || (one.tune === undefined && shownIn(belief, one).length > 1);
  const others = upheld.filter((one) => one !== apart && movementKinds.has(one.kind) && isTold(one));
  return seriesOf(rounds).flatMap((series) => {
    const { tune, sector } = series;
    const i = series.rounds.findLastIndex((round) => round <= from);
    const j = series.rounds.findIndex((round) => round >= to);
    if (series.channel !== channel || tune === undefined || i === -1 || j === -1) return [];
    const [before, after] = [rounds[series.rounds[i]], rounds[series.rounds[j]]];
    const share = sharesOf(ofTune(machine, tune), channel, sector);
    const group = belief.groups.findIndex((one) => one.channel === channel && one.sector === sector);
    const wanderMs = Math.max(USUAL_WANDER_MS, group === -1 ? 0 : belief.wanderMs[group]);
    const steps = series.rounds[j] - series.rounds[i];
    let ms = series.valuesMs[j] - series.valuesMs[i];
    let variance = series.noiseMs2[i] + series.noiseMs2[j] + steps * wanderMs ** 2;
    variance += before.referenceSdMs ** 2 + after.referenceSdMs ** 2;
    adjusters.forEach((adjuster, a) => {
      const [was, is] = [before.settings[a], after.settings[a]];
      if (was === is || share[a] === 0) return;
      const shift = share[a] * shiftMs(adjuster, was, is, machine.description, after.secondsPerTurn);
      ms -= shift * effects[a].factor;
      variance += shift ** 2 * factorCovariance[a][a] + (share[a] * effects[a].refitMs) ** 2;
    });
    const [first, last] = [series.rounds[i], series.rounds[j]];
    const across = ({ column }: Upheld) => column(series, last) - column(series, first);
    const leftMs = others.reduce((left, one) => left - one.size * across(one), ms);
    return [
      {
        tune,
        sector,
        ms,
        sdMs: Math.sqrt(variance),
        leftMs,
        share: across(apart),
        isTelling: shows(upheld, apart, series),
      },
    ];
  });
}

/** Several tunes and sectors are asked: beyond this many standard deviations one of them is seldom by chance. */
const NOISE_SDS = 3;
/** Less is not worth a word, ms: hearing and refits are as large. */
const LEAST_MS = 0.3;
/** A change that may be more than this share of a movement is not small against it. */
const SMALL_SHARE = 0.5;

/** Whether it is no change as far as its takes tell, and they would tell half the movement. */
export function isStill({ ms, sdMs }: Change, movementMs: number): boolean {
  const most = SMALL_SHARE * Math.abs(movementMs);
  return Math.abs(ms) <= Math.max(LEAST_MS, NOISE_SDS * sdMs) && Math.abs(ms) + NOISE_SDS * sdMs <= most;
}

/** Whether something else moved it than what two tunes show, beyond its noise. */
export function isOther({ leftMs, sdMs }: Change): boolean {
  return Math.abs(leftMs) > Math.max(LEAST_MS, NOISE_SDS * sdMs);
}

/** Of a movement of all tunes, its size in each tune that shows it, ms; none where they agree, as they do where an adjuster did it. */
export function unlikeSizes(
  belief: Belief,
  movement: Upheld,
): { readonly tune: string; readonly ms: number }[] {
  const { before, tune, kind } = movement;
  if (tune !== undefined || before === null || kind === 'drifts') return [];
  const changes = belief.machine.description.channels.flatMap((_, c) =>
    changesAcross(belief, c, { from: before - 1, to: before }, movement),
  );
  const sizes = [
    ...grouped(
      changes.filter(({ isTelling }) => isTelling),
      (one) => one.tune,
    ),
  ].map(([name, own]) => {
    const information = own.reduce((sum, { share, sdMs }) => sum + (share / sdMs) ** 2, 0);
    const pull = own.reduce((sum, { share, sdMs, leftMs }) => sum + (share * leftMs) / sdMs ** 2, 0);
    return { tune: name, ms: pull / information, variance: 1 / information };
  });
  const isUnlike = sizes.some((one) =>
    sizes.some(
      ({ ms, variance }) =>
        Math.abs(one.ms - ms) > Math.max(LEAST_MS, NOISE_SDS * Math.sqrt(one.variance + variance)),
    ),
  );
  return isUnlike ? sizes : [];
}

/** Whether it is the movement, or most of it. */
export function isShown({ leftMs }: Change, movementMs: number): boolean {
  return leftMs * Math.sign(movementMs) >= SMALL_SHARE * Math.abs(movementMs);
}
