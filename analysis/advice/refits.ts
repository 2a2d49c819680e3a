/** How exactly parts go back when they are taken off: what the machine file says, else what the takes tell. */
import type { Machine } from '../machine/machine.ts';
import { fitEffects, type Assumptions, type EffectsFit } from './fit.ts';

/**
 * Where the machine does not say how exactly parts go back, these are tried and their variances averaged, each weighing
 * as likely as it makes the takes, times a log-normal prior about 0.2 ms. Common practice, no source.
 */
const REFITS_MS = [0, 0.05, 0.1, 0.2, 0.3, 0.45, 0.7, 1];
const USUAL_REFIT_MS = 0.2;

/** Standard deviation of each adjuster's refits as the file says, by adjuster, ms. */
export function usualRefits(machine: Machine, usualMs = USUAL_REFIT_MS): number[] {
  const { adjusters, refitMs } = machine.description;
  return adjusters.map((adjuster) => adjuster.refitMs ?? refitMs ?? usualMs);
}

/** What is odd about one change must not make all refits look bad before it was asked what happened: at most this, ms. */
export const MOST_AT_FIRST_MS = 0.45;

/** The same assumptions with refits as the takes tell them. @param mostMs of what is tried */
export function learnRefits(assumptions: Assumptions, mostMs = Infinity): Assumptions {
  const { machine, rounds } = assumptions;
  const told = usualRefits(machine, NaN);
  const changes = rounds
    .slice(1)
    .some(({ settings }, r) => settings.some((s, a) => s !== rounds[r].settings[a]));
  if (!told.some(Number.isNaN) || !changes) return { ...assumptions, refitMs: usualRefits(machine) };
  const tried = REFITS_MS.filter((ms) => ms <= mostMs);
  const logs = tried.map((ms) => {
    const prior = -0.5 * Math.log(Math.max(ms, 0.02) / USUAL_REFIT_MS) ** 2;
    return fitEffects({ ...assumptions, refitMs: usualRefits(machine, ms) }).logLikelihood + prior;
  });
  const most = Math.max(...logs);
  const weights = logs.map((log) => Math.exp(log - most));
  const squares = weights.reduce((sum, weight, i) => sum + weight * tried[i] ** 2, 0);
  const refitMs = usualRefits(machine, Math.sqrt(squares / weights.reduce((a, b) => a + b)));
  return { ...assumptions, refitMs };
}

/**
 * Adjusters whose parts lie elsewhere than their settings say by more than the others': with play (hysteresis), shims that
 * give, a ring that slips. Each such one has a width of its own, so that no prediction of it promises too much.
 */
const WIDER = [1, 2, 4, 8];
/** Standard deviation of the logarithm of how much wider one is. No source. */
const WIDER_LOG_SD = 0.8;
/** Squares of its refits, on average, over what they should be: from here on it is asked. */
const SUSPECT = 1.8;
/** So many at most, the worst first: each is asked with fits of its own. */
const MOST_SUSPECTS = 4;

/** @param current the fit of these assumptions */
export function learnOwnRefits(assumptions: Assumptions, current: EffectsFit): Assumptions {
  const own = assumptions.machine.description.adjusters.map(({ refitMs }) => refitMs !== undefined);
  const suspects = assumptions.refitMs
    .flatMap((ms, a) => {
      const refits = current.unknowns.refits.filter(({ adjuster }) => adjuster === a);
      if (own[a] || refits.length < 2 || ms === 0) return [];
      const squares = refits.reduce(
        (sum, { at }) => sum + current.mean[at] ** 2 + current.covariance.get(at, at),
        0,
      );
      return [{ a, excess: squares / refits.length / ms ** 2 }];
    })
    .filter(({ excess }) => excess > SUSPECT)
    .sort((x, y) => y.excess - x.excess)
    .slice(0, MOST_SUSPECTS);
  return suspects.reduce((known, { a }) => {
    const widened = (by: number) => known.refitMs.map((ms, other) => (other === a ? by * ms : ms));
    const logs = WIDER.map(
      (by) =>
        fitEffects({ ...known, refitMs: widened(by) }).logLikelihood -
        0.5 * (Math.log(by) / WIDER_LOG_SD) ** 2,
    );
    const most = Math.max(...logs);
    const weights = logs.map((log) => Math.exp(log - most));
    const squares = weights.reduce((sum, weight, i) => sum + weight * WIDER[i] ** 2, 0);
    return { ...known, refitMs: widened(Math.sqrt(squares / weights.reduce((x, y) => x + y))) };
  }, assumptions);
}
