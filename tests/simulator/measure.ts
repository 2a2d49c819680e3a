/** A take of a played machine as a report, by way of the real means and intervals: hearing is taken as perfect. */
import type { Hits } from '../../analysis/hits/hits.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { variance } from '../../analysis/numbers/statistics.ts';
import type { Report } from '../../analysis/results/results.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { summarisePins } from '../../analysis/strokes/pins.ts';
import type { Rotation, Strokes } from '../../analysis/strokes/strokes.ts';
import type { Played } from '../../samples/play.ts';

/** @param settings as the person believes they are, by adjuster id */
export function reportOf(
  machine: Machine,
  played: Played,
  bpm: number,
  take: string,
  settings: Readonly<Record<string, number>>,
): Report {
  const strokes = strokesOf(machine, played);
  const groups = summariseGroups(strokes, machine);
  const misplaced = new Set(
    played.strikes
      .filter(({ pinned }) => pinned === 'misplaced')
      .map(({ channel, step, foundStep }) => JSON.stringify([channel, step, foundStep])),
  );
  return {
    schema: 1,
    machine: machine.description.name,
    take,
    tempo: { bpm, bpmCi95: 0.01, secondsPerTurn: played.secondsPerTurn },
    recorded: null,
    settings: { ...settings },
    tracks: [],
    hits: [],
    groups,
    pins: summarisePins(strokes, machine),
    findings: [...misplaced].map((key) => {
      const [channel, step, foundStep] = JSON.parse(key) as [number, number, number];
      const { id } = machine.description.channels[channel];
      return { kind: 'misplaced-pin', severity: 'warning', channel: id, step, foundStep, message: '' };
    }),
    advice: {
      settings: [],
      predicted: [],
      summary: '',
      worstBeforeMs: null,
      worstAfterMs: null,
      proven: true,
    },
  };
}

/** Lateness against the mean of the reference's strokes as heard, so that the reference's chance is in it. */
function strokesOf(machine: Machine, { strikes, secondsPerTurn, timeAt }: Played): Strokes {
  const pinned = strikes.filter(({ pinned }) => pinned !== 'none');
  const { reference } = machine;
  const referenceHits = Int32Array.from(
    pinned.flatMap(({ channel, pinned: how }, i) => (channel === reference && how === 'right' ? [i] : [])),
  );
  // Each of the reference's pins has its own constant, which is no chance: zero lateness is the pins' own mean.
  const chance = referenceChance(pinned, referenceHits);
  const hits: Hits = {
    count: pinned.length,
    timeS: Float64Array.from(pinned, ({ timeS }) => timeS),
    timeSdS: new Float64Array(pinned.length),
    track: new Int32Array(pinned.length),
    channel: Int32Array.from(pinned, ({ channel }) => channel),
    levelDb: new Float32Array(pinned.length),
    why: pinned.map(() => null),
  };
  const rotation: Rotation = {
    found: true,
    secondsPerTurn,
    secondsPerTurnCi95: 0,
    startPosition: 0,
    timeAt,
    rivals: [],
    settledBy: 'pattern',
    referenceHits,
    errors: {
      chance: [],
      // What the reference's chance does to zero, which all others are held against.
      of: (_positions, amounts, own) => ({
        chance: 0,
        rotation: Array.from(own).every((i) => hits.channel[i] === reference)
          ? 0
          : (Array.from(amounts).reduce((a, b) => a + b, 0) ** 2 * chance.variance) / referenceHits.length,
        referencePins: 0,
        degreesOfFreedom: chance.degreesOfFreedom,
      }),
    },
    referenceSectors: [],
  };
  return {
    hits,
    turn: Int32Array.from(pinned, ({ turn }) => turn),
    step: Float64Array.from(pinned, ({ step }) => step),
    latenessMs: Float64Array.from(pinned, ({ trueLatenessMs }) => trueLatenessMs - chance.meanMs),
    why: pinned.map(({ pinned: how }) => (how === 'misplaced' ? 'misplaced pin' : null)),
    rotation,
    misplaced: [],
    missing: [],
    whole: [],
    sitsAt: machine.description.channels.map((_, channel) => channel),
    mirrored: false,
    stands: [],
  };
}

function referenceChance(strikes: Played['strikes'], referenceHits: Int32Array) {
  const byPin = new Map<number, number[]>();
  for (const i of referenceHits) {
    const { step, trueLatenessMs } = strikes[i];
    byPin.set(step, [...(byPin.get(step) ?? []), trueLatenessMs]);
  }
  const pins = [...byPin.values()];
  const means = pins.map((values) => values.reduce((a, b) => a + b) / values.length);
  let squares = 0;
  let degreesOfFreedom = 0;
  for (const values of pins) {
    if (values.length < 2) continue;
    squares += variance(values) * (values.length - 1);
    degreesOfFreedom += values.length - 1;
  }
  const meanMs = means.reduce((a, b) => a + b, 0) / means.length;
  return { meanMs, variance: squares / degreesOfFreedom, degreesOfFreedom };
}
