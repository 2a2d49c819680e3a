/**
 * The local level model: a level that walks at random, seen through noise (West & Harrison, Bayesian Forecasting and
 * Dynamic Models, ch. 2; Durbin & Koopman, Time Series Analysis by State Space Methods, ch. 2; both from memory).
 *
 *   value[t] = level[t] + noise,  level[t + 1] = level[t] + wander
 *
 * Before the first value nothing is known of the level (diffuse start): the first value is the first level. The filter's gains
 * depend on variances alone, so that what works them out (`levelSteps`) is apart from what runs a series through them
 * (`innovationsOf`). The second is linear, so the columns of a regression go through it as the values do, and a
 * regression with a wandering level is least squares between innovations (the augmented filter: de Jong 1991, Annals of
 * Statistics 19; from memory).
 */

export interface LevelSteps {
  /** Share of each innovation that the level takes; 1 at the first value. */
  readonly gain: Float64Array;
  /** Variance of each innovation; NaN at the first value, which has none. */
  readonly innovationVariance: Float64Array;
  /** Variance of the level once each value is counted in. */
  readonly levelVariance: Float64Array;
}

/**
 * @param noiseVariance  one a value, > 0
 * @param wanderVariance by which the level may have moved before each value, ≥ 0; the first is not used
 */
export function levelSteps(noiseVariance: ArrayLike<number>, wanderVariance: ArrayLike<number>): LevelSteps {
  const count = noiseVariance.length;
  const gain = new Float64Array(count);
  const innovationVariance = new Float64Array(count);
  const levelVariance = new Float64Array(count);
  for (let t = 0; t < count; t++) {
    const foreseen = t === 0 ? Infinity : levelVariance[t - 1] + wanderVariance[t];
    innovationVariance[t] = t === 0 ? NaN : foreseen + noiseVariance[t];
    gain[t] = t === 0 ? 1 : foreseen / innovationVariance[t];
    levelVariance[t] = gain[t] * noiseVariance[t];
  }
  return { gain, innovationVariance, levelVariance };
}

/** What a series adds at each value to what was foreseen (NaN at the first), and its last level; both linear in the values. */
export function innovationsOf({ gain }: LevelSteps, values: ArrayLike<number>) {
  const innovations = new Float64Array(values.length).fill(NaN);
  let level = values.length === 0 ? NaN : values[0];
  for (let t = 1; t < values.length; t++) {
    innovations[t] = values[t] - level;
    level += gain[t] * innovations[t];
  }
  return { innovations, level };
}

/** Of all values after the first, given the first (the diffuse likelihood, up to what no parameter changes). */
export function levelLogLikelihood(
  { innovationVariance }: LevelSteps,
  innovations: ArrayLike<number>,
): number {
  let sum = 0;
  for (let t = 1; t < innovations.length; t++)
    sum -=
      0.5 * (Math.log(2 * Math.PI * innovationVariance[t]) + innovations[t] ** 2 / innovationVariance[t]);
  return sum;
}
