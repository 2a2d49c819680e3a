/** Reports to give advice from: those on record, and takes analysed anew where they are due. */
import { InputProblem } from '../../analysis/input/problem.ts';
import type { Run } from '../../analysis/ports.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';
import type { JudgedTake } from '../files/freshness.ts';
import type { MachineFolder } from '../files/machine-folder.ts';
import type { Terminal } from './terminal.ts';

/**
 * A report of every take that can be used, oldest first; those that are missing, or made from something else than is there
 * now, are made anew. One that cannot be used is named and left out.
 *
 * @throws InputProblem where that is the newest take, without which advice would be of an earlier machine, or none is left
 */
export async function freshReports(
  machineFolder: MachineFolder,
  terminal: Terminal,
  signal: AbortSignal,
): Promise<EarlierReport[]> {
  const { judgedTakes, sayStanding } = await import('./takes-on-record.ts');
  const { root, shown } = machineFolder;
  const takes = await judgedTakes(machineFolder);
  const isDue = ({ fault, report, freshness }: JudgedTake) =>
    fault === null && (report === null || freshness?.state === 'stale');
  const due = takes.filter(isDue);
  const { settleTakes, usualWorkers } = await import('./several.ts');
  const results = await settleTakes(
    due.map((take) => {
      const what =
        takes.length === 1 ? take.shown : `${take.shown} (${takes.indexOf(take) + 1} of ${takes.length})`;
      const progress: Run['progress'] = (stage, fraction) => terminal.progress(what, stage, fraction);
      return { order: { root, shown, take: take.shown, plugins: [] }, progress };
    }),
    usualWorkers(due.length),
    signal,
  );
  const judged = takes.map((take): JudgedTake => {
    const result = isDue(take) ? results[due.indexOf(take)] : undefined;
    if (result === undefined) return take;
    if (result.status === 'fulfilled') return { ...take, report: result.value, freshness: null };
    const fault: unknown = result.reason;
    if (!(fault instanceof InputProblem)) throw fault;
    return { ...take, report: null, freshness: null, fault };
  });
  const used = judged.filter(({ report, freshness }) => report !== null && freshness?.state !== 'foreign');
  const [newest] = judged.slice(-1);
  const faults = judged.flatMap(({ fault }) => fault ?? []);
  if (faults.length > 0 && used.length === 0) throw faults[0];
  // Where nobody knows when it was recorded, nobody knows that it is the newest.
  if (newest?.fault && newest.recorded !== null) throw newest.fault;
  sayStanding(judged, terminal);
  return used.flatMap(({ report }) => report ?? []);
}
