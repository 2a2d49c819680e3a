/**
 * Settings in machine.jsonc that nobody noted: a checkout, or an edit by hand, put them there. They may be true, and they
 * may be last year's; what is known is that the log and the newest take say otherwise.
 */
import { InputProblem } from '../input/problem.ts';
import type { Machine } from '../machine/machine.ts';
import { withMinus } from '../words/minus.ts';
import type { Advice, ReportHead } from '../results/results.ts';
import { fittedInLog } from './changelog.ts';
import { idStartsOf } from './entry.ts';

export interface Unnoted {
  readonly adjuster: string;
  /** As machine.jsonc has it. */
  readonly installed: number;
  /** As it was noted last. */
  readonly noted: number;
  /** Where: in the log, or as the setting of the newest take. */
  readonly by: 'log' | 'take';
}

/**
 * @param newest the newest analysed take; null where there is none
 * @param log    CALIBRATION.md, or null where there is none
 */
export function unnotedSettings(
  { description }: Machine,
  newest: Pick<ReportHead, 'take' | 'settings'> | null,
  log: string | null,
): Unnoted[] {
  const fitted = fittedInLog(
    log ?? '',
    description.adjusters.map(({ id }) => id),
  );
  // Work noted after an earlier take than the newest is in the newest take's settings.
  const since = newest === null ? null : idStartsOf(newest.take)[0];
  return description.adjusters.flatMap(({ id, installed }): Unnoted[] => {
    const row = fitted.get(id);
    const isLater = row !== undefined && (since === null || row.entry.split(' ', 1)[0] === since);
    const noted = isLater ? row.setting : newest?.settings[id];
    return noted === undefined || noted === installed
      ? []
      : [{ adjuster: id, installed, noted, by: isLater ? 'log' : 'take' }];
  });
}

/**
 * One line for the person.
 *
 * @param record what notes a setting, as the person would ask for it
 */
export function unnotedWords(
  { adjuster, installed, noted, by }: Unnoted,
  take: string | null,
  record: string,
): string {
  const where = by === 'log' ? 'CALIBRATION.md notes' : `take ${take ?? ''} was recorded with`;
  const missing = by === 'log' ? '' : ' and no change is noted since';
  return (
    `${adjuster}: machine.jsonc has ${withMinus(installed)}, but ${where} ${withMinus(noted)}${missing}; ` +
    `look which is fitted: ${record} if it is ${withMinus(installed)}, else correct machine.jsonc`
  );
}

/**
 * Why a proposal is not noted as done: it counts from settings that nobody noted, so "take out 1" may have left any number.
 *
 * @param file  machine.jsonc, as the person knows it
 * @param take  the newest
 * @param enter how the person says what is fitted now
 */
export function unnotedFault(
  file: string,
  unnoted: readonly Unnoted[],
  take: string | null,
  enter: string,
): InputProblem {
  const own = unnoted.length === 1 ? 'its setting' : 'their settings';
  return new InputProblem(
    file,
    namedIn(unnoted, take).join(', '),
    `no change is noted, and the proposal counts from ${own} in machine.jsonc, so nothing was recorded`,
    `look at the machine, then ${enter}; where nothing was done yet, correct machine.jsonc and ask for advice again`,
  );
}

/** "joint-AB 5 (take may was recorded with 3)" */
function namedIn(unnoted: readonly Unnoted[], take: string | null): string[] {
  return unnoted.map(({ adjuster, installed, noted, by }) => {
    const where = by === 'log' ? 'CALIBRATION.md notes' : `take ${take ?? ''} was recorded with`;
    return `${adjuster} ${withMinus(installed)} (${where} ${withMinus(noted)})`;
  });
}

/**
 * Advice with what is in doubt said before all else: it is reckoned from settings that nobody noted.
 *
 * @param take the newest
 */
export function withUnnoted(advice: Advice, unnoted: readonly Unnoted[], take: string | null): Advice {
  if (unnoted.length === 0) return advice;
  const named = namedIn(unnoted, take);
  const those = unnoted.length === 1 ? 'that is' : 'those are';
  const doubt = `In doubt before anything else: machine.jsonc has ${named.join(', ')}, and no change to ${unnoted.length === 1 ? 'it' : 'them'} is noted; all that follows holds only if ${those} fitted, so look first.`;
  return { ...advice, unnoted: unnoted.map((each) => ({ ...each })), summary: `${doubt} ${advice.summary}` };
}
