/** The takes that a command goes by, with a line for each that is left out or is not as its report was made. */
import { freshnessWords } from '../../analysis/report/freshness.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';
import type { JudgedTake } from '../files/freshness.ts';
import type { MachineFolder } from '../files/machine-folder.ts';
import type { Terminal } from './terminal.ts';

/** Every take of a machine, oldest first, with how its report stands. */
export async function judgedTakes(machineFolder: MachineFolder): Promise<JudgedTake[]> {
  const { listTakes } = await import('../files/machine-folder.ts');
  const { judgeTakes } = await import('../files/freshness.ts');
  const { root, shown } = machineFolder;
  return judgeTakes(machineFolder, await listTakes(root, shown));
}

/** Reports as they are, oldest first, for commands that analyse nothing; says of each that is not up to date why. */
export async function reportsOnRecord(
  machineFolder: MachineFolder,
  terminal: Terminal,
): Promise<EarlierReport[]> {
  const takes = await judgedTakes(machineFolder);
  sayStanding(takes, terminal);
  return takes.flatMap(({ report, freshness }) =>
    report === null || freshness?.state === 'foreign' ? [] : [report],
  );
}

/** One line for all whose recordings are elsewhere, since that is usual after a clone; one for each other. */
export function sayStanding(takes: readonly JudgedTake[], terminal: Terminal): void {
  const unheard = takes.filter(
    ({ freshness }) => freshness?.state === 'current' && freshness.missing.length > 0,
  );
  if (unheard.length > 1)
    terminal.note(
      `${unheard.length} of ${takes.length} takes: their recordings are not here; their reports are used`,
    );
  for (const take of takes) {
    const { fault, freshness, shown } = take;
    if (fault !== null) terminal.note(`${fault.message}; the take is left out`);
    if (freshness === null || (unheard.length > 1 && unheard.includes(take))) continue;
    const words = freshnessWords(freshness, `run shimwright analyze ${shown}`);
    if (words !== null) terminal.note(`${shown}: ${words}`);
  }
}
