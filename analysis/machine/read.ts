/**
 * Reads a machine: machine.jsonc with its pattern beside it. Every fault is one InputProblem that names the place and
 * the mend. A setting outside its limits is not a fault of the file: the check `out-of-range` tells of it.
 */
import { applyEdits, findNodeAtLocation, type Edit } from 'jsonc-parser';
import { looseValue, parse, readJsonc, withoutMark, type Checked, type Path } from '../input/jsonc.ts';
import { insteadOf } from '../input/nearest.ts';
import { checkTogether } from './cross-checks.ts';
import type { Machine, Pin, Tune } from './machine.ts';
import { readPattern } from './pattern.ts';
import { withTargets } from './target.ts';
import { machineSchema, type MachineDescription } from './schema.ts';

/**
 * @param file path of machine.jsonc as the person knows it
 * @param text its contents, a byte order mark allowed
 * @param readFile reads a file of the machine's folder by the name that "pattern" gives, which never leads out of it;
 *   a failure that has a `code`, as those of file systems have, becomes an InputProblem
 * @throws InputProblem
 */
export async function readMachine(
  file: string,
  text: string,
  readFile: (name: string) => Promise<Uint8Array>,
): Promise<Machine> {
  const checked = readJsonc(file, text, machineSchema);
  checkTogether(checked);
  const description = checked.value;
  const reference = description.channels.findIndex((channel) => channel.id === description.reference);
  const read = async (pattern: string, path: Path) => {
    const bytes = await readFile(pattern).catch((error: unknown) => {
      throw unreadable(checked, error, { pattern, path });
    });
    const patternFile = file.replace(/[^/\\]*$/, pattern);
    const own = readPattern(patternFile, bytes, description, checked.problem);
    const pins = withTargets(own, description, patternFile);
    refuseSilentReference(checked, pins, { reference, pattern });
    return { pattern, patternFile, pins };
  };
  const { patterns } = description;
  if (patterns === undefined) {
    const { patternFile, pins } = await read(description.pattern, ['pattern']);
    return { description, file, patternFile, pins, reference };
  }
  refuseBoth(checked, text);
  const tunes: Tune[] = [];
  for (const [name, pattern] of Object.entries(patterns))
    tunes.push({ name, ...(await read(pattern, ['patterns', name])) });
  const [{ name, pattern, patternFile, pins }] = tunes;
  return { description: { ...description, pattern }, file, patternFile, pins, tune: name, tunes, reference };
}

function refuseBoth({ problem }: Checked<MachineDescription>, text: string): void {
  const root = looseValue(text);
  if (typeof root !== 'object' || root === null || !('pattern' in root)) return;
  throw problem(['pattern'], 'it is there beside "patterns"', 'keep one of the two');
}

function unreadable(
  { problem }: Checked<MachineDescription>,
  error: unknown,
  { pattern, path }: { readonly pattern: string; readonly path: Path },
): unknown {
  if (!(error instanceof Error) || !('code' in error)) return error;
  return problem(
    path,
    error.code === 'ENOENT'
      ? `"${pattern}" is not there`
      : `"${pattern}" cannot be read (${String(error.code)})`,
    'put the pattern beside this file, or correct its name',
  );
}

function refuseSilentReference(
  { value, problem }: Checked<MachineDescription>,
  pins: readonly Pin[],
  { reference, pattern }: { readonly reference: number; readonly pattern: string },
): void {
  if (pins.some((pin) => pin.channel === reference)) return;
  throw problem(
    ['reference'],
    `"${value.reference}" has no pins in ${pattern}`,
    'add its pins there, at the steps where it is due, or take another reference',
  );
}

/**
 * Puts settings into the text of a machine.jsonc: only the numbers after "installed" change, and the pieces after "stack" where
 * they are given; every other byte stays.
 *
 * @param settings adjuster id → setting, whole units
 * @param stacks   adjuster id → pieces now fitted, mm; of adjusters that are among `settings`
 * @throws InputProblem where the text is no machine, or has no such adjuster
 */
export function applySettings(
  text: string,
  settings: Readonly<Record<string, number>>,
  file = 'machine.jsonc',
  stacks: Readonly<Record<string, readonly number[]>> = {},
): string {
  const { value, problem } = readJsonc(file, text, machineSchema);
  const body = withoutMark(text);
  const root = parse(file, body);
  const ids = value.adjusters.map((adjuster) => adjuster.id);
  const edits = Object.entries(settings).flatMap(([id, setting]): Edit[] => {
    if (!ids.includes(id)) throw problem(['adjusters'], `there is no adjuster "${id}"`, insteadOf(id, ids));
    const adjuster = ['adjusters', ids.indexOf(id)];
    const path = [...adjuster, 'installed'];
    if (!Number.isSafeInteger(setting)) {
      throw problem(path, `${setting} is not a setting`, 'settings are whole units');
    }
    const { offset, length } = findNodeAtLocation(root, path)!;
    const stack = id in stacks ? `[${stacks[id].join(', ')}]` : null;
    const old = findNodeAtLocation(root, [...adjuster, 'stack']);
    if (stack === null) return [{ offset, length, content: String(setting) }];
    if (old === undefined) return [{ offset, length, content: `${setting}, "stack": ${stack}` }];
    return [
      { offset, length, content: String(setting) },
      { offset: old.offset, length: old.length, content: stack },
    ];
  });
  return text.slice(0, text.length - body.length) + applyEdits(body, edits);
}
