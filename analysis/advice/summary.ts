/** The one sentence of an advice, for people: nothing to do, do this, or out of reach and why. */
import { isLarge } from './ask.ts';
import { signedMs } from '../words/names.ts';
import { grouped } from '../numbers/grouped.ts';
import { withMinus } from '../words/minus.ts';
import type { Advice } from '../results/results.ts';
import { changedSinceTake, type Belief } from './belief.ts';
import type { Plan } from './plan.ts';
import type { Risk } from './leaving.ts';
import { surely } from './sure.ts';

type Numbers = Pick<
  Advice,
  | 'settings'
  | 'predicted'
  | 'worstBeforeMs'
  | 'worstAfterMs'
  | 'step'
  | 'doubts'
  | 'unheard'
  | 'unmeasured'
  | 'copies'
  | 'newest'
  | 'setAside'
> & {
  readonly obstacles: NonNullable<Advice['obstacles']>;
  readonly turnsToResolve: number | null;
  /** Whether another tune than the newest take's is not as it should be. */
  readonly othersOut: boolean;
  /** Tunes of which a take has to tell where they stand. */
  readonly toRecord: readonly string[];
  /** Whether tunes ask for different settings. */
  readonly isConflict: boolean;
  /** Whether more time would bring more. */
  readonly isCut: boolean;
  /** Whether a mean within tolerance lies too near its edge to be promised. */
  readonly isAtEdge?: boolean;
  /** Of the groups that surely lie within tolerance. */
  readonly risk: Risk;
  /** Whether all that is in tolerance stays there. */
  readonly isKept: boolean;
  /** Whether less lateness would take something out of it. */
  readonly isHeldBack: boolean;
  /** What pins of one tune put out of tolerance that moved alone, or may have: then which tunes have to be recorded. */
  readonly movedPins: readonly { readonly where: string; readonly toRecord: readonly string[] }[];
  /** Groups of all tunes and tempi that were planned for; absent where those of the take are all. */
  readonly planned?: Belief;
  /** The group that the plan leaves farthest off, of all tunes. */
  readonly worst: { readonly where: string; readonly meanMs: number; readonly isOut?: boolean };
};

export function summarise(belief: Belief, plan: Plan, advice: Numbers): string {
  const sentence = [workDone(belief), outcome(belief, plan, advice), unproven(belief, plan, advice)]
    .filter((part) => part !== '')
    .join(' ');
  return [
    notHeard(advice),
    ...notMeasured(advice),
    copied(advice),
    sentence,
    atRisk(advice),
    ...notSettled(advice),
    aside(belief, advice),
    whichIsNewest(advice),
  ]
    .filter((part) => part !== '')
    .map((part) => part.charAt(0).toUpperCase() + part.slice(1))
    .join(' ');
}

const MOST_NAMED = 5;

function named(ids: readonly string[]): string {
  const more = ids.length > MOST_NAMED ? ` and ${ids.length - MOST_NAMED} more` : '';
  return ids.slice(0, MOST_NAMED).join(', ') + more;
}

/** First of all: nothing below it speaks of them. */
function notHeard({ unheard = [] }: Numbers): string {
  if (unheard.length === 0) return '';
  const ids = named(unheard.map(({ channel }) => channel));
  return unheard.length === 1
    ? `${ids} could not be measured; do not dismantle for it yet.`
    : `${unheard.length} channels could not be measured (${ids}); do not dismantle for them yet.`;
}

/** One sentence a sector and reason. */
function notMeasured({ unmeasured = [] }: Numbers): string[] {
  return [...grouped(unmeasured, ({ sector, why }) => `${sector} ${why}`).values()].map((own) => {
    const { sector, why } = own[0];
    const channels = named(own.map(({ channel }) => channel));
    return `What sector ${sector} shows of ${channels} cannot be relied on (${why}); do not dismantle for it yet.`;
  });
}

/** Whether there are groups of which the take says nothing: then no sentence may speak of every group. */
function isPartial({ unheard = [], unmeasured = [] }: Numbers): boolean {
  return unheard.length + unmeasured.length > 0;
}

function copied({ copies = [] }: Numbers): string {
  const which = copies.map(({ take, of }) => `take ${take} holds the same recording as take ${of}`);
  return which.length === 0 ? '' : `${named(which)}: nothing is learnt from it, and nothing judged by it.`;
}

/** What is not settled: why adjusters are left alone, and the test that would tell. */
function notSettled({ doubts = [] }: Numbers): string[] {
  return doubts.filter(({ adjusters }) => adjusters.length > 0).map(({ message }) => `${message}.`);
}

/** A change whose effects no take has shown yet may do more or less than geometry says to what stands right. */
function atRisk({ settings, risk: { sure, mayLeave } }: Numbers): string {
  if (settings.length === 0 || mayLeave === 0) return '';
  const which =
    sure === 1
      ? 'The one mean that surely lies within tolerance now may leave it'
      : `Of ${sure} means that surely lie within tolerance now, ${mayLeave} may leave it`;
  return `${which}: how far these adjusters move ${mayLeave === 1 ? 'it' : 'them'} is not known well enough, and a take after the change shows it.`;
}

function aside({ machine }: Belief, { setAside = [] }: Numbers): string {
  if (setAside.length === 0) return '';
  const atEach = machine.description.tempi === undefined ? '' : ' at every tempo';
  const groups = named(setAside.map(({ channel, sector }) => `${channel} in sector ${sector}`));
  return `No setting brings ${groups} within tolerance${atEach} together with the rest: all else is tuned as if ${setAside.length === 1 ? 'it were' : 'they were'} not there.`;
}

function whichIsNewest({ newest }: Numbers): string {
  return newest === undefined ? '' : `Take ${newest.take} is taken as the newest: ${newest.why}.`;
}

function workDone(belief: Belief): string {
  const changes = belief.machine.description.adjusters.flatMap(({ id, installed }, a) =>
    changedSinceTake(belief, a)
      ? [`${id} ${withMinus(belief.takeSettings[a])} → ${withMinus(installed)}`]
      : [],
  );
  return changes.length === 0 ? '' : `Counting in what was changed since the take (${changes.join(', ')}):`;
}

function outcome(belief: Belief, plan: Plan, advice: Numbers): string {
  const { settings, worstAfterMs } = advice;
  const work = settings.length === 1 ? 'change 1 adjuster' : `change ${settings.length} adjusters`;
  const where = `${advice.worst.where} at ${signed(advice.worst.meanMs)}`;
  const left = advice.movedPins.find((one) => one.where === advice.worst.where);
  const isLeft =
    left === undefined || left.toRecord.length === 0
      ? 'nothing is changed for pins of one tune that moved alone'
      : `nothing is changed for what moved before ${left.toRecord.join(', ')} ${left.toRecord.length === 1 ? 'is' : 'are'} recorded again`;
  if (settings.length === 0 && left !== undefined && !isPartial(advice)) return `${isLeft}: ${where}.`;
  if (settings.length === 0 && wide(belief, advice).length === 0 && !isPartial(advice)) {
    const own = 'every group of this tune lies within tolerance';
    if (advice.othersOut && advice.worst.isOut !== false)
      return `${own}, and not every one of another; ${advice.isConflict ? `no change helps it that is sure to keep all others: ${where}` : 'no change that helps it is known'}.`;
    if (advice.toRecord.length > 0)
      return `${own}; before anything is changed for ${advice.toRecord.join(', ')}, record a take of ${advice.toRecord.length === 1 ? 'it' : 'each'}.`;
  }
  switch (advice.step) {
    case 'good-enough':
      return `every group lies within tolerance${byEarlier(belief)}: nothing to change.`;
    case 'not-resolvable':
      if (isPartial(advice)) return ofTheMeasured(belief, advice);
      if (wide(belief, advice).length === 0)
        return `every mean lies within tolerance, ${where}, too near its edge for these takes to be sure: nothing to change.`;
      return isForetold(belief, advice)
        ? `nothing to change before a take shows what was done; ${unresolved(belief, advice)}.`
        : `nothing to change that this take can resolve; ${unresolved(belief, advice)}.`;
    case 'out-of-reach':
      if (advice.isCut) return `no change that helps fits into the time: ${where}.`;
      return advice.isConflict
        ? `no change brings one tune nearer to tolerance and is sure to keep all others: ${where}.`
        : `no change that ${advice.isHeldBack ? 'takes no mean out of tolerance' : 'this take can resolve'} brings the worst nearer to ${advice.isHeldBack ? 'it' : 'tolerance'}: ${where}.`;
    case 'change':
    case undefined:
      if (plan.outcome === 'within-tolerance')
        // Of what is set aside a sentence of its own says that nothing brings it in.
        return (advice.setAside ?? []).length > 0
          ? `${work}; the rest should come within tolerance.`
          : `${work}; ${isPartial(advice) ? 'what was measured' : 'every group'} should come within tolerance, the worst mean at ${ms(worstAfterMs)}.`;
      if (advice.isConflict)
        return `${work} for the least lateness over all tunes${advice.isKept ? ' that takes no mean out of tolerance' : ''}; no setting brings all tunes within it together, worst ${where}.`;
      if (left !== undefined) return `${work} for the rest; ${isLeft}: ${where}.`;
      // Time stands in the way, not what is known: what it allows is said behind it.
      if (advice.isCut) return `${work}; the worst mean should come to ${ms(worstAfterMs)}.`;
      if (advice.obstacles.length === 0 && advice.worst.isOut === true)
        return `${work} for the least lateness as far as it is sure, worst ${where}; settings that bring every mean within tolerance leave others too near its edge to be sure of: record a take afterwards.`;
      if (advice.obstacles.length === 0 && advice.isAtEdge === true && advice.worst.isOut !== true)
        return `${work}; every mean${isPartial(advice) ? ' that was measured' : ''} should come within tolerance, the worst ${where}, too near its edge to be promised: record a take afterwards.`;
      return advice.obstacles.length > 0
        ? `${work} for the least lateness${advice.isHeldBack ? ' that takes no mean out of tolerance' : ''}; tolerance is out of reach of every allowed setting, worst ${where}.`
        : `${work}; the worst mean should come to ${ms(worstAfterMs)}, but what the adjusters do is not known well enough to promise tolerance: record a take afterwards.`;
  }
}

/** No change is proposed, and not all was measured. */
function ofTheMeasured(belief: Belief, advice: Numbers): string {
  if (belief.groups.every(({ channel }) => channel === belief.machine.reference))
    return 'nothing but the reference was measured: leave the settings, and record another take.';
  const which =
    wide(belief, advice).length > 0
      ? `no change to the rest that this take can resolve; ${unresolved(belief, advice)}`
      : `the rest lies within tolerance${byEarlier(belief)}`;
  return `${which}: leave the settings, and record another take before all is called well.`;
}

/** Where the newest take alone is not so sure, it must be said what is. */
function byEarlier({ groups, rounds }: Belief): string {
  const unsure = groups.some(
    ({ measuredMs, measuredCi95Ms, toleranceMs }) =>
      surely(measuredMs, measuredCi95Ms, toleranceMs) !== 'within',
  );
  return unsure && rounds.length > 1 ? ', the takes before this one counted in' : '';
}

/** Groups whose intervals reach beyond tolerance. */
function wide(belief: Belief, { predicted }: Numbers): Advice['predicted'] {
  return predicted.filter(({ afterMs, ci95Ms }, g) => {
    const { toleranceMs } = belief.groups[g];
    return Math.abs(afterMs ?? 0) + (ci95Ms ?? 0) > toleranceMs;
  });
}

/** Of those the one that is known least. */
function widestOf(out: Advice['predicted']): Advice['predicted'][number] {
  return out.reduce((a, b) => ((b.ci95Ms ?? 0) > (a.ci95Ms ?? 0) ? b : a));
}

/** Whether it is work since the take that leaves the widest interval so wide: no longer take of before would tell. */
function isForetold(belief: Belief, advice: Numbers): boolean {
  const g = advice.predicted.indexOf(widestOf(wide(belief, advice)));
  return belief.share[g].some((share, a) => share !== 0 && changedSinceTake(belief, a));
}

function unresolved(belief: Belief, advice: Numbers): string {
  const { turnsToResolve } = advice;
  const out = wide(belief, advice);
  const widest = widestOf(out);
  const isTold = !isForetold(belief, advice);
  const more = out.length > 1 ? ` and ${out.length - 1} more` : '';
  const turns = turnsToResolve === null ? '' : `, and a take of ${turnsToResolve} turns would tell`;
  return `${widest.channel} in sector ${widest.sector}${more} ${isTold ? 'known' : 'foretold'} only to ±${ms(widest.ci95Ms)}${turns}`;
}

/** A plan that is proven to be so near to the best is as good as it: the machine is known less well than that. */
const AS_GOOD = 0.01;

/**
 * How sure it is that nothing is better; nothing where it is proven, or all but. The size of the gap is left out: it
 * mixes lateness with the work of changing, and says nothing of either.
 */
function unproven(belief: Belief, { proven, gap }: Plan, { settings, planned = belief }: Numbers): string {
  if (proven || (gap !== null && gap < AS_GOOD)) return '';
  const { adjusters } = belief.machine.description;
  const size = `${planned.groups.length} groups by ${adjusters.length} adjusters`;
  const why = isLarge(planned) ? `, as ${size} are too many for a proof` : '';
  return settings.length === 0
    ? `That no change helps was found by search; it is not proven${why}.`
    : `The settings were found by search; they are not proven the best${why}.`;
}

const ms = (value: number | null) => `${(value ?? 0).toFixed(1)} ms`;
const signed = (value: number | null) => `${signedMs(value ?? 0, 1)} ms`;
