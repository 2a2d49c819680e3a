/** Solos from their files, on the disk or handed over. */
import { hearSolos, type Solos } from '../../analysis/hits/solos/solos.ts';
import type { SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Run, SourceFile } from '../../analysis/ports.ts';
import { readTake } from '../../analysis/take/read.ts';

export async function solosIn(
  files: readonly SourceFile[],
  of: {
    readonly machine: Machine;
    readonly order: readonly string[] | null;
    readonly voices: readonly SavedVoice[];
  },
  run: Run,
): Promise<Solos> {
  const { machine, order, voices } = of;
  const name = files.map((file) => file.name).join(', ');
  return hearSolos(await readTake(name, files, machine, {}, run), machine, order, run, voices);
}
