/**
 * What the takes on record teach about a machine: a Bayesian linear model (conjugate normal; Gelman et al., Bayesian
 * Data Analysis, 3rd ed., ch. 14, from memory). Unknown are
 * - each adjuster's factor: what it truly does as a multiple of geometry; prior 1 ± PRIOR_SD, far wider where the takes
 *   are at odds with that;
 * - each refit: how far a part came to rest from where the setting says, whenever it was changed; prior 0 ± refitMs;
 * - each take's error of the reference's mean, which all its latenesses share;
 * - each pin's lateness with the newest settings, at each tempo; no prior at all.
 * The pins are eliminated first, so that what is left to solve grows with the adjusters and rounds, not with the pins.
 */
import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { shiftMs } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import type { EarlierReport } from '../results.ts';
import {
  measuredGroups,
  NORMAL_95,
  settingsOf,
  sharesOf,
  type Belief,
  type BelievedEffect,
} from './belief.ts';
import { roundsOf, type Round } from './rounds.ts';

/** Standard deviation of what adjusters truly do about what geometry says: "off by tens of per cent"; no source. */
export const PRIOR_SD = 0.25;

/** Takes whose turn differs by less than this share are at one tempo: what it does to a lateness is below hearing. */
const SAME_TEMPO = 0.005;

/**
 * Where the machine does not say how exactly parts go back, these are tried and their variances averaged, each weighing
 * as likely as it makes the takes, times a log-normal prior about 0.2 ms. Common practice, no source.
 */
const REFITS_MS = [0, 0.05, 0.1, 0.2, 0.3, 0.45, 0.7, 1];
const USUAL_REFIT_MS = 0.2;

/**
 * An adjuster whose factor is pulled this many of the prior's standard deviations away from geometry is seized, mounted
 * the other way, or wrongly described: of it the prior knows nothing, and its standard deviation is this instead. Else
 * what is odd about one adjuster would be taken for scatter of all refits. 95 % of the prior lies within two.
 */
const SURPRISING_SDS = 2;
const UNKNOWN_SD = 2;

/** What the takes say of a machine, at the newest take's tempo and settings. The newest take must know its tempo. */
export function beliefFromTakes(
  machine: Machine,
  reports: readonly EarlierReport[],
  priorSd = PRIOR_SD,
): Belief {
  const rounds = roundsOf(machine, reports);
  const usual = machine.description.adjusters.map(() => priorSd);
  const { mean } = fit(machine, rounds, usual, refitsOf(machine, USUAL_REFIT_MS));
  const priors = usual.map((sd, a) => (Math.abs(mean[a]) > SURPRISING_SDS * sd ? UNKNOWN_SD : sd));
  const refitMs = refitFrom(machine, rounds, priors);
  return believe(machine, rounds, fit(machine, rounds, priors, refitMs), refitMs, priorSd);
}

/** Own standard deviation of each adjuster's refits, by adjuster, ms. */
function refitsOf(machine: Machine, usualMs: number): number[] {
  const { adjusters, refitMs } = machine.description;
  return adjusters.map((adjuster) => adjuster.refitMs ?? refitMs ?? usualMs);
}

function refitFrom(machine: Machine, rounds: readonly Round[], priorSds: readonly number[]): number[] {
  const given = refitsOf(machine, NaN);
  if (!given.some(Number.isNaN)) return given;
  const changes = rounds
    .slice(1)
    .some(({ settings }, r) => settings.some((s, a) => s !== rounds[r].settings[a]));
  if (!changes) return refitsOf(machine, USUAL_REFIT_MS);
  const logs = REFITS_MS.map((ms) => {
    const prior = -0.5 * Math.log(Math.max(ms, 0.02) / USUAL_REFIT_MS) ** 2;
    return fit(machine, rounds, priorSds, refitsOf(machine, ms)).logLikelihood + prior;
  });
  const most = Math.max(...logs);
  const weights = logs.map((log) => Math.exp(log - most));
  const squares = weights.reduce((sum, weight, i) => sum + weight * REFITS_MS[i] ** 2, 0);
  return refitsOf(machine, Math.sqrt(squares / weights.reduce((a, b) => a + b)));
}

/** A normal belief about the unknowns that are left when the pins are eliminated. */
interface Fit {
  readonly mean: Float64Array;
  readonly covariance: Matrix;
  /** Up to what does not depend on the refits' prior. */
  readonly logLikelihood: number;
  readonly unknowns: Unknowns;
  /** By tempo and pin. */
  readonly pins: ReadonlyMap<string, PinSum>;
}

/** Where each unknown stands: first the factors by adjuster, then the takes, then the refits. */
interface Unknowns {
  readonly count: number;
  readonly take: (round: number) => number;
  /** Refits between the newest take and this one: adjuster and place. */
  readonly refitsSince: readonly (readonly { readonly adjuster: number; readonly at: number }[])[];
  readonly priorSd: Float64Array;
}

function unknownsOf(
  rounds: readonly Round[],
  priorSds: readonly number[],
  refitMs: readonly number[],
): Unknowns {
  const adjusters = refitMs.length;
  const sds: number[] = [...priorSds, ...rounds.map(({ referenceSdMs }) => referenceSdMs)];
  const refitsSince: { adjuster: number; at: number }[][] = rounds.map(() => []);
  for (let r = rounds.length - 2; r >= 0; r--) {
    refitsSince[r] = [...refitsSince[r + 1]];
    rounds[r].settings.forEach((setting, adjuster) => {
      if (setting === rounds[r + 1].settings[adjuster] || refitMs[adjuster] === 0) return;
      refitsSince[r].push({ adjuster, at: sds.length });
      sds.push(refitMs[adjuster]);
    });
  }
  // A prior of exactly 0 has no inverse; a thousandth of what could be heard is as good as 0.
  const priorSd = Float64Array.from(sds, (sd) => Math.max(sd, 1e-4));
  return { count: sds.length, take: (round) => adjusters + round, refitsSince, priorSd };
}

/** Entries of a row that are not 0. */
type Sparse = readonly (readonly [at: number, value: number])[];

/** How a group's lateness in a take depends on the unknowns, beside its lateness with the newest settings. */
function rowOf(
  machine: Machine,
  rounds: readonly Round[],
  unknowns: Unknowns,
  round: number,
  channel: number,
  share: Float64Array,
): Sparse {
  const { adjusters } = machine.description;
  const { settings, secondsPerTurn } = rounds[round];
  const newest = rounds[rounds.length - 1].settings;
  const row: [number, number][] = [];
  adjusters.forEach((adjuster, a) => {
    if (share[a] === 0 || settings[a] === newest[a]) return;
    row.push([a, share[a] * shiftMs(adjuster, newest[a], settings[a], machine.description, secondsPerTurn)]);
  });
  if (channel !== machine.reference) row.push([unknowns.take(round), 1]);
  for (const { adjuster, at } of unknowns.refitsSince[round])
    if (share[adjuster] !== 0) row.push([at, -share[adjuster]]);
  return row;
}

/** A pin at one tempo: its observations weighed together. */
interface PinSum {
  weight: number;
  /** Σ weight · (observation less what the prior expects). */
  residual: number;
  row: Float64Array;
}

function fit(
  machine: Machine,
  rounds: readonly Round[],
  priorSds: readonly number[],
  refitMs: readonly number[],
): Fit {
  const unknowns = unknownsOf(rounds, priorSds, refitMs);
  const { count } = unknowns;
  const information = Matrix.zeros(count, count);
  const right = new Float64Array(count);
  const pins = new Map<string, PinSum>();
  const rows = rowCache(machine, rounds, unknowns);
  rounds.forEach((round, r) => {
    for (const { key, channel, sector, meanMs, weight } of round.pins) {
      const row = rows(r, channel, sector);
      const residual = meanMs - expected(row, refitMs.length);
      const name = `${tempoOf(rounds, r)} ${key}`;
      const sum = pins.get(name) ?? { weight: 0, residual: 0, row: new Float64Array(count) };
      pins.set(name, sum);
      sum.weight += weight;
      sum.residual += weight * residual;
      for (const [i, x] of row) {
        sum.row[i] += weight * x;
        right[i] += weight * x * residual;
        for (const [j, y] of row) information.set(i, j, information.get(i, j) + weight * x * y);
      }
    }
  });
  for (const { weight, residual, row } of pins.values()) {
    const used = row.reduce<number[]>((list, x, i) => (x === 0 ? list : [...list, i]), []);
    for (const i of used) {
      right[i] -= (row[i] * residual) / weight;
      for (const j of used) information.set(i, j, information.get(i, j) - (row[i] * row[j]) / weight);
    }
  }
  return { ...solve(information, right, unknowns), unknowns, pins };
}

/** Rows by take and group; many pins share one. */
function rowCache(machine: Machine, rounds: readonly Round[], unknowns: Unknowns) {
  const shares = new Map<string, Float64Array>();
  const rows = new Map<string, Sparse>();
  return (round: number, channel: number, sector: number): Sparse => {
    const group = `${channel} ${sector}`;
    const share = shares.get(group) ?? sharesOf(machine, channel, sector);
    shares.set(group, share);
    const row = rows.get(`${round} ${group}`) ?? rowOf(machine, rounds, unknowns, round, channel, share);
    rows.set(`${round} ${group}`, row);
    return row;
  };
}

/** What the prior means (factors 1, all else 0) make of a row. */
function expected(row: Sparse, adjusters: number): number {
  return row.reduce((sum, [at, value]) => sum + (at < adjusters ? value : 0), 0);
}

/** The first take at the same tempo names it. */
function tempoOf(rounds: readonly Round[], round: number): number {
  const { secondsPerTurn } = rounds[round];
  return rounds.findIndex((other) => Math.abs(other.secondsPerTurn / secondsPerTurn - 1) < SAME_TEMPO);
}

function solve(information: Matrix, right: Float64Array, { count, priorSd }: Unknowns) {
  // Scaled by the prior's standard deviations, so that the prior is the identity and nothing is ill-conditioned.
  const scaled = Matrix.identity(count);
  // Symmetric to the last bit, which the decomposition asks for.
  for (let i = 0; i < count; i++)
    for (let j = 0; j < count; j++) {
      const both = (information.get(i, j) + information.get(j, i)) / 2;
      scaled.set(i, j, scaled.get(i, j) + priorSd[i] * priorSd[j] * both);
    }
  const cholesky = new CholeskyDecomposition(scaled);
  const inverse = cholesky.solve(Matrix.identity(count));
  const pull = Matrix.columnVector(Array.from(right, (x, i) => x * priorSd[i]));
  const step = inverse.mmul(pull);
  const mean = Float64Array.from(priorSd, (sd, i) => sd * step.get(i, 0));
  const covariance = inverse;
  for (let i = 0; i < count; i++)
    for (let j = 0; j < count; j++) covariance.set(i, j, priorSd[i] * inverse.get(i, j) * priorSd[j]);
  const logDeterminant = cholesky.lowerTriangularMatrix.diag().reduce((sum, x) => sum + 2 * Math.log(x), 0);
  const explained = pull.to1DArray().reduce((sum, x, i) => sum + x * step.get(i, 0), 0);
  return { mean, covariance, logLikelihood: (explained - logDeterminant) / 2 };
}

/** From the fit to the newest take's groups: each the mean of its pins, with all that is unsure about them. */
function believe(
  machine: Machine,
  rounds: readonly Round[],
  { mean, covariance, unknowns, pins }: Fit,
  refitMs: readonly number[],
  priorSd: number,
): Belief {
  const adjusters = refitMs.length;
  const newest = rounds[rounds.length - 1];
  const tempo = tempoOf(rounds, rounds.length - 1);
  const measured = measuredGroups(machine, newest.report);
  const believed = measured.map((group) => {
    let meanMs = 0;
    let variance = 0;
    const row = new Float64Array(unknowns.count);
    for (const { key, share, channel, sector } of newest.pins) {
      if (channel !== group.channel || sector !== group.sector) continue;
      const pin = pins.get(`${tempo} ${key}`)!;
      meanMs += (share * pin.residual) / pin.weight;
      variance += share ** 2 / pin.weight;
      pin.row.forEach((x, at) => (row[at] += (share * x) / pin.weight));
    }
    const used = row.reduce<number[]>((list, x, at) => (x === 0 ? list : [...list, at]), []);
    const withUnknown = (i: number) => used.reduce((sum, j) => sum + row[j] * covariance.get(i, j), 0);
    for (const i of used) {
      meanMs -= row[i] * mean[i];
      variance += row[i] * withUnknown(i);
    }
    const ci95Ms = NORMAL_95 * Math.sqrt(variance);
    const withFactors = Float64Array.from({ length: adjusters }, (_, a) => -withUnknown(a));
    return { group: { ...group, meanMs, ci95Ms }, withFactors };
  });
  return {
    machine,
    secondsPerTurn: newest.secondsPerTurn,
    takeSettings: settingsOf(machine, newest.report),
    groups: believed.map(({ group }) => group),
    share: measured.map(({ channel, sector }) => sharesOf(machine, channel, sector)),
    effects: refitMs.map((ms, a): BelievedEffect => {
      const known = covariance.get(a, a) < priorSd ** 2 / 2;
      return { factor: 1 + mean[a], from: known ? 'takes' : 'geometry', refitMs: ms };
    }),
    factorCovariance: refitMs.map((_, a) => Float64Array.from(refitMs, (__, b) => covariance.get(a, b))),
    groupCovariance: believed.map(({ withFactors }) => withFactors),
  };
}
