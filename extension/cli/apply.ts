/** What advise --apply records: settings in machine.jsonc, and in the changelog what was done. */
import { asText } from '../common/utf8.ts';
import { join } from 'node:path';
import { withMinus } from '../../analysis/words/minus.ts';
import { insteadOf } from '../../analysis/input/nearest.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import type { Advice, EarlierReport } from '../../analysis/results/results.ts';
import type { MachineFolder } from '../files/machine-folder.ts';
import type { Unnoted } from '../../analysis/report/unnoted.ts';
import { faultOfSetting, type Fitted } from '../common/fitted.ts';
import type { Terminal } from './terminal.ts';

/**
 * Reads "joint-AB=4".
 *
 * @throws InputProblem where there is no such adjuster, or the setting is no whole number from its min to its max
 */
export function readFitted({ machine }: MachineFolder, pairs: readonly string[]): Fitted {
  const { adjusters } = machine.description;
  const fitted = new Map<string, number>();
  for (const pair of pairs) {
    const at = pair.indexOf('=');
    const [id, text] = [pair.slice(0, at), pair.slice(at + 1).trim()];
    const refuse = (what: string, mend: string) => new InputProblem(machine.file, pair, what, mend);
    const adjuster = adjusters.find((each) => each.id === id);
    if (adjuster === undefined)
      throw refuse(
        `there is no adjuster "${id}"`,
        insteadOf(
          id,
          adjusters.map((each) => each.id),
        ),
      );
    const fault = faultOfSetting(adjuster, text);
    if (fault !== null) throw refuse(...fault);
    if (fitted.has(id)) throw refuse(`"${id}" is given twice`, 'keep one of them');
    fitted.set(id, Number(text));
  }
  return Object.fromEntries(fitted);
}

/**
 * Records the work as done.
 *
 * @param fitted what was really fitted; null where the proposal was followed
 * @returns a sentence for the person
 * @throws InputProblem where a file cannot be written, or machine.jsonc was changed since it was read; nothing is
 *         written then
 */
export async function applyWork(
  machineFolder: MachineFolder,
  newest: EarlierReport | null,
  advice: Advice,
  fitted: Fitted | null,
  signal: AbortSignal,
): Promise<string> {
  const { root, shown, machine, descriptionBytes } = machineFolder;
  const { workDone } = await import('../common/work-done.ts');
  const text = asText(descriptionBytes, machine.file);
  const unnoted = await unnotedIn(machineFolder, newest);
  const enter = (adjusters: readonly string[]) =>
    `name what is fitted now: shimwright advise ${shown} --apply ${adjusters.map((id) => `${id}=N`).join(' ')}`;
  const done = workDone({ machine, text, newest, advice, unnoted, enter }, fitted, new Date());
  if (done === null) return 'Nothing to record: every setting is as machine.jsonc has it.';
  const { changed, description, entry, isAsPlanned } = done;
  const { addEntry } = await import('../../analysis/report/changelog.ts');
  const { writeRetrying } = await import('../files/write.ts');
  const encoder = new TextEncoder();
  const changelog = join(root, 'CALIBRATION.md');
  await writeRetrying(
    root,
    changelog,
    (before) => {
      const shownLog = join(shown, 'CALIBRATION.md');
      const added = addEntry(before === null ? null : asText(before, shownLog), entry);
      // The log first: were the machine's file alone to change, nobody would know why.
      return [
        { path: changelog, before, bytes: encoder.encode(added) },
        {
          path: join(root, 'machine.jsonc'),
          before: descriptionBytes,
          bytes: changed.length === 0 ? descriptionBytes : encoder.encode(description),
        },
      ];
    },
    signal,
  );
  const words = changed.map(
    ({ adjuster, before, after, unit }) => `${adjuster} ${withMinus(before)} → ${withMinus(after)} (${unit})`,
  );
  if (changed.length === 0) return 'Recorded in CALIBRATION.md that nothing was changed.';
  const { drawerAfter } = await import('../../analysis/report/work-words.ts');
  return [
    `Recorded in machine.jsonc and CALIBRATION.md: ${words.join(', ')}.`,
    drawerAfter(advice.stock, isAsPlanned),
    'Record a take again to see what it did.',
  ]
    .filter((line) => line !== null)
    .join('\n');
}

/** Settings in machine.jsonc that differ from what the log and the newest take say. */
export async function unnotedIn(
  { root, shown, machine }: MachineFolder,
  newest: EarlierReport | null,
): Promise<Unnoted[]> {
  const { readInside } = await import('../files/read.ts');
  const { unnotedSettings } = await import('../../analysis/report/unnoted.ts');
  const file = join(shown, 'CALIBRATION.md');
  const bytes = await readInside(root, join(root, 'CALIBRATION.md'), file);
  return unnotedSettings(machine, newest, bytes && asText(bytes, file));
}

/**
 * Says of each such setting what is known.
 *
 * @param settled adjusters that the person has just named
 */
export async function sayUnnoted(
  machineFolder: MachineFolder,
  newest: EarlierReport | null,
  terminal: Terminal,
  settled: Fitted = {},
): Promise<void> {
  const { unnotedWords } = await import('../../analysis/report/unnoted.ts');
  for (const each of await unnotedIn(machineFolder, newest)) {
    if (settled[each.adjuster] !== undefined) continue;
    const record = `shimwright advise ${machineFolder.shown} --apply ${each.adjuster}=${each.installed}`;
    terminal.note(unnotedWords(each, newest?.take ?? null, record));
  }
}
