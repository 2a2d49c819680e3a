/** An experiment in one sentence. */
import { NORMAL_95 } from '../numbers/normal.ts';
import { withMinus } from '../words/minus.ts';
import { grouped } from '../numbers/grouped.ts';
import type { Advice } from '../results/results.ts';

type Told = Omit<NonNullable<Advice['experiment']>, 'message'>;

const MOST_NAMED = 3;

/**
 * @param isAll whether it is all that the plan changes
 * @param planned the plan's setting of the same adjuster: a page must not give one adjuster two settings in silence
 * @param isCut whether the plan takes longer than the work may: then only single changes are spoken of
 */
export function experimentWords(told: Told, isAll: boolean, isCut: boolean, planned: number): string {
  const { adjuster, unit, from, to, msPerUnit, ci95Ms, whole } = told;
  const known = `${msPerUnit.toFixed(2)} ± ${ci95Ms.toFixed(2)} ms a ${unit}`;
  const change = `${adjuster} ${withMinus(from)} → ${withMinus(to)} (${known})${insteadOf(told, planned)} would teach most`;
  const few = `What adjusters do is not known well enough to promise every group${isCut ? ' once all that helps is done' : ''}`;
  const before = isCut ? 'of' : `${allAtOnce(whole)}; of`;
  const fits = isCut ? 'that fit into the time and make' : 'that make';
  const single = isAll ? change : `${before} single changes ${fits} nothing worse, ${change}`;
  return `${few}: ${single}, ${outcome(told, isCut ? 'the whole work' : 'this plan')}.`;
}

function insteadOf({ from, to }: Told, planned: number): string {
  if (planned === to) return '';
  return planned === from
    ? ', which the plan leaves alone,'
    : `, alone and instead of the plan’s ${withMinus(from)} → ${withMinus(planned)},`;
}

/** Where no single change is worth a word; nothing where no take is known to settle anything. */
export function settlingWords(whole: NonNullable<Advice['settling']>): string[] {
  if (whole.turns === null) return [];
  const words = allAtOnce({ ...whole, teachesLess: false });
  return [`${words.charAt(0).toUpperCase()}${words.slice(1)}.`];
}

function allAtOnce({ turns, settled, unsure, teachesLess }: Told['whole']): string {
  if (teachesLess) return 'all changes at once would teach less, since what moves together is not told apart';
  if (turns === null)
    return 'no single take after all changes of this plan is sure to settle what is too unsure';
  const all = unsure === 1 ? 'the one that is too unsure' : `all ${unsure} that are too unsure`;
  const which = settled === unsure ? all : `${settled} of ${unsure} that are too unsure`;
  return `a take of ${turns} turns after all changes would settle ${which}`;
}

function outcome({ groups, turns }: Told, plan: string): string {
  const shown = turns === null ? groups : groups.filter(({ settled }) => settled);
  // Of the next take, which wanders too.
  const nextMs = (ci95Ms: number, wanderMs = 0) => Math.hypot(ci95Ms, NORMAL_95 * wanderMs).toFixed(1);
  const widest = shown.reduce((a, b) => (b.thenCi95Ms > a.thenCi95Ms ? b : a));
  const places = [...grouped(shown, ({ channel }) => channel)].map(
    ([channel, own]) => `${channel} (${own.map(({ sector }) => sector).join(', ')})`,
  );
  const more = places.length > MOST_NAMED ? ` and ${places.length - MOST_NAMED} more` : '';
  const named = places.slice(0, MOST_NAMED).join(', ') + more;
  const [then, now] = [widest.thenCi95Ms, widest.ci95Ms].map((ci95Ms) => nextMs(ci95Ms, widest.wanderMs));
  const widths = `to ±${then} ms${then === now ? '' : ` instead of ±${now} ms`}`;
  return turns === null
    ? `and a take like this one after it would foretell ${named} ${widths}, still too wide to promise ${plan}`
    : `and a take of ${turns} turns after it would settle ${named}, foretold ${widths}`;
}
