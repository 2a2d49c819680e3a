/**
 * Five strikers on two microphones, two at one and three at the other, from real recordings at known times: with 30 dB
 * signal to noise, other gains and colours, bleed, a drive that swings twice a turn, pins off their places, missing
 * strikes and one pin in the wrong hole. The take begins mid-turn.
 */
import { hear } from '../../analysis/hits/hear.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import type { Strokes } from '../../analysis/strokes/strokes.ts';
import { usualColour } from '../../samples/colour.ts';
import { pinErrors, play, type Played, type Truth } from '../../samples/play.ts';
import { seededRandom, type Random } from '../../samples/random.ts';
import { rigMachine } from './machine.ts';
import { recordings } from './recordings.ts';
import { makeTake } from './take.ts';

const sampleRate = 48_000;
const bpm = 112;
const turns = 6;
const ids = ['reference', 'one', 'two', 'three', 'four'];
const tracks = [
  [0, 1],
  [2, 3, 4],
];

export interface TwoTracks {
  readonly sounds: readonly string[];
  /** Furthest group mean from the truth, ms. */
  readonly worstMs: number;
  /** Groups whose truth is known and for which a mean was given, and those that were asked. */
  readonly given: number;
  readonly asked: number;
  /** Whether the misplaced pin was named, with the hole it sits in. */
  readonly named: boolean;
  /** Pins that were called misplaced and are not. */
  readonly invented: number;
  /** Groups whose interval holds the truth, of those given with one. */
  readonly covered: number;
}

export async function twoTracks(seed: number): Promise<TwoTracks> {
  const random = seededRandom(seed);
  const machine = rigMachine({ channels: ids, seed });
  const sounds = random.shuffle(recordings(sampleRate)).slice(0, ids.length);
  const truth = truthOf(machine, random);
  const how = { bpm, turns, startPosition: random.uniform() * machine.description.barrel.steps };
  const played = play(machine, truth, how, random.split('play'));
  const { take } = makeTake(machine, {
    sampleRate,
    durationS: played.durationS + 1,
    strikes: played.strikes,
    sounds: sounds.map((sound) => [sound]),
    tracks,
    snrDb: 30,
    gainDb: 3,
    colour: usualColour,
    bleed: { db: -20, delayS: 0.002 },
    seed,
  });
  const strokes = layOnBarrel(await hear(take, machine, {}), machine, take);
  const found = strokes.misplaced.map((pin) => `${ids[pin.channel]} ${pin.step} ${pin.foundStep}`);
  const [{ channel, step, foundStep }] = truth.misplaced!;
  const named = found.filter((pin) => pin === `${channel} ${step} ${foundStep}`).length;
  return {
    sounds: sounds.map(({ name }) => name),
    named: named === 1,
    invented: found.length - named,
    ...againstTruth(machine, strokes, played),
  };
}

function truthOf(machine: Machine, random: Random): Truth {
  const free = machine.pins.filter(
    (pin) =>
      pin.channel > 0 &&
      machine.pins.every(
        (other) => other === pin || other.channel !== pin.channel || Math.abs(other.step - pin.step - 1) > 1,
      ),
  );
  const wrong = random.pick(free);
  return {
    channelMs: Object.fromEntries(ids.slice(1).map((id) => [id, random.uniform() * 20 - 10])),
    sectorMs: { A: 0, B: random.uniform() * 4 - 2, C: random.uniform() * 4 - 2 },
    pinMs: pinErrors(machine, 0.3, random.split('pins')),
    repeatabilityMs: Object.fromEntries(ids.map((id) => [id, 0.3])),
    missingProbability: 0.01,
    misplaced: [
      {
        channel: ids[wrong.channel],
        step: wrong.step,
        foundStep: (wrong.step + 1) % machine.description.barrel.steps,
      },
    ],
    wobble: { fraction: 0.002, periodTurns: 0.5, phase: random.uniform() },
  };
}

function againstTruth(machine: Machine, strokes: Strokes, { groups }: Played) {
  const measured = summariseGroups(strokes, machine);
  const sectorIds = machine.description.barrel.sectors.map(({ id }) => id);
  const asked = groups.filter(({ strokes: count }) => count >= 3);
  const errors = asked.flatMap(({ channel, sector, strokesMeanMs }) => {
    const group = measured.find(
      (one) => one.channel === ids[channel] && one.sector === (sector === null ? null : sectorIds[sector]),
    );
    return group === undefined || group.meanMs === null
      ? []
      : [{ ms: Math.abs(group.meanMs - strokesMeanMs), within: group.ci95Ms ?? 0 }];
  });
  return {
    worstMs: Math.max(...errors.map(({ ms }) => ms)),
    given: errors.length,
    asked: asked.length,
    covered: errors.filter(({ ms, within }) => ms <= within).length,
  };
}
