/** The one sentence of an advice, for people: nothing to do, do this, or out of reach and why. */
import type { Advice } from '../results.ts';
import { changedSinceTake, type Belief } from './belief.ts';
import type { Plan } from './plan.ts';

type Numbers = Pick<Advice, 'settings' | 'predicted' | 'worstBeforeMs' | 'worstAfterMs'>;

export function summarise(belief: Belief, plan: Plan, advice: Numbers): string {
  const sentence = [workDone(belief), outcome(belief, plan, advice), unproven(plan)]
    .filter((part) => part !== '')
    .join(' ');
  return sentence.charAt(0).toUpperCase() + sentence.slice(1);
}

function workDone(belief: Belief): string {
  const changes = belief.machine.description.adjusters.flatMap(({ id, installed }, a) =>
    changedSinceTake(belief, a) ? [`${id} ${belief.takeSettings[a]} → ${installed}`] : [],
  );
  return changes.length === 0 ? '' : `Counting in what was changed since the take (${changes.join(', ')}):`;
}

function outcome(belief: Belief, plan: Plan, { settings, predicted, worstAfterMs }: Numbers): string {
  const work = settings.length === 1 ? 'change 1 adjuster' : `change ${settings.length} adjusters`;
  const wide = predicted.filter((_, g) => belief.groups[g].ci95Ms > belief.groups[g].toleranceMs);
  if (plan.outcome === 'nothing-to-do')
    return wide.length === 0
      ? 'every group lies within tolerance: nothing to change.'
      : `nothing to change that this take can resolve; ${unresolved(wide)}.`;
  if (plan.outcome === 'within-tolerance')
    return `${work}; every group should come within tolerance, the worst mean at ${ms(worstAfterMs)}.`;
  const worst = predicted.reduce((a, b) => (Math.abs(b.afterMs ?? 0) > Math.abs(a.afterMs ?? 0) ? b : a));
  const where = `${worst.channel} in sector ${worst.sector} at ${signed(worst.afterMs)}`;
  return settings.length === 0
    ? `tolerance is out of reach and no change that this take can resolve brings it nearer: ${where}.`
    : `tolerance is out of reach of every allowed setting; ${work} for the least lateness, worst ${where}.`;
}

function unresolved(wide: Advice['predicted']): string {
  const widest = wide.reduce((a, b) => ((b.ci95Ms ?? 0) > (a.ci95Ms ?? 0) ? b : a));
  const more = wide.length > 1 ? ` and ${wide.length - 1} more` : '';
  return `${widest.channel} in sector ${widest.sector}${more} known only to ±${ms(widest.ci95Ms)}, wider than tolerance`;
}

function unproven({ proven, gap }: Plan): string {
  if (proven) return '';
  return gap === null
    ? 'The solver ran out of time: a better choice may exist.'
    : `The solver ran out of time: no choice is better by more than ${(100 * gap).toFixed(0)} %.`;
}

const ms = (value: number | null) => `${(value ?? 0).toFixed(1)} ms`;
const signed = (value: number | null) => `${(value ?? 0) > 0 ? '+' : ''}${ms(value)}`;
