/**
 * What the takes on record say, as one Gaussian model (conjugate normal: Gelman et al., Bayesian Data Analysis, 3rd ed.,
 * ch. 14, from memory). Shared by all groups are, with their priors:
 * - each adjuster's factor: what it truly does as a multiple of geometry; 1 ± its prior standard deviation;
 * - each take's error of the reference's mean, which all its latenesses share;
 * - each refit: how far a part came to rest from where the setting says, whenever it was changed; 0 ± refitMs;
 * - what each coupling of the machine file (`alsoShifts`) does beyond its share; and whatever else is supposed.
 * Each group's own lateness with the newest settings is a level that wanders (numbers/local-level.ts) with no prior at all. The
 * levels are filtered out first, so that what is left to solve grows with the adjusters and takes, not with the groups.
 */
import { sharesOf } from './shares.ts';
import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { coupled, shiftMs, type Coupling } from '../machine/effects.ts';
import { ofTune } from '../machine/tune.ts';
import type { Machine } from '../machine/machine.ts';
import { innovationsOf, levelLogLikelihood, levelSteps, type LevelSteps } from '../numbers/local-level.ts';
import type { Round } from './rounds.ts';
import type { Series, Moves } from './series.ts';

/** Lateness (ms) of a group in a round for one unit of an unknown, counted from the newest take: 0 there. */
export type DesignColumn = (series: Series, round: number) => number;

/** Something that is supposed beside what is noted. */
export interface Supposed {
  readonly column: DesignColumn;
  readonly mean: number;
  readonly sd: number;
}

export interface Assumptions {
  readonly machine: Machine;
  readonly rounds: readonly Round[];
  readonly series: readonly Series[];
  /** Prior standard deviations of the factors, by adjuster. */
  readonly priorSds: readonly number[];
  /** Standard deviations of refits, by adjuster, ms. */
  readonly refitMs: readonly number[];
  /** Standard deviation by which a group's level moves from take to take, ms. */
  readonly wanderMs: (series: Series) => number;
  /** Whether a group may have moved by anything just before a round. */
  readonly breaks: (series: Series, round: number) => boolean;
  readonly supposed: readonly Supposed[];
}

/** A normal belief about what groups share. */
export interface EffectsFit {
  readonly assumptions: Assumptions;
  readonly unknowns: Unknowns;
  /** Deviations from the priors' means. */
  readonly mean: Float64Array;
  readonly covariance: Matrix;
  /** The same, row by row. */
  readonly covarianceRows: readonly Float64Array[];
  readonly logLikelihood: number;
  readonly filtered: readonly Filtered[];
}

/** A series after the filter. */
export interface Filtered {
  readonly series: Series;
  readonly steps: LevelSteps;
  /** Lateness less what the priors' means make of it, ms, one a round. */
  readonly values: Float64Array;
  /** By how much its level may have moved before each round, ms². */
  readonly wander: Float64Array;
  /** Unknowns that it depends on, and how much, one a round. */
  readonly at: readonly number[];
  readonly columns: readonly Float64Array[];
  /** Of `values`, one a round, NaN first. */
  readonly innovations: Float64Array;
  readonly level: number;
  /** The same of each unknown's column, in the order of `at`. */
  readonly columnInnovations: readonly Float64Array[];
  readonly columnLevels: readonly number[];
}

/** Where each unknown stands: factors by adjuster, then rounds, refits, couplings, what is supposed. */
export interface Unknowns {
  readonly priorSd: Float64Array;
  readonly rounds: number;
  readonly refits: readonly { readonly adjuster: number; readonly before: number; readonly at: number }[];
  readonly couplings: readonly {
    readonly adjuster: number;
    readonly to: Coupling;
    readonly at: number;
  }[];
  readonly supposed: number;
}

/** A share that the machine file gives is right to within this much of itself, and never to within less than the second. No source. */
const SHARE_SD = 0.3;
const LEAST_SHARE_SD = 0.05;

/** A level that may have moved by anything: 20 ms is more than any mend moves a striker that still works. */
export const BREAK_VARIANCE_MS2 = 400;

function unknownsOf({ machine, rounds, priorSds, refitMs, supposed }: Assumptions): Unknowns {
  const sds: number[] = [...priorSds, ...rounds.map(({ referenceSdMs }) => referenceSdMs)];
  const refits = rounds.slice(1).flatMap(({ settings }, i) =>
    settings.flatMap((setting, adjuster) => {
      if (setting === rounds[i].settings[adjuster] || refitMs[adjuster] === 0) return [];
      return [{ adjuster, before: i + 1, at: sds.push(refitMs[adjuster]) - 1 }];
    }),
  );
  const couplings = machine.description.adjusters.flatMap(({ alsoShifts = [] }, adjuster) =>
    alsoShifts.map((to) => ({
      adjuster,
      to,
      at: sds.push(Math.max(LEAST_SHARE_SD, SHARE_SD * Math.abs(to.share))) - 1,
    })),
  );
  const first = sds.length;
  sds.push(...supposed.map(({ sd }) => sd));
  // A prior of exactly 0 has no inverse; a tenth of a thousandth of a ms is as good as 0.
  const priorSd = Float64Array.from(sds, (sd) => Math.max(sd, 1e-4));
  return { priorSd, rounds: priorSds.length, refits, couplings, supposed: first };
}

/** Own geometric shift of an adjuster in a round, counted from the newest take's setting, ms. */
export function shiftIn(machine: Machine, rounds: readonly Round[], a: number, round: number): number {
  const { settings, secondsPerTurn } = rounds[round];
  const newest = rounds[rounds.length - 1].settings[a];
  if (settings[a] === newest) return 0;
  const { description } = machine;
  return shiftMs(description.adjusters[a], newest, settings[a], description, secondsPerTurn);
}

export function fitEffects(assumptions: Assumptions): EffectsFit {
  const unknowns = unknownsOf(assumptions);
  const count = unknowns.priorSd.length;
  const information = Matrix.zeros(count, count);
  const right = new Float64Array(count);
  let logLikelihood = 0;
  const filtered = assumptions.series.map((series) => {
    const one = filter(assumptions, unknowns, series);
    const { at, steps, innovations, columnInnovations } = one;
    logLikelihood += levelLogLikelihood(steps, innovations);
    for (let i = 0; i < at.length; i++) {
      const own = columnInnovations[i];
      right[at[i]] += innovationDot(own, innovations, steps);
      for (let j = 0; j <= i; j++) {
        const sum = innovationDot(own, columnInnovations[j], steps);
        if (sum !== 0) information.set(at[i], at[j], information.get(at[i], at[j]) + sum);
      }
    }
    return one;
  });
  const solved = solve(information, right, unknowns);
  return {
    assumptions,
    unknowns,
    filtered,
    ...solved,
    logLikelihood: logLikelihood + solved.logLikelihood,
  };
}

/** Σ a·b / variance over the innovations. */
export function innovationDot(a: Float64Array, b: Float64Array, { innovationVariance }: LevelSteps): number {
  let sum = 0;
  for (let t = 1; t < a.length; t++) sum += (a[t] * b[t]) / innovationVariance[t];
  return sum;
}

function filter(assumptions: Assumptions, unknowns: Unknowns, series: Series): Filtered {
  const { machine, rounds, wanderMs, breaks, supposed, priorSds } = assumptions;
  const { channel, sector } = series;
  const own = series.rounds;
  const columns = new Map<number, Float64Array>();
  const put = (at: number, t: number, value: number) => {
    if (value === 0) return;
    let column = columns.get(at);
    if (column === undefined) columns.set(at, (column = new Float64Array(own.length)));
    column[t] += value;
  };
  const share = sharesOf(ofTune(machine, series.tune), channel, sector);
  const adjusters = priorSds.map((_, a) => a).filter((a) => share[a] !== 0);
  own.forEach((round, t) => {
    for (const a of adjusters) put(a, t, share[a] * shiftIn(machine, rounds, a, round));
    if (channel !== machine.reference) put(unknowns.rounds + round, t, 1);
    for (const { adjuster, before, at } of unknowns.refits)
      if (before > round && share[adjuster] !== 0) put(at, t, -share[adjuster]);
    for (const { adjuster, to, at } of unknowns.couplings)
      if (coupled(machine, to, channel, sector)) put(at, t, shiftIn(machine, rounds, adjuster, round));
    supposed.forEach(({ column }, i) => put(unknowns.supposed + i, t, column(series, round)));
  });
  const values = Float64Array.from(series.valuesMs);
  for (const [at, column] of columns) {
    const mean =
      at < priorSds.length ? 1 : at >= unknowns.supposed ? supposed[at - unknowns.supposed].mean : 0;
    if (mean !== 0) column.forEach((value, t) => (values[t] -= mean * value));
  }
  const each = wanderMs(series);
  const wander = Float64Array.from(own, (round, t) => {
    if (t === 0) return 0;
    let variance = 0;
    for (let r = own[t - 1] + 1; r <= round; r++)
      variance += breaks(series, r) ? BREAK_VARIANCE_MS2 : each ** 2;
    return variance;
  });
  const steps = levelSteps(series.noiseMs2, wander);
  const through = [...columns.values()].map((column) => innovationsOf(steps, column));
  return {
    series,
    steps,
    values,
    wander,
    at: [...columns.keys()],
    columns: [...columns.values()],
    ...innovationsOf(steps, values),
    columnInnovations: through.map(({ innovations }) => innovations),
    columnLevels: through.map(({ level }) => level),
  };
}

/** @param information its lower triangle */
function solve(information: Matrix, right: Float64Array, { priorSd }: Unknowns) {
  const count = priorSd.length;
  // Scaled by the prior's standard deviations, so that the prior is the identity and nothing is ill-conditioned.
  const scaled = Matrix.identity(count);
  for (let i = 0; i < count; i++)
    for (let j = 0; j <= i; j++) {
      // The triangle's other half may hold sums too, where unknowns come in another order in another series.
      const sum = i === j ? information.get(i, i) : information.get(i, j) + information.get(j, i);
      const value = scaled.get(i, j) + priorSd[i] * priorSd[j] * sum;
      scaled.set(i, j, value);
      scaled.set(j, i, value);
    }
  const cholesky = new CholeskyDecomposition(scaled);
  const covariance = cholesky.solve(Matrix.identity(count));
  const pull = Matrix.columnVector(Array.from(right, (x, i) => x * priorSd[i]));
  const step = covariance.mmul(pull);
  const mean = Float64Array.from(priorSd, (sd, i) => sd * step.get(i, 0));
  for (let i = 0; i < count; i++)
    for (let j = 0; j < count; j++) covariance.set(i, j, priorSd[i] * covariance.get(i, j) * priorSd[j]);
  const logDeterminant = cholesky.lowerTriangularMatrix.diag().reduce((sum, x) => sum + 2 * Math.log(x), 0);
  const explained = pull.to1DArray().reduce((sum, x, i) => sum + x * step.get(i, 0), 0);
  const covarianceRows = Array.from(priorSd, (_, i) =>
    Float64Array.from(priorSd, (__, j) => covariance.get(i, j)),
  );
  return { mean, covariance, covarianceRows, logLikelihood: (explained - logDeterminant) / 2 };
}

/** What the takes say of one more unknown beside all others: its size where nothing is known of it before, and 1 over its variance. */
export interface ScoreTest {
  readonly pull: number;
  readonly information: number;
}

/**
 * The score of a column that the fit does not have, every other unknown taken out (added-variable regression).
 *
 * @param moves whether the column may be other than 0 for a group
 */
export function scoreTest(
  { filtered, mean, covarianceRows }: EffectsFit,
  column: DesignColumn,
  moves: Moves,
): ScoreTest {
  let pull = 0;
  let information = 0;
  const cross = new Float64Array(mean.length);
  const isUsed = new Uint8Array(mean.length);
  const used: number[] = [];
  for (const { series, steps, at, innovations, columnInnovations } of filtered) {
    const { rounds, channel, sector, tune } = series;
    if (rounds.length < 2 || !moves(channel, sector, tune)) continue;
    const values = new Float64Array(rounds.length);
    let any = false;
    for (let t = 0; t < values.length; t++) if ((values[t] = column(series, rounds[t])) !== 0) any = true;
    if (!any) continue;
    const own = innovationsOf(steps, values).innovations;
    for (let t = 1; t < own.length; t++) {
      const weighted = own[t] / steps.innovationVariance[t];
      pull += weighted * innovations[t];
      information += weighted * own[t];
      own[t] = weighted;
    }
    for (let i = 0; i < at.length; i++) {
      const other = columnInnovations[i];
      let sum = 0;
      for (let t = 1; t < own.length; t++) sum += own[t] * other[t];
      if (sum === 0) continue;
      if (isUsed[at[i]] === 0) used.push(at[i]);
      isUsed[at[i]] = 1;
      cross[at[i]] += sum;
    }
  }
  for (const i of used) {
    const row = covarianceRows[i];
    let sum = 0;
    for (const j of used) sum += row[j] * cross[j];
    pull -= cross[i] * mean[i];
    information -= cross[i] * sum;
  }
  return { pull, information: Math.max(0, information) };
}

/** Logarithm of how much likelier the takes are with an unknown of this normal prior than without it. */
export function logEvidence({ pull, information }: ScoreTest, mean: number, sd: number): number {
  const precision = 1 / (sd * sd);
  const sum = pull + mean * precision;
  return (
    (sum * sum) / (information + precision) / 2 -
    (mean * mean * precision) / 2 -
    Math.log(1 + sd * sd * information) / 2
  );
}
