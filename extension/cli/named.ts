/** The one machine or take that the words behind a command name. */
import { InputProblem } from '../../analysis/input/problem.ts';
import type { Report } from '../../analysis/results/results.ts';
import type { MachineFolder, Place, TakeFolder } from '../files/machine-folder.ts';
import { mistake, type Command, type Given } from './command.ts';
import { mendAndTell } from './mend.ts';
import type { Terminal } from './terminal.ts';

export interface TakeNamed extends Place {
  /** As the person typed it. */
  readonly path: string;
  readonly take: TakeFolder;
}

/**
 * The machine, after what a killed run left half done in its folder was put right.
 *
 * @param example a whole command, for who named none
 * @throws InputProblem where none or several are named, or the machine cannot be used
 */
export async function machineNamed(
  command: Command,
  given: Given,
  terminal: Terminal,
  example: string,
): Promise<{ readonly path: string; readonly machineFolder: MachineFolder }> {
  const [path, ...more] = given.paths;
  if (path === undefined) throw mistake(command, 'no machine was named', `give its folder: ${example}`);
  if (more.length > 0) throw mistake(command, `one machine at a time, and ${more.length + 1} were named`);
  const { locate, readMachineFolder } = await import('../files/machine-folder.ts');
  const { root, shownRoot } = await locate(path);
  await mendAndTell(root, terminal);
  return { path, machineFolder: await readMachineFolder(root, shownRoot) };
}

/** @throws InputProblem where none or several are named, or what is named is no take */
export async function takeNamed(command: Command, given: Given, example: string): Promise<TakeNamed> {
  const [path, ...more] = given.paths;
  if (path === undefined) throw mistake(command, 'no take was named', `give the take’s folder: ${example}`);
  if (more.length > 0) throw mistake(command, `one take at a time, and ${more.length + 1} were named`);
  const { locate } = await import('../files/machine-folder.ts');
  const place = await locate(path);
  if (place.take === null)
    throw new InputProblem(path, '', 'is the machine’s folder', 'name one of its takes');
  return { ...place, path, take: place.take };
}

/** With its report. @throws InputProblem as takeNamed, and where it was not analysed */
export async function analysedTakeNamed(
  command: Command,
  given: Given,
  example: string,
): Promise<TakeNamed & { readonly report: Report }> {
  const named = await takeNamed(command, given, example);
  const { readReport } = await import('../files/report-file.ts');
  const report = await readReport(named.root, named.take.folder, named.take.shown);
  if (report !== null) return { ...named, report };
  const { shown } = named.take;
  throw new InputProblem(shown, '', 'was not analysed yet', `shimwright analyze ${shown}`);
}
