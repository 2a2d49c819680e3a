/** Takes of one of several machines, in memory, and which machine each is judged to be of. */
import { whichMachine, type WhichMachine } from '../../analysis/hits/which-machine.ts';
import type { SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Take, Track } from '../../analysis/take/take.ts';
import { usualColour } from '../../samples/colour.ts';
import type { Sound } from '../../samples/place.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';
import { makeTake, takeOf } from '../rig/take.ts';
import { struck } from './synthetic.ts';

export const sampleRate = 22_050;
const hz = [900, 140, 520, 300, 1500, 2000, 700];
const decayS = [0.1, 0.3, 0.5, 0.2, 0.1, 0.6, 0.15];

/** Strikers of another make where `tuned` is not 1. */
export function strikers(count: number, tuned = 1): Sound[] {
  return Array.from({ length: count }, (_, c) => struck(tuned * hz[c], decayS[c], sampleRate));
}

/** Three to seven channels, sparse to dense, the reference on every beat of the same grid. */
export function machineNamed(seed: number, steps = 96): Machine {
  const channels = Array.from({ length: 3 + ((seed * 7) % 5) }, (_, i) => `c${i}`);
  return rigMachine({ channels, steps, density: [0.08, 0.15, 0.3][seed % 3], together: 0.4, seed });
}

/** The machine with so many of its pins, more or less, five steps further on. */
export function withOthersMoved(machine: Machine, count: number): Machine {
  const { steps } = machine.description.barrel;
  const movable = machine.pins.filter(({ channel }) => channel > 0);
  const every = Math.floor(movable.length / count);
  const moved = new Set(movable.filter((_, i) => i % every === 0).slice(0, count));
  const pins = machine.pins.map((pin) => (moved.has(pin) ? { ...pin, step: (pin.step + 5) % steps } : pin));
  return { ...machine, pins: pins.sort((a, b) => a.step - b.step || a.channel - b.channel) };
}

export interface Recorded {
  readonly machine: Machine;
  readonly sounds: readonly Sound[];
  readonly turns: number;
  readonly bpm: number;
  readonly snrDb: number;
  /** Pins in the next hole. */
  readonly misplaced?: number;
  readonly microphones?: 1 | 2;
  readonly seed: number;
}

/** As one microphone hears it that hears all, or two that share the strikers; channels up to 30 ms off, one strike in 20 silent. */
export function recorded({ machine, sounds, misplaced = 0, microphones = 1, seed, ...how }: Recorded): Take {
  const random = seededRandom(seed);
  const ids = machine.description.channels.map(({ id }) => id);
  const { steps } = machine.description.barrel;
  const wrong = machine.pins.filter(({ channel }) => channel > 0).slice(0, misplaced);
  const { bpm, turns, snrDb } = how;
  const played = play(
    machine,
    {
      channelMs: Object.fromEntries(ids.slice(1).map((id) => [id, random.between(-30, 30)])),
      repeatabilityMs: Object.fromEntries(ids.map((id) => [id, 1])),
      missingProbability: 0.05,
      misplaced: wrong.map(({ channel, step }) => ({
        channel: ids[channel],
        step,
        foundStep: (step + 1) % steps,
      })),
    },
    { bpm, turns, startPosition: random.between(0, steps - 1) },
    random,
  );
  const tracks = Array.from({ length: microphones }, (_, m) =>
    [...ids.keys()].filter((c) => c % microphones === m),
  );
  return makeTake(machine, {
    sampleRate,
    durationS: played.durationS + 1,
    strikes: played.strikes.filter(({ timeS }) => timeS > 0.1),
    sounds: sounds.map((sound) => [sound]),
    tracks,
    snrDb,
    gainDb: 4,
    bleed: { db: -15, delayS: 0.003 },
    colour: usualColour,
    assigned: false,
    seed,
  }).take;
}

/** @param voices beside the machines; absent: none was saved */
export function judged(
  { tracks }: Pick<Take, 'tracks'>,
  machines: readonly Machine[],
  voices: readonly (readonly SavedVoice[])[] = [],
): Promise<WhichMachine> {
  return whichMachine(
    machines.map((machine, m) => {
      const channels = [...machine.description.channels.keys()];
      const own = tracks.map((track): Track => ({ ...track, channels, assigned: false }));
      return { machine, take: takeOf(machine, own), voices: voices[m] ?? [] };
    }),
  );
}

/** "fits 1 by pattern", "either 0, 1": what was judged, in a few words. */
export function inShort(judged: WhichMachine): string {
  if (judged.kind === 'fits') return `fits ${judged.machine} by ${judged.by}`;
  if (judged.kind === 'perhaps') return `perhaps ${judged.machine}: ${judged.why}`;
  return judged.kind === 'either' ? `either ${judged.machines.join(', ')}` : `none: ${judged.why}`;
}
