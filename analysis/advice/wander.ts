/**
 * How much lateness moves by itself from one take to the next: the process noise of the local level model, learned. Each
 * value tried weighs as likely as it makes the takes, times a log-normal prior (empirical Bayes: the machine's first, then
 * each channel's about it).
 */
import { innovationsOf, levelLogLikelihood, levelSteps } from '../numbers/local-level.ts';
import type { Filtered, EffectsFit } from './fit.ts';

/** Tried, ms a take. Felt, springs and warm bearings do some hundredths; above 1 ms a striker is to be mended. No source. */
const WANDERS_MS = [0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.28];
export const USUAL_WANDER_MS = 0.08;
/** Standard deviations of the logarithms: of machines about the usual, of channels about their machine. */
const MACHINES_LOG_SD = 0.8;
const CHANNELS_LOG_SD = 0.6;
/** One channel that was mended must not speak for all: it counts for at most so much, in logarithms of likelihood. */
const MOST_SAID = 4;

/** Of such a share of machines whose takes wander it is promised that theirs is no larger; the normal quantile of it. */
const PROMISED_QUANTILE = 1.2816;

/**
 * A wander that nine of ten machines do not exceed. Takes tell their own: n steps from take to take give a logarithm of a
 * standard deviation to ±1/√(2n) (large-sample theory, from memory); before the first step only the prior tells of it.
 *
 * @param wanderMs as believed; `takes` that it was learned from
 */
export function promisedWanderMs(wanderMs: number, takes: number, quantile = PROMISED_QUANTILE): number {
  const steps = Math.max(0, takes - 1);
  const logSd = 1 / Math.sqrt(1 / (MACHINES_LOG_SD ** 2 + CHANNELS_LOG_SD ** 2) + 2 * steps);
  return wanderMs * Math.exp(quantile * logSd);
}

/** A wander that nineteen of twenty machines do not exceed: the normal quantile. */
const CAUTIOUS_QUANTILE = 1.645;

/**
 * What a description of the machine is held against before it is doubted for what takes moved by: of the step that is in question
 * nobody knows whether it was wander.
 */
export function cautiousWanderMs(wanderMs: number, takes: number): number {
  return promisedWanderMs(wanderMs, takes - 1, CAUTIOUS_QUANTILE);
}

export interface Wander {
  /** What the machine's channels mostly do, ms: one that was mended or wears does not count for all. */
  readonly usualMs: number;
  /** By channel, ms. */
  readonly ofChannelMs: readonly number[];
}

/** Beyond this, ms, takes wander so much that what moved at once may be part of it. */
const WIDE_MS = 2 * USUAL_WANDER_MS;

/**
 * The wanders that are tried beside one that is unusually wide, each with the logarithm of how usual it is in a machine; none where it is not.
 */
export function lesserWanders(usualMs: number): { readonly ms: number; readonly log: number }[] {
  if (usualMs <= WIDE_MS) return [];
  return [...WANDERS_MS.filter((ms) => ms < usualMs), usualMs].map((ms) => ({
    ms,
    log: -0.5 * (Math.log(ms / USUAL_WANDER_MS) / MACHINES_LOG_SD) ** 2,
  }));
}

export function learnWander(fit: EffectsFit): Wander {
  const { channels } = fit.assumptions.machine.description;
  const told = channels.map((_, c) =>
    fit.filtered.some(({ series }) => series.channel === c && series.rounds.length > 1)
      ? WANDERS_MS.map((ms) => likelihoodOf(fit, c, ms))
      : null,
  );
  const usualMs = weighedMean(
    WANDERS_MS.map((_, i) =>
      told.reduce(
        (sum, logs) => sum + (logs === null ? 0 : Math.max(logs[i] - Math.max(...logs), -MOST_SAID)),
        0,
      ),
    ),
    USUAL_WANDER_MS,
    MACHINES_LOG_SD,
  );
  const ofChannelMs = told.map((logs) =>
    logs === null ? usualMs : weighedMean(logs, usualMs, CHANNELS_LOG_SD),
  );
  return { usualMs, ofChannelMs };
}

/** Of a channel's takes, with what all share as it is believed. */
function likelihoodOf({ filtered, mean }: EffectsFit, channel: number, wanderMs: number): number {
  let sum = 0;
  for (const one of filtered) {
    if (one.series.channel !== channel || one.series.rounds.length < 2) continue;
    const steps = levelSteps(one.series.noiseMs2, wandering(one, wanderMs));
    const residual = one.values.map((value, t) =>
      one.at.reduce((left, unknown, i) => left - mean[unknown] * one.columns[i][t], value),
    );
    sum += levelLogLikelihood(steps, innovationsOf(steps, residual).innovations);
  }
  return sum;
}

/** Where a level may have moved by anything, it still may. */
function wandering({ series, wander }: Filtered, wanderMs: number): Float64Array {
  return wander.map((variance, t) =>
    t === 0 || variance > A_BREAK_MS2 ? variance : (series.rounds[t] - series.rounds[t - 1]) * wanderMs ** 2,
  );
}
const A_BREAK_MS2 = 100;

/** Geometric mean of the values tried. */
function weighedMean(logs: readonly number[], usualMs: number, logSd: number): number {
  const whole = logs.map((log, i) => log - 0.5 * (Math.log(WANDERS_MS[i] / usualMs) / logSd) ** 2);
  const most = Math.max(...whole);
  const weights = whole.map((log) => Math.exp(log - most));
  const sum = weights.reduce((a, b) => a + b);
  return Math.exp(weights.reduce((total, weight, i) => total + weight * Math.log(WANDERS_MS[i]), 0) / sum);
}
