/**
 * How sure the plan's result would be once something had been changed and a take recorded. Before that take is made its
 * variances are known already, for they do not depend on what it will show (conjugate normal: Gelman et al., Bayesian Data
 * Analysis, 3rd ed., ch. 3; Chaloner & Verdinelli 1995, Stat. Sci. 10:273, on designs that are best for a prediction; both
 * from memory).
 */
import { NORMAL_95 } from '../numbers/normal.ts';
import { inverse, Matrix, pseudoInverse } from 'ml-matrix';
import { geometricShiftMs, type Belief } from './belief.ts';
import { LEAST_OWN_SHARE } from './rounds.ts';
import { USUAL_WANDER_MS } from './wander.ts';

/** What is known of the factors and of each group's lateness with the newest take's settings. */
export interface Known {
  readonly belief: Belief;
  readonly plan: readonly number[];
  /** Adjusters of which something is left to learn; the matrices below run along them. */
  readonly adjusters: readonly number[];
  readonly information: Matrix;
  readonly groups: readonly {
    /** Lateness for one of each factor's deviation, ms: what is believed of both hangs together. */
    readonly perFactorMs: readonly number[];
    /** Variance of what is its own alone, ms². */
    readonly ownMs2: number;
    readonly standingMs2: number;
    /** 1 where the reference's error in a take is in its lateness. */
    readonly reference: 0 | 1;
  }[];
}

/** Sizes below this are as good as 0 and have an inverse, ms². */
const LEAST_MS2 = 1e-8;

/** By group: what its lateness is taken to move by itself from take to take, ms. */
export function wanderOf({ rounds, wanderMs }: Belief): number[] {
  return wanderMs.map((ms) => (rounds.length < 2 ? USUAL_WANDER_MS : ms));
}

/**
 * @param standingMs2 by group: the part of its variance that is the same in every take
 * @param wanderMs    by group
 */
export function knownOf(
  belief: Belief,
  plan: readonly number[],
  standingMs2: readonly number[],
  wanderMs: readonly number[],
): Known {
  const { factorCovariance, groupCovariance, machine } = belief;
  const adjusters = [...belief.effects.keys()].filter((a) => factorCovariance[a][a] > 0);
  const covariance = new Matrix(adjusters.map((a) => adjusters.map((b) => factorCovariance[a][b])));
  const information = pseudoInverse(covariance);
  const reference = referenceMs2(belief);
  return {
    belief,
    plan,
    adjusters,
    information,
    groups: belief.groups.map(({ ci95Ms, channel }, g) => {
      const together = adjusters.map((a) => groupCovariance[g][a]);
      const perFactorMs = together.every((ms) => ms === 0)
        ? together
        : information.mmul(Matrix.columnVector(together)).to1DArray();
      const ofFactors = perFactorMs.reduce((sum, ms, i) => sum + ms * together[i], 0);
      const isReference = channel === machine.reference;
      const all = (ci95Ms / NORMAL_95) ** 2 - standingMs2[g] - ofFactors;
      const own = Math.max(all - (isReference ? 0 : reference), LEAST_OWN_SHARE * all, LEAST_MS2);
      return {
        perFactorMs,
        ownMs2: own + wanderMs[g] ** 2,
        standingMs2: standingMs2[g],
        reference: isReference ? 0 : 1,
      };
    }),
  };
}

function referenceMs2({ rounds }: Belief): number {
  return Math.max(LEAST_MS2, (rounds.at(-1)?.referenceSdMs ?? 0) ** 2);
}

export interface ExpectedLearning {
  /** Standard deviation of each adjuster's factor, by adjuster. */
  readonly factorSd: readonly number[];
  /** By group: variance of the lateness as planned, ms². */
  readonly plannedMs2: readonly number[];
}

/** The take to come. */
export interface Noise {
  /** By group: variance of its mean, ms². */
  readonly groupMs2: readonly number[];
  /** Of each what the reference shares with all others, ms². */
  readonly referenceMs2: number;
}

/** @param settings that the take to come is recorded with */
export function learntFrom(known: Known, settings: readonly number[], noise: Noise): ExpectedLearning {
  const { belief, plan, adjusters, groups } = known;
  const { effects, share, machine } = belief;
  const { adjusters: all } = machine.description;
  const changed = [...all.keys()].filter((a) => settings[a] !== all[a].installed);
  const shiftMs = adjusters.map((a) => geometricShiftMs(belief, a, settings[a]));
  const plannedMs = adjusters.map((a) => geometricShiftMs(belief, a, plan[a]));
  // Unknowns: factors, where each changed adjuster came to rest, the reference's error in this take and the next.
  const refitsAt = adjusters.length;
  const count = refitsAt + changed.length + 2;
  const priors = [
    ...changed.map((a) => 1 / Math.max(LEAST_MS2, effects[a].refitMs ** 2)),
    1 / referenceMs2(belief),
    1 / Math.max(LEAST_MS2, noise.referenceMs2),
  ];
  const information = Matrix.zeros(count, count);
  information.setSubMatrix(known.information, 0, 0);
  priors.forEach((each, i) => information.set(refitsAt + i, refitsAt + i, each));
  const seen = groups.map(({ perFactorMs, reference }, g) => [
    ...adjusters.map((a, i) => perFactorMs[i] + share[g][a] * shiftMs[i]),
    ...changed.map((a) => share[g][a]),
    -reference,
    reference,
  ]);
  const alone = groups.map(({ ownMs2, reference }, g) => {
    const own = noise.groupMs2[g] - reference * noise.referenceMs2;
    return ownMs2 + Math.max(own, LEAST_OWN_SHARE * noise.groupMs2[g]);
  });
  seen.forEach((column, g) => {
    const at = column.flatMap((value, i) => (value === 0 ? [] : [i]));
    for (const i of at)
      for (const j of at) information.set(i, j, information.get(i, j) + (column[i] * column[j]) / alone[g]);
  });
  const covariance = inverse(information);
  const plannedMs2 = groups.map(({ ownMs2, standingMs2, perFactorMs, reference }, g) => {
    const gain = ownMs2 / alone[g];
    const planned = [
      ...adjusters.map((a, i) => perFactorMs[i] + share[g][a] * plannedMs[i]),
      ...changed.map((a) => share[g][a]),
      -reference,
      0,
    ];
    const rest = planned.map((value, i) => value - gain * seen[g][i]);
    let variance = ownMs2 * (1 - gain) + standingMs2;
    for (let i = 0; i < count; i++)
      if (rest[i] !== 0) for (let j = 0; j < count; j++) variance += rest[i] * rest[j] * covariance.get(i, j);
    all.forEach((_, a) => {
      if (plan[a] !== all[a].installed || changed.includes(a))
        variance += (share[g][a] * effects[a].refitMs) ** 2;
    });
    // What the take shows changes the plan: each shift by as much as its factor is found to differ.
    adjusters.forEach((a, i) => {
      const learnt = Math.max(0, belief.factorCovariance[a][a] - covariance.get(i, i));
      variance += ((share[g][a] * plannedMs[i]) / effects[a].factor) ** 2 * learnt * covariance.get(i, i);
    });
    return variance;
  });
  const factorSd = effects.map((_, a) => {
    const i = adjusters.indexOf(a);
    return i === -1 ? 0 : Math.sqrt(covariance.get(i, i));
  });
  return { factorSd, plannedMs2 };
}
