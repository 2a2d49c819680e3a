/**
 * What is wrong with the demo machine, and how it was played in each round. None of this is written into the machine's
 * folder: tests compare what the analysis finds with it.
 */
import type { Machine } from '../analysis/machine/machine.ts';
import { pinErrors, play, type Performance, type Played, type Truth } from './play.ts';
import { seededRandom } from './random.ts';

const seed = 1871;

/** Every adjuster as the machine was first put together. */
const asBuilt: Readonly<Record<string, number>> = {
  'joint-AB': 5,
  'joint-BC': 5,
  'joint-CD': 5,
  'joint-DE': 5,
  'joint-EF': 5,
  'lever-slat': 8,
  'lever-rim-left': 5,
  'lever-rim-right': 6,
  'lever-gong-low': 5,
  'lever-gong-high': 5,
  'lever-bell': 5,
  'drop-drum': 0,
  collar: 0,
};

export interface DemoRound {
  /** The take folder's name. */
  readonly name: string;
  /** ISO 8601 */
  readonly recorded: string;
  readonly settings: Readonly<Record<string, number>>;
  readonly truth: Truth;
  readonly how: Performance;
}

const misplaced = [{ channel: 'rim-right', step: 117, foundStep: 118 }];

/** One unit of a shim is 0.67 ms at 16 s a turn. */
function truthOf(machine: Machine): Truth {
  return {
    channelMs: {
      drum: 6.3,
      slat: 4.9,
      'rim-left': 2.4,
      'rim-right': -3.6,
      'gong-low': -4.2,
      'gong-high': 2.6,
      bell: -1.2,
    },
    sectorMs: { B: 1.3, C: -0.9, D: 1.6, E: 0.4, F: -1.2 },
    pinMs: pinErrors(machine, 0.35, seededRandom(seed).split('pins')),
    repeatabilityMs: {
      block: 0.12,
      slat: 0.35,
      drum: 0.5,
      'rim-left': 0.3,
      'rim-right': 0.3,
      'gong-low': 0.5,
      'gong-high': 0.35,
      bell: 0.25,
    },
    missingProbability: 0.004,
    // The chain has a long link: twice in a turn of the barrel.
    wobble: { fraction: 0.0018, periodTurns: 0.5, phase: 0.7 },
    builtWith: asBuilt,
    effectFactor: {
      'joint-AB': 1.06,
      'joint-BC': 0.95,
      'joint-CD': 1.03,
      'lever-slat': 0.92,
      'lever-gong-low': 1.08,
      'drop-drum': 0.97,
    },
  };
}

/** The three rounds, oldest first. */
export function demoRounds(machine: Machine): DemoRound[] {
  const truth = truthOf(machine);
  const firstShims = {
    ...asBuilt,
    'joint-AB': 3,
    'joint-BC': 7,
    'joint-CD': 2,
    'joint-DE': 6,
    'joint-EF': 6,
    'drop-drum': -6,
    'lever-rim-right': 9,
    'lever-gong-low': 8,
  };
  const now = Object.fromEntries(machine.description.adjusters.map(({ id, installed }) => [id, installed]));
  const round = (
    name: string,
    recorded: string,
    settings: Record<string, number>,
    faults: Truth,
    how: Omit<Performance, 'settings'>,
  ) => ({ name, recorded, settings, truth: { ...truth, ...faults }, how: { ...how, settings } });
  return [
    round(
      '1-as-built',
      '2025-10-04T14:10',
      asBuilt,
      // The pivot of the left clapper was loose; somebody leant on the bell once.
      {
        misplaced,
        repeatabilityMs: { ...truth.repeatabilityMs, 'rim-left': 1.3 },
        extra: [{ channel: 'bell', position: 2 * 192 + 33.4 }],
        driftPerTurn: 0.0006,
      },
      { bpm: 119.6, startPosition: 0, turns: 4.1 },
    ),
    round(
      '2-first-shims',
      '2025-10-18T10:35',
      firstShims,
      { misplaced, missing: [0, 1, 3].map((turn) => ({ channel: 'bell', step: 92, turn })) },
      { bpm: 120.3, startPosition: 71.3, turns: 4.1 },
    ),
    round('3-nearly-there', '2025-11-01T16:20', now, {}, { bpm: 120.1, startPosition: 130.6, turns: 5.1 }),
  ];
}

/** The strikes of a round and what a perfect measurement of it would find. */
export function playRound(machine: Machine, round: DemoRound): Played {
  return play(machine, round.truth, round.how, seededRandom(seed).split(round.name));
}
