/** The shafts of a machine that may turn unevenly: the barrel's, the drive's, and what comes round some times a turn. */
import type { Machine } from '../machine/machine.ts';
import { listed } from '../words/names.ts';

export interface Shaft {
  readonly name: string;
  readonly beatsPerTurn: number;
  /** true: no shaft of its own, but what the barrel or its chain does several times a turn. */
  readonly harmonic?: boolean;
}

/** An oval or a chain's long link comes round a few times in a turn of the barrel. */
const harmonics = [2, 3, 4];

/** The barrel and every shaft of the drive, slowest stage last to first. */
export function shafts({ description: { barrel, drive } }: Machine): Shaft[] {
  const turnBeats = barrel.steps / barrel.stepsPerBeat;
  const all: Shaft[] = [{ name: 'barrel’s shaft', beatsPerTurn: turnBeats }];
  const oval = harmonics.map((times) => ({
    name: `barrel or its chain, ${times} times a turn of the barrel`,
    beatsPerTurn: turnBeats / times,
    harmonic: true,
  }));
  if (drive === undefined) return [...all, ...oval];
  let beatsPerTurn = drive.beatsPerOutputTurn;
  if (Math.abs(beatsPerTurn - turnBeats) > 1e-9 * turnBeats)
    all.push({ name: `output of ${drive.stages.at(-1)?.name ?? 'the drive'}`, beatsPerTurn });
  for (const { name, ratio } of drive.stages.toReversed()) {
    beatsPerTurn /= ratio;
    all.push({ name: `input of ${name}`, beatsPerTurn });
  }
  // What a shaft of the drive does anyway needs no second name.
  const isShaft = (beats: number) => all.some((shaft) => Math.abs(shaft.beatsPerTurn / beats - 1) < 1e-9);
  return [...all, ...oval.filter(({ beatsPerTurn: beats }) => !isShaft(beats))];
}

/** "the output of belt (a turn in 4 beats), …" */
export function shaftNames(list: readonly Shaft[]): string {
  return listed(list.map(({ name, beatsPerTurn }) => `the ${name} (a turn in ${beatsOf(beatsPerTurn)})`));
}

/** "1 beat", "2.67 beats" */
export function beatsOf(value: number): string {
  return `${round(value)} ${round(value) === '1' ? 'beat' : 'beats'}`;
}

/** Three digits. */
export function round(value: number): string {
  return `${Number(value.toPrecision(3))}`;
}
