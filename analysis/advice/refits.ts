/** How exactly parts go back when they are taken off: what the machine file says, else what the takes tell. */
import type { Machine } from '../machine/machine.ts';
import { fit, type Assumptions } from './fit.ts';

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
    return fit({ ...assumptions, refitMs: usualRefits(machine, ms) }).logLikelihood + prior;
  });
  const most = Math.max(...logs);
  const weights = logs.map((log) => Math.exp(log - most));
  const squares = weights.reduce((sum, weight, i) => sum + weight * tried[i] ** 2, 0);
  const refitMs = usualRefits(machine, Math.sqrt(squares / weights.reduce((a, b) => a + b)));
  return { ...assumptions, refitMs };
}
