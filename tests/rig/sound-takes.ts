/** Takes of strikers whose sounds are hard to hear, and how well the tool measures them against what was played. */
import type { Machine } from '../../analysis/machine/machine.ts';
import { hear } from '../../analysis/hits/hear.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import type { Sound } from '../../samples/place.ts';
import { play } from '../../samples/play.ts';
import { seededRandom, type Random } from '../../samples/random.ts';
import { takeOfStrikes } from './noises.ts';
import { rigMachine } from './machine.ts';

export interface SoundTake {
  /** How a strike of each channel sounds; the first is the reference. */
  readonly soundOf: readonly ((random: Random) => Sound)[];
  /** Channels on each track. */
  readonly tracks: readonly (readonly number[])[];
  readonly sampleRate?: number;
  readonly turns?: number;
  readonly snrDb: number;
  readonly bleedDb?: number;
  /** Chance that a pin stays where another channel has one at the same step. */
  readonly together?: number;
  readonly density?: number;
  readonly bpm?: number;
  readonly seed: number;
}

export interface Measured {
  readonly channel: string;
  readonly played: number;
  /** Share of the played strikes that are used at their pin and turn, %. */
  readonly usedPercent: number;
  /** Hits of the channel where it did not strike within 20 ms. */
  readonly invented: number;
  /** Largest distance of a group's mean from the played strokes' mean, ms; NaN where a group has no mean. */
  readonly worstGroupMs: number;
  /** Of groups by sector: in how many the truth lies within the interval, and how many there are. */
  readonly held: number;
  readonly groups: number;
  /** Spread about their mean of heard less played, µs. */
  readonly spreadUs: number;
  readonly onsetSdMs: number;
}

export function soundMachine(options: SoundTake): Machine {
  const { together = 0.3, density = 0.12, seed } = options;
  return rigMachine({ channels: options.soundOf.map((_, c) => `c${c}`), together, density, seed });
}

export async function measureSounds(options: SoundTake): Promise<Measured[]> {
  const { sampleRate = 48_000, turns = 4, bpm = 120, seed } = options;
  const machine = soundMachine(options);
  const ids = machine.description.channels.map(({ id }) => id);
  const random = seededRandom(seed);
  const played = play(
    machine,
    {
      channelMs: Object.fromEntries(ids.slice(1).map((id) => [id, random.between(-6, 6)])),
      sectorMs: { B: random.between(-3, 3), C: random.between(-3, 3) },
      repeatabilityMs: Object.fromEntries(ids.map((id) => [id, 0.3])),
    },
    { bpm, turns },
    random,
  );
  const { take } = takeOfStrikes(machine, {
    ...options,
    sampleRate,
    gainDb: 2,
    durationS: played.durationS + 1,
    strikes: played.strikes,
  });
  const hearing = await hear(take, machine, {});
  const strokes = layOnBarrel(hearing, machine, take);
  const groups = summariseGroups(strokes, machine);
  const { hits } = hearing;
  return ids.map((channel, c): Measured => {
    const own = played.strikes.filter((strike) => strike.channel === c);
    const errors: number[] = [];
    let used = 0;
    for (const strike of own) {
      const hit = [...hits.channel.keys()].find(
        (i) => hits.channel[i] === c && Math.abs(hits.timeS[i] - strike.timeS) < 0.02,
      );
      if (hit === undefined) continue;
      errors.push(hits.timeS[hit] - strike.timeS);
      if (strokes.why[hit] === null) used++;
    }
    const mean = errors.reduce((sum, e) => sum + e, 0) / errors.length;
    const invented = [...hits.channel.keys()].filter(
      (i) => hits.channel[i] === c && own.every(({ timeS }) => Math.abs(hits.timeS[i] - timeS) >= 0.02),
    ).length;
    const off = played.groups
      .filter((group) => group.channel === c && group.sector !== null && group.strokes >= 3)
      .map(({ sector, strokesMeanMs }) => {
        const id = machine.description.barrel.sectors[sector!].id;
        const group = groups.find((one) => one.channel === channel && one.sector === id);
        return { off: Math.abs((group?.meanMs ?? NaN) - strokesMeanMs), ci95Ms: group?.ci95Ms ?? NaN };
      });
    return {
      channel,
      played: own.length,
      usedPercent: (100 * used) / own.length,
      invented,
      worstGroupMs: Math.max(...off.map((group) => group.off)),
      held: off.filter((group) => group.off <= group.ci95Ms).length,
      groups: off.length,
      spreadUs:
        1e6 * Math.sqrt(errors.reduce((sum, e) => sum + (e - mean) ** 2, 0) / Math.max(1, errors.length - 1)),
      onsetSdMs: 1e3 * (hearing.onsetSdS?.[c] ?? NaN),
    };
  });
}
