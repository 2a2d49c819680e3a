/**
 * Machines and takes for the coverage of intervals, as bare markers: a generator of its own, which shares no code with the
 * model. The drive's speed is simulated step by step; every pin, strike and channel has its own error.
 */
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';

export type Drive = 'steady' | 'wanders' | 'hunts' | 'slows';

export interface Case {
  readonly referencePinMs: number;
  readonly referenceChanceMs: number;
  readonly turns: number;
  readonly channels: number;
  readonly sectors: number;
  /** The reference strikes on every so many beats. */
  readonly everyBeats: number;
  readonly drive: Drive;
  /** Beats in which a drive that hunts swings once; absent: drawn. */
  readonly huntBeats?: number;
  /** The barrel's holes are divided unevenly: a sine of this amplitude, ms, `dividings` times a turn, at the pins on it. */
  readonly dividingMs?: number;
  readonly dividings?: number;
  /** Scatter of the others’ pins; absent: drawn for each channel. */
  readonly pinSdMs?: number;
  /** ms; 0: exact times. */
  readonly roundedToMs?: number;
}

export const usual: Case = {
  referencePinMs: 0.3,
  referenceChanceMs: 0.15,
  turns: 4,
  channels: 6,
  sectors: 3,
  everyBeats: 1,
  drive: 'wanders',
};

export interface PlayedCase {
  readonly machine: Machine;
  readonly bpm: number;
  readonly strikes: readonly { readonly timeS: number; readonly channel: number; readonly step: number }[];
  /** Mean of the pins as fitted, each as often as it struck, against the reference's. */
  readonly truthMs: (channel: number, sector: number | null) => number;
  /** Chance of each channel’s strikes, ms. */
  readonly chanceMs: readonly number[];
}

const stepsPerBeat = 4;
const steps = 192;

/** xorshift32: any will do, so long as it is none of the model's. */
function dice(seed: number) {
  let state = (seed * 2654435761) >>> 0 || 1;
  const uniform = () => {
    state ^= state << 13;
    state >>>= 0;
    state ^= state >>> 17;
    state ^= state << 5;
    state >>>= 0;
    return state / 2 ** 32;
  };
  for (let i = 0; i < 20; i++) uniform();
  const normal = () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
  return { uniform, normal };
}

export function playCase(one: Case, seed: number): PlayedCase {
  const { uniform, normal } = dice(seed);
  const ids = ['ref', ...Array.from({ length: one.channels - 1 }, (_, i) => `c${i}`)];
  const froms = Array.from({ length: one.sectors }, (_, i) => Math.floor((i * steps) / one.sectors));
  const description = machineSchema.parse({
    name: 'Cell',
    barrel: {
      steps,
      stepsPerBeat,
      diameterMm: 800,
      sectors: froms.map((from, i) => ({ id: `S${i}`, from })),
    },
    reference: 'ref',
    channels: ids.map((id, i) => ({ id, onBarrel: i > 0 })),
  });
  const density = Math.max(0.02, 0.14 * Math.min(1, 8 / one.channels));
  const pins = ids
    .flatMap((_, channel) =>
      Array.from({ length: steps }, (__, step) => step)
        .filter((step) =>
          channel === 0 ? step % (stepsPerBeat * one.everyBeats) === 0 : uniform() < density,
        )
        .map((step) => ({ step, channel, line: null })),
    )
    .sort((a, b) => a.step - b.step || a.channel - b.channel);
  const machine: Machine = { description, file: 'm', patternFile: 'p', pins, reference: 0 };
  const sectorAt = (step: number) => froms.findLastIndex((from) => from <= step);
  const channelMs = ids.map((_, c) => (c === 0 ? 0 : 16 * uniform() - 8));
  const sectorMs = froms.map(() => 6 * uniform() - 3);
  const pinSd = ids.map((_, c) => (c === 0 ? one.referencePinMs : (one.pinSdMs ?? 0.2 + 0.5 * uniform())));
  const chanceMs = ids.map((_, c) => (c === 0 ? one.referenceChanceMs : 0.1 + 0.5 * uniform()));
  const dividedMs = (step: number) =>
    (one.dividingMs ?? 0) * Math.sin((2 * Math.PI * (one.dividings ?? 12) * step) / steps);
  const lateMs = pins.map(
    ({ channel, step }) =>
      channelMs[channel] +
      (channel > 0 ? sectorMs[sectorAt(step)] + dividedMs(step) : 0) +
      pinSd[channel] * normal(),
  );

  // The drive, in quarter steps: its rate is the nominal one times what wanders, hunts or slows.
  const bpm = 80 + 50 * uniform();
  const stepS = 60 / bpm / stepsPerBeat;
  const start = Math.floor(uniform() * steps);
  const end = start + one.turns * steps;
  const drawnBeats = 3 + 6 * uniform();
  const huntBeats = one.huntBeats ?? drawnBeats;
  const huntPhase = 2 * Math.PI * uniform();
  const times = new Map<number, number>();
  let rate = 0;
  let timeS = 0.5;
  for (let q = 4 * (start - 2); q <= 4 * (end + 2); q++) {
    if (q % 4 === 0) times.set(q / 4, timeS);
    let slow = 0;
    if (one.drive === 'wanders') {
      rate += -0.002 * rate + 0.0004 * normal();
      slow = rate;
    }
    // ± 0.8 ms at 5 beats, as a governor that hunts.
    if (one.drive === 'hunts') slow = 0.0015 * Math.sin((2 * Math.PI * q) / (16 * huntBeats) + huntPhase);
    if (one.drive === 'slows') slow = (0.004 * (q / 4 - start)) / steps;
    timeS += (stepS / 4) * (1 + slow);
  }
  const strikes: { timeS: number; channel: number; step: number; pin: number }[] = [];
  for (let turn = 0; turn * steps < end; turn++)
    pins.forEach(({ channel, step }, pin) => {
      const position = turn * steps + step;
      if (position < start || position >= end || uniform() < 0.01) return;
      const ms = lateMs[pin] + chanceMs[channel] * normal();
      const exact = times.get(position)! + ms / 1000;
      const grid = (one.roundedToMs ?? 0) / 1000;
      strikes.push({ channel, step, pin, timeS: grid > 0 ? Math.round(exact / grid) * grid : exact });
    });
  strikes.sort((a, b) => a.timeS - b.timeS);
  const meanOf = (of: typeof strikes) => of.reduce((sum, { pin }) => sum + lateMs[pin], 0) / of.length;
  const zero = meanOf(strikes.filter(({ channel }) => channel === 0));
  return {
    machine,
    bpm,
    strikes,
    chanceMs,
    truthMs: (channel, sector) =>
      meanOf(
        strikes.filter(
          (strike) => strike.channel === channel && (sector === null || sectorAt(strike.step) === sector),
        ),
      ) - zero,
  };
}
