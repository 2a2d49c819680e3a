/** A take by the stages of the pipeline, for tests that have its tracks in memory and no files. */
import type { Study } from '../../analysis/checks/check.ts';
import { hear } from '../../analysis/hits/hear.ts';
import { countInstants } from '../../analysis/hits/instants.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import { summarisePins } from '../../analysis/strokes/pins.ts';
import type { Take } from '../../analysis/take/take.ts';

export async function studyOf(machine: Machine, take: Take): Promise<Study> {
  const hearing = countInstants(await hear(take, machine, {}), machine, take);
  const strokes = layOnBarrel(hearing, machine, take);
  const groups = summariseGroups(strokes, machine);
  const pins = summarisePins(strokes, machine);
  return { machine, take, hearing, strokes, groups, pins };
}
