/** What advise --apply records: settings in machine.jsonc, and in the changelog what was done. */
import { join } from 'node:path';
import type { Adjuster } from '../../analysis/machine/schema.ts';
import { insteadOf } from '../../analysis/nearest.ts';
import { InputProblem } from '../../analysis/problem.ts';
import type { Advice, Report } from '../../analysis/results.ts';
import type { MachineFolder } from '../files/machine-folder.ts';

/** Adjuster id → setting that was really fitted. */
export type Fitted = Readonly<Record<string, number>>;

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
    if (!/^[+-]?\d{1,15}$/.test(text))
      throw refuse(
        `"${text}" is no whole number of ${adjuster.unit}`,
        `write ${id}=N, such as ${id}=${adjuster.installed}`,
      );
    const setting = Number(text);
    if (setting < adjuster.min || setting > adjuster.max)
      throw refuse(
        `${setting} is outside ${adjuster.min} to ${adjuster.max}`,
        'correct the number, or the adjuster’s "min" and "max" in machine.jsonc',
      );
    if (fitted.has(id)) throw refuse(`"${id}" is given twice`, 'keep one of them');
    fitted.set(id, setting);
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
  newest: Report | null,
  advice: Advice,
  fitted: Fitted | null,
  signal: AbortSignal,
): Promise<string> {
  const { root, shown, machine, descriptionBytes } = machineFolder;
  const proposed = new Map(advice.settings.map(({ adjuster, proposed }) => [adjuster, proposed]));
  const after = (adjuster: Adjuster) =>
    (fitted === null ? proposed.get(adjuster.id) : fitted[adjuster.id]) ?? adjuster.installed;
  const rows = machine.description.adjusters
    .filter((adjuster) => proposed.has(adjuster.id) || after(adjuster) !== adjuster.installed)
    .map((adjuster) => ({
      adjuster: adjuster.id,
      unit: adjuster.unit,
      before: adjuster.installed,
      after: after(adjuster),
      proposed: proposed.get(adjuster.id) ?? null,
    }));
  const changed = rows.filter(({ before, after }) => before !== after);
  if (rows.length === 0) return 'Nothing to record: every setting is as machine.jsonc has it.';

  const { applySettings } = await import('../../analysis/machine/read.ts');
  const { addEntry } = await import('../../analysis/report/changelog.ts');
  const { renderApplied } = await import('../../analysis/report/entry.ts');
  const { asText } = await import('../files/read.ts');
  const { writeRetrying } = await import('../files/write.ts');
  const encoder = new TextEncoder();
  const followed = rows.every(({ after, proposed }) => after === proposed);
  const entry = renderApplied({
    date: localDate(new Date()),
    take: newest?.take ?? null,
    fitted: rows,
    foreseen: followed && newest !== null ? { ...newest, advice } : null,
  });
  const settings = Object.fromEntries(changed.map(({ adjuster, after }) => [adjuster, after]));
  const description = applySettings(asText(descriptionBytes, machine.file), settings, machine.file);
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
    ({ adjuster, before, after, unit }) => `${adjuster} ${before} → ${after} (${unit})`,
  );
  return changed.length === 0
    ? 'Recorded in CALIBRATION.md that nothing was changed.'
    : `Recorded in machine.jsonc and CALIBRATION.md: ${words.join(', ')}.\nRecord a take again to see what it did.`;
}

/** The day as the person's calendar has it, ISO 8601. */
function localDate(now: Date): string {
  const two = (value: number) => String(value).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}
