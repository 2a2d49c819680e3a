/** The demo machine's takes in memory, beside the truth that they were played from. */
import type { Machine } from '../../analysis/machine/machine.ts';
import { readTake } from '../../analysis/take/read.ts';
import type { Take } from '../../analysis/take/take.ts';
import { takeFiles } from '../../samples/demo-takes.ts';
import { demoRounds, playRound } from '../../samples/demo-truth.ts';
import { demoMachine } from '../../samples/make.ts';
import type { Played } from '../../samples/play.ts';
import { memoryFile } from '../take/files.ts';

export const demoTakeNames = ['1-as-built', '2-first-shims', '3-nearly-there'] as const;

export async function demoTake(
  name: (typeof demoTakeNames)[number],
): Promise<{ readonly machine: Machine; readonly take: Take; readonly played: Played }> {
  const machine = await demoMachine();
  const round = demoRounds(machine).find((one) => one.name === name)!;
  const files = takeFiles(machine, round).map(({ path, bytes }) =>
    memoryFile(path.slice(path.lastIndexOf('/') + 1), bytes),
  );
  return {
    machine,
    take: await readTake(name, files, machine, {}, {}),
    played: playRound(machine, round),
  };
}
