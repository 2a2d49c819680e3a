/** Every file of the demo machine's folder, one after another; the same bytes each time. */
import type { Machine } from '../analysis/machine/machine.ts';
import { readMachine } from '../analysis/machine/read.ts';
import { machineText, patternText } from './demo-machine.ts';
import { buildNotes, calibrationLog } from './demo-notes.ts';
import { takeFiles, type DemoFile } from './demo-takes.ts';
import { demoRounds } from './demo-truth.ts';

/** About 54 MB in all, most of it three takes of audio. */
export async function* demoFiles(): AsyncGenerator<DemoFile> {
  const text = (path: string, content: string): DemoFile => ({
    path,
    bytes: new TextEncoder().encode(content),
  });
  yield text('machine.jsonc', machineText);
  yield text('pattern.csv', patternText());
  yield text('CALIBRATION.md', calibrationLog);
  yield text('notes/build.md', buildNotes);
  const machine = await demoMachine();
  for (const round of demoRounds(machine)) yield* takeFiles(machine, round);
}

/** The demo machine, read from its own text. */
export function demoMachine(): Promise<Machine> {
  return readMachine('machine.jsonc', machineText, () =>
    Promise.resolve(new TextEncoder().encode(patternText())),
  );
}
