/** take.jsonc: its shape by the schema, and here what needs the machine or the folder's other files to check. */
import { readJsonc, type Checked } from '../input/jsonc.ts';
import type { Machine, Tune } from '../machine/machine.ts';
import { insteadOf } from '../input/nearest.ts';
import type { SourceFile } from '../ports.ts';
import { InputProblem } from '../input/problem.ts';
import { meaningOf } from './markers/meaning.ts';
import { takeSchema, type TakeDescription } from './schema.ts';

export const takeFileName = 'take.jsonc';

/** A take.jsonc is a page of text; one longer than this is something else under its name. */
const maxBytes = 4 * 2 ** 20;

export type CheckedDescription = Checked<TakeDescription>;

/**
 * @param tuneBefore tune that is known of the take where the file does not say it
 * @returns null where the folder has no take.jsonc
 * @throws InputProblem with line, column and path
 */
export async function readDescription(
  files: readonly SourceFile[],
  machine: Machine,
  tuneBefore: string | null = null,
): Promise<CheckedDescription | null> {
  const file = files.find((file) => file.name === takeFileName);
  if (!file) {
    if (machine.tunes !== undefined && tuneBefore === null) throw tuneNotSaid(machine.tunes);
    return null;
  }
  if (file.sizeBytes > maxBytes) {
    throw new InputProblem(
      takeFileName,
      '',
      'the file is longer than 4 MiB',
      'keep only what describes the take',
    );
  }
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(await file.read());
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    throw new InputProblem(takeFileName, '', 'the text is not UTF-8', 'save it again as UTF-8');
  }
  const checked = readJsonc(takeFileName, text, takeSchema);
  checkTune(checked, machine, tuneBefore);
  checkTracks(checked, files, machine);
  checkLabels(checked, machine);
  checkNumbers(checked, machine);
  checkWorked(checked, machine);
  return checked;
}

/** Which tune was recorded is not guessed: pins of another tune may fit a take well enough to mislead. */
function checkTune(
  { value, problem }: CheckedDescription,
  { tunes }: Machine,
  tuneBefore: string | null,
): void {
  const { tune } = value;
  if (tunes === undefined) {
    if (tune === undefined) return;
    throw problem(
      ['tune'],
      'machine.jsonc has one pattern and no tunes',
      'remove "tune", or name the tunes there: "patterns": { "march": "march.csv" }',
    );
  }
  if (tune === undefined) {
    if (tuneBefore !== null) return;
    throw tuneNotSaid(tunes);
  }
  const names = tunes.map(({ name }) => name);
  if (!names.includes(tune))
    throw problem(['tune'], `there is no tune ${JSON.stringify(tune)}`, insteadOf(tune, names));
}

function tuneNotSaid(tunes: readonly Tune[]): InputProblem {
  const names = tunes.map(({ name }) => JSON.stringify(name));
  const others = names.length > 1 ? ` (or ${names.slice(1).join(', ')})` : '';
  return new InputProblem(
    takeFileName,
    'tune',
    'the machine has several tunes, and which was recorded is not said',
    `write "tune": ${names[0]}${others} into it`,
  );
}

function checkTracks(
  { value, problem }: CheckedDescription,
  files: readonly SourceFile[],
  { description }: Machine,
): void {
  const names = files.map((file) => file.name).filter((name) => name !== takeFileName);
  const ids = description.channels.map((channel) => channel.id);
  const seen = new Set<string>();
  (value.tracks ?? []).forEach(({ file, track, channels }, i) => {
    if (/[/\\]/.test(file) || file === '..' || file === '.') {
      const what = `${JSON.stringify(file)} leads out of the take's folder`;
      throw problem(['tracks', i, 'file'], what, 'put the file here and write its name alone');
    }
    if (!names.includes(file)) {
      const what = `there is no file ${JSON.stringify(file)} in the take's folder`;
      throw problem(['tracks', i, 'file'], what, insteadOf(file, names));
    }
    if (seen.has(`${track} ${file}`)) {
      const what = `track ${track} of ${file} is there already`;
      throw problem(['tracks', i], what, 'name all its channels in one entry');
    }
    seen.add(`${track} ${file}`);
    channels.forEach((channel, c) => {
      const path = ['tracks', i, 'channels', c];
      if (!ids.includes(channel)) {
        throw problem(path, `there is no channel ${JSON.stringify(channel)}`, insteadOf(channel, ids));
      }
      if (channels.indexOf(channel) < c) throw problem(path, `"${channel}" is there twice`, 'remove one');
    });
  });
}

function checkWorked({ value, problem }: CheckedDescription, { description }: Machine): void {
  const known = [
    'machine',
    ...description.channels.map(({ id }) => id),
    ...description.adjusters.map(({ id }) => id),
    ...description.barrel.sectors.map(({ id }) => `sector:${id}`),
  ];
  (value.worked ?? []).forEach((id, i) => {
    if (!known.includes(id))
      throw problem(
        ['worked', i],
        `there is no channel, adjuster or sector ${JSON.stringify(id)}`,
        insteadOf(id, known),
      );
  });
}

function checkLabels({ value, problem }: CheckedDescription, machine: Machine): void {
  const { channels, barrel } = machine.description;
  for (const [label, target] of Object.entries(value.labels ?? {})) {
    // Not answered yet.
    if (target.trim() === '') continue;
    if (meaningOf(target, {}, machine).kind !== 'note') continue;
    const targets = [
      ...channels.map((channel) => channel.id),
      ...barrel.sectors.map((sector) => `sector:${sector.id}`),
    ];
    const what = `${JSON.stringify(target)} is neither a channel nor "sector:" with a sector`;
    throw problem(['labels', label], what, insteadOf(target, targets));
  }
}

function checkNumbers({ value, problem }: CheckedDescription, { description }: Machine): void {
  const { adjusters, barrel } = description;
  const ids = adjusters.map((adjuster) => adjuster.id);
  for (const id of Object.keys(value.settings ?? {})) {
    if (!ids.includes(id)) {
      throw problem(['settings', id], `there is no adjuster ${JSON.stringify(id)}`, insteadOf(id, ids));
    }
  }
  if (value.startStep !== undefined && value.startStep >= barrel.steps) {
    const what = `step ${value.startStep} is not on the barrel`;
    throw problem(['startStep'], what, `steps run from 0 to ${barrel.steps - 1}`);
  }
}
