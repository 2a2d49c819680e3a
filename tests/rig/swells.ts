/**
 * Sounds that swell: gongs and bowls of a few tones that begin together, rise slowly and die each at its own rate. Made by
 * formulas of their own, with nothing of what hearing learns; and how well the tool measures them.
 */
import { hear } from '../../analysis/hits/hear.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import { soundFrom, type Sound } from '../../samples/place.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from './machine.ts';
import { takeOfStrikes } from './noises.ts';

/** How the amplitude rises: as a line, as the square of a sine, or ever more slowly (two coupled resonances). */
export type SwellShape = 'linear' | 'sin²' | 'exponential';

export interface Swell {
  readonly swellMs: number;
  readonly shape: SwellShape;
  readonly sampleRate?: number;
  /** Draws the tones' phases and decays. */
  readonly seed: number;
}

/** Tones of one gong, Hz, and their amplitudes; common practice, no source. */
const tones = [
  { hz: 187, amplitude: 1 },
  { hz: 293, amplitude: 0.8 },
  { hz: 411, amplitude: 0.6 },
  { hz: 566, amplitude: 0.5 },
  { hz: 812, amplitude: 0.3 },
];
const shapes: Record<SwellShape, (share: number) => number> = {
  linear: (share) => Math.min(1, share),
  'sin²': (share) => Math.sin((Math.PI / 2) * Math.min(1, share)) ** 2,
  exponential: (share) => 1 - Math.exp(-3 * share),
};
/** Root mean square of the loudest 50 ms, full scale 1. */
const loudest = 10 ** (-30 / 20);

/** One sound; its onset is where it begins by the project's definition, the first sample above 1 % of its peak. */
export function swellOf({ swellMs, shape, sampleRate = 48_000, seed }: Swell): Sound {
  const random = seededRandom(seed);
  const own = tones.map((tone) => ({
    ...tone,
    phase: random.between(0, 2 * Math.PI),
    decayS: random.between(0.25, 0.4),
  }));
  const lead = 16;
  const swellS = swellMs / 1000;
  const raw = Float32Array.from({ length: lead + Math.round((swellS + 1.6) * sampleRate) }, (_, i) => {
    const t = (i - lead) / sampleRate;
    if (t < 0) return 0;
    const rise = shapes[shape](t / swellS);
    return own.reduce(
      (sum, { hz, amplitude, phase, decayS }) =>
        sum +
        rise *
          amplitude *
          Math.exp(-Math.max(0, t - (shape === 'exponential' ? 0 : swellS)) / decayS) *
          Math.sin(2 * Math.PI * hz * t + phase),
      0,
    );
  });
  const block = Math.round(0.05 * sampleRate);
  let most = 0;
  let sum = 0;
  raw.forEach((x, i) => {
    sum += x * x - (i >= block ? raw[i - block] ** 2 : 0);
    most = Math.max(most, sum);
  });
  const scale = loudest / Math.sqrt(most / block);
  return soundFrom(
    `${swellMs} ms ${shape}`,
    raw.map((x) => scale * x),
    sampleRate,
  );
}

/** Two tones that begin at once and are gone in 30 ms: a block, or a stick on a rim. */
function dry(tonesHz: readonly [number, number], sampleRate: number): Sound {
  const samples = Float32Array.from({ length: 16 + Math.round(0.05 * sampleRate) }, (_, i) => {
    const t = (i - 16) / sampleRate;
    if (t < 0) return 0;
    const rise = 1 - Math.exp(-t / 0.0001);
    return (
      0.1 * rise * Math.exp(-t / 0.006) * tonesHz.reduce((sum, hz) => sum + Math.sin(2 * Math.PI * hz * t), 0)
    );
  });
  return soundFrom('dry', samples, sampleRate);
}

export interface SwellTake extends Swell {
  /** Whether the gong shares the track of the other two. */
  readonly shared: boolean;
  /** Noise against the loudest 50 ms of the gong. */
  readonly snrDb?: number;
  readonly turns?: number;
}

export interface SwellMeasured {
  readonly played: number;
  readonly used: number;
  readonly invented: number;
  /** The channel's mean less the truth, ms: by how much its beginning is told late; NaN where it has none. */
  readonly errorMs: number;
  /** Half-width of that mean's 95 % interval, ms. */
  readonly ci95Ms: number;
  /** The furthest that a sector's mean lies from the truth once that is taken off, ms. */
  readonly apartMs: number;
}

/** A take of a block (the reference), a rim and a gong in three sectors, each known to be off. */
export function swellTake(options: SwellTake) {
  const { shared, snrDb = 40, turns = 2, sampleRate = 48_000, seed } = options;
  const machine = rigMachine({ channels: ['block', 'rim', 'gong'], density: 0.14, together: 0.7, seed });
  const random = seededRandom(seed);
  const played = play(
    machine,
    {
      channelMs: { rim: random.between(-4, 4), gong: random.between(-4, 4) },
      sectorMs: { B: random.between(-3, 3), C: random.between(-3, 3) },
      repeatabilityMs: { block: 0.1, rim: 0.1, gong: 0.1 },
    },
    { bpm: 96, turns },
    random,
  );
  const block = dry([1730, 2910], sampleRate);
  const rim = dry([1120, 3650], sampleRate);
  const gong = swellOf(options);
  const { take } = takeOfStrikes(machine, {
    sampleRate,
    durationS: played.durationS + 2,
    strikes: played.strikes,
    soundOf: [() => block, () => rim, () => gong],
    tracks: shared ? [[0, 1, 2]] : [[0, 1], [2]],
    snrDb,
    gainDb: 1,
    seed,
  });
  return { take, machine, played };
}

/** Hears such a take. */
export async function measureSwell(options: SwellTake): Promise<SwellMeasured> {
  const { take, machine, played } = swellTake(options);
  const hearing = await hear(take, machine, {});
  const strokes = layOnBarrel(hearing, machine, take);
  const groups = summariseGroups(strokes, machine).filter(({ channel }) => channel === 'gong');
  const truthOf = (sector: number | null) =>
    played.groups.find((group) => group.channel === 2 && group.sector === sector);
  const errorOf = (sector: number | null) => {
    const id = sector === null ? null : machine.description.barrel.sectors[sector].id;
    const group = groups.find((one) => one.sector === id);
    return {
      error: (group?.meanMs ?? NaN) - (truthOf(sector)?.strokesMeanMs ?? NaN),
      ci95Ms: group?.ci95Ms ?? NaN,
    };
  };
  const whole = errorOf(null);
  const { hits } = hearing;
  const own = [...hits.channel.keys()].filter((i) => hits.channel[i] === 2);
  return {
    played: played.strikes.filter(({ channel }) => channel === 2).length,
    used: own.filter((i) => strokes.why[i] === null).length,
    invented: own.filter((i) => strokes.why[i] !== null).length,
    errorMs: whole.error,
    ci95Ms: whole.ci95Ms,
    apartMs: Math.max(
      ...machine.description.barrel.sectors.flatMap((_, s) => {
        const strokes = truthOf(s)?.strokes ?? 0;
        return strokes >= 3 ? [Math.abs(errorOf(s).error - whole.error)] : [];
      }),
    ),
  };
}
