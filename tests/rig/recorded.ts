/** Two recorders in a room, heard and laid on the barrel: what is said of their clocks and of the machine, beside the truth. */
import { hear } from '../../analysis/hits/hear.ts';
import { hearInStep, type HeardTake } from '../../analysis/hits/hear-in-step.ts';
import { withClocks } from '../../analysis/strokes/clock-error.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import type { FileClock } from '../../analysis/take/clock.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from './machine.ts';
import { recordRoom } from './recorders.ts';

export interface Apart {
  readonly startS: number;
  readonly ppm: number;
  readonly bleedDb: number;
  readonly seed: number;
  readonly turns?: number;
  /** Spread of each pin from turn to turn, ms. */
  readonly repeatabilityMs?: number;
  /** Share of a channel's pins that fall together with another's; 1: as chance has it. */
  readonly together?: number;
  readonly snrDb?: number;
}

const channels = ['reference', 'one', 'two', 'three'];
const truthMs = { one: 2, two: -3, three: 4 };

export function recordedTake(how: Apart) {
  const { seed, turns = 3, repeatabilityMs = 0.3, together = 1, snrDb = 60 } = how;
  const machine = rigMachine({ channels, seed, together });
  const repeats = Object.fromEntries(channels.map((id) => [id, repeatabilityMs]));
  const played = play(
    machine,
    { channelMs: truthMs, repeatabilityMs: repeats },
    { bpm: 112, turns },
    seededRandom(seed),
  );
  const { take } = recordRoom(machine, {
    recorders: [
      { startS: 0, ppm: 0, channels: [0, 1] },
      { startS: how.startS, ppm: how.ppm, channels: [2, 3] },
    ],
    strikes: played.strikes,
    durationS: played.durationS + 1,
    bleedDb: how.bleedDb,
    snrDb,
    seed,
  });
  return { machine, take, played };
}

export interface Recorded {
  readonly clock: FileClock;
  /** Of the second recorder's beginning, ms, and its clock's, ppm. */
  readonly startErrorMs: number;
  readonly ppmError: number;
  /** Channels' means against what was played; NaN where none was given. */
  readonly errorsMs: readonly number[];
  readonly ci95Ms: readonly (number | null)[];
  readonly doubts: number;
}

/** @param align false: as if the files had begun together, which was taken for granted before */
export async function heardApart(how: Apart, align = true): Promise<Recorded> {
  const { machine, take, played } = recordedTake(how);
  const asOne = async (): Promise<HeardTake> => ({ take, hearing: await hear(take, machine, {}) });
  const heard = align ? await hearInStep(take, machine, {}) : await asOne();
  const strokes = layOnBarrel(heard.hearing, machine, heard.take);
  const groups = withClocks(summariseGroups(strokes, machine), strokes, machine, heard.take);
  const whole = channels.map((id) => groups.find((group) => group.channel === id && group.sector === null)!);
  const clock = heard.take.clocks?.[1] ?? {
    file: '',
    startS: 0,
    startSdS: NaN,
    drift: 0,
    driftSd: NaN,
    how: 'unknown',
  };
  return {
    clock,
    startErrorMs: 1000 * (clock.startS - how.startS),
    ppmError: 1e6 * (1 / (1 + clock.drift) - 1) - how.ppm,
    errorsMs: whole.map(({ meanMs }, channel) => {
      const truth = played.groups.find((group) => group.channel === channel && group.sector === null)!;
      return (meanMs ?? NaN) - truth.strokesMeanMs;
    }),
    ci95Ms: whole.map(({ ci95Ms }) => ci95Ms),
    doubts: whole.filter(({ doubt }) => doubt !== undefined).length,
  };
}
