/** What the takes before and after a movement say of a channel of a tune: by how much it changed, beyond what noted settings do. */
import { shiftMs } from '../machine/effects.ts';
import { ofTune } from '../machine/tune.ts';
import type { Belief } from './belief.ts';
import { seriesOf } from './series.ts';
import { sharesOf } from './shares.ts';
import { USUAL_WANDER_MS } from './wander.ts';
import type { RoundSpan } from './when-moved.ts';

/** From the last take up to a span to the first after it. */
export interface Change {
  readonly tune: string;
  readonly sector: number;
  /** Ms of lateness, what the noted settings do between the two takes taken off, and its standard deviation. */
  readonly ms: number;
  readonly sdMs: number;
}

/** @returns one a tune, sector and tempo that has takes on both sides of the span */
export function changesAcross(belief: Belief, channel: number, { from, to }: RoundSpan): Change[] {
  const { rounds, machine, effects, factorCovariance } = belief;
  const { adjusters } = machine.description;
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
    return [{ tune, sector, ms, sdMs: Math.sqrt(variance) }];
  });
}

/** Several tunes and sectors are asked: beyond this many standard deviations one of them is seldom by chance. */
const NOISE_SDS = 3;
/** A change that may be more than this share of a movement is not small against it. */
const SMALL_SHARE = 0.5;

/** Whether it is no change as far as its takes tell, and they would tell half the movement. */
export function isStill({ ms, sdMs }: Change, movementMs: number): boolean {
  const most = SMALL_SHARE * Math.abs(movementMs);
  return Math.abs(ms) <= NOISE_SDS * sdMs && Math.abs(ms) + NOISE_SDS * sdMs <= most;
}

/** Less is not worth a word, ms: hearing and refits are as large. */
const LEAST_MS = 0.3;

/** Whether it differs from what it would be, beyond its noise. */
export function isOther({ ms, sdMs }: Change, wouldBeMs: number): boolean {
  return Math.abs(ms - wouldBeMs) > Math.max(LEAST_MS, NOISE_SDS * sdMs);
}

/** Whether it is the movement, or most of it. */
export function isShown({ ms }: Change, movementMs: number): boolean {
  return ms * Math.sign(movementMs) >= SMALL_SHARE * Math.abs(movementMs);
}
