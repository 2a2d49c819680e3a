/** Machines and takes at the ends of what is allowed: right results, or none; never a number that cannot be right. */
import { describe, expect, test } from 'vitest';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { ambiguousRotation } from '../../analysis/checks/rotation.ts';
import type { Study } from '../../analysis/checks/check.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import { summarisePins } from '../../analysis/strokes/pins.ts';
import { play, type Strike } from '../../samples/play.ts';
import { seededRandom, type Random } from '../../samples/random.ts';
import { hearingOf, takeOf } from './laid.ts';

interface Extreme {
  readonly steps?: number;
  readonly stepsPerBeat?: number;
  readonly sectors?: number;
  readonly channels?: number;
  readonly bpm?: number;
  readonly turns?: number;
  readonly startPosition?: number;
  /** What is heard of what was played. */
  readonly heard?: (strikes: readonly Strike[], random: Random) => readonly Strike[];
}

const firstSeed = 7301;
/** A machine's where it names none: beyond it, a number would send a person to the wrong screw. */
const toleranceMs = 2;

/** The reference on every beat, the others on about a step in nine: 20 ms off at most, 0.3 ms of chance. */
function machineOf(
  { steps = 96, stepsPerBeat = 4, sectors = 3, channels = 4 }: Extreme,
  random: Random,
): Machine {
  const ids = ['ref', ...Array.from({ length: channels - 1 }, (_, i) => `c${i}`)];
  const description = machineSchema.parse({
    name: 'Extreme',
    barrel: {
      steps,
      stepsPerBeat,
      diameterMm: 800,
      sectors: Array.from({ length: sectors }, (_, i) => ({
        id: `S${i}`,
        from: Math.floor((i * steps) / sectors),
      })),
    },
    reference: 'ref',
    channels: ids.map((id, i) => ({ id, onBarrel: i > 0 })),
  });
  const all = Array.from({ length: steps }, (_, step) => step);
  const pins = ids.flatMap((_, channel) => {
    const drawn = all.filter((step) =>
      channel === 0 ? step % stepsPerBeat === 0 : random.uniform() < 1 / 9,
    );
    return (drawn.length > 0 ? drawn : [random.integer(steps)]).map((step) => ({
      step,
      channel,
      line: null,
    }));
  });
  pins.sort((a, b) => a.step - b.step || a.channel - b.channel);
  return { description, file: 'machine.jsonc', patternFile: 'pattern.csv', pins, reference: 0 };
}

/** Of some thousand intervals one in twenty misses the truth, by half at times; none misses it by this many of its own half-widths. */
const intervals = 3;

/** Groups of others than the reference: those measured, those struck thrice, the worst error, ms, and errors beyond chance. */
function measure(extreme: Extreme, seed: number) {
  const random = seededRandom(seed);
  const machine = machineOf(extreme, random);
  const { channels, barrel } = machine.description;
  const truth = {
    channelMs: Object.fromEntries(channels.slice(1).map(({ id }) => [id, random.between(-20, 20)])),
    sectorMs: Object.fromEntries(barrel.sectors.slice(1).map(({ id }) => [id, random.between(-5, 5)])),
    repeatabilityMs: Object.fromEntries(channels.map(({ id }) => [id, 0.3])),
  };
  const how = {
    bpm: extreme.bpm ?? 120,
    turns: extreme.turns ?? 4,
    startPosition: extreme.startPosition ?? 0,
  };
  const played = play(machine, truth, how, random);
  const strikes = extreme.heard?.(played.strikes, random) ?? played.strikes;
  const hearing = hearingOf(strikes);
  const take = takeOf({ tempo: how.bpm });
  const strokes = layOnBarrel(hearing, machine, take);
  const groups = summariseGroups(strokes, machine);
  const zeroMs = played.groups.find((g) => g.channel === 0 && g.sector === null)!.strokesMeanMs;
  let measured = 0;
  let due = 0;
  let worstMs = 0;
  const beyond: string[] = [];
  for (const { channel, sector, meanMs, ci95Ms } of groups.filter((group) => group.channel !== 'ref')) {
    const c = channels.findIndex(({ id }) => id === channel);
    const s = sector === null ? null : barrel.sectors.findIndex(({ id }) => id === sector);
    const true_ = played.groups.find((g) => g.channel === c && g.sector === s)!;
    if (true_.strokes >= 3) due++;
    if (meanMs === null) continue;
    measured++;
    const off = Math.abs(meanMs - (true_.strokesMeanMs - zeroMs));
    worstMs = Math.max(worstMs, off);
    if (ci95Ms === null || off > intervals * ci95Ms) beyond.push(`${channel} ${sector}: ${off} ± ${ci95Ms}`);
  }
  const study: Study = { machine, take, hearing, strokes, groups, pins: summarisePins(strokes, machine) };
  return { found: strokes.rotation.found, measured, due, worstMs, beyond, groups, study };
}

/** Halves of the reference's strikes go unheard. */
const halfOfReference = (strikes: readonly Strike[], random: Random) =>
  strikes.filter(({ channel }) => channel !== 0 || random.uniform() < 0.5);

/** The drive stands for some seconds, once; strikes go on from where they were. */
const stands = (strikes: readonly Strike[], random: Random) => {
  const at = strikes[Math.floor(strikes.length * random.between(0.3, 0.7))].timeS - 0.1;
  const pause = random.between(3, 9);
  return strikes.map((strike) => ({ ...strike, timeS: strike.timeS + (strike.timeS < at ? 0 : pause) }));
};

describe(`right, on machines and takes drawn from seed ${firstSeed} on`, () => {
  test.each<[what: string, seeds: number, extreme: Extreme]>([
    ['one sector', 6, { sectors: 1 }],
    ['two hundred sectors', 1, { steps: 800, sectors: 200, turns: 4 }],
    ['two steps', 6, { steps: 2, stepsPerBeat: 1, sectors: 1, channels: 2, turns: 30 }],
    ['two steps, each a sector', 6, { steps: 2, stepsPerBeat: 2, sectors: 2, channels: 2, turns: 30 }],
    ['ten thousand steps', 1, { steps: 10_000, stepsPerBeat: 8, turns: 1.2, bpm: 200 }],
    ['one beat a minute', 6, { bpm: 1, steps: 48 }],
    ['three hundred beats a minute', 6, { bpm: 300 }],
    ['forty channels', 2, { channels: 40 }],
    ['a reference that misses half its strikes', 6, { heard: halfOfReference }],
    ['a drive that stops and starts', 6, { heard: stands }],
    ['a recording that begins and ends amid a turn', 6, { startPosition: 37.4, turns: 3.37 }],
    ['less than a turn', 6, { turns: 0.8, startPosition: 50.7 }],
  ])('%s', (_, seeds, extreme) => {
    for (let seed = firstSeed; seed < firstSeed + seeds; seed++) {
      const { found, measured, due, worstMs, beyond } = measure(extreme, seed);
      expect([seed, found, measured, beyond]).toEqual([seed, true, due, []]);
      expect(worstMs, `seed ${seed}`).toBeLessThan(toleranceMs);
    }
  });
});

test('one channel only, the reference: it is on time, and that the turn cannot be told is said', () => {
  for (let seed = firstSeed; seed < firstSeed + 6; seed++) {
    const { found, study, groups } = measure({ channels: 1 }, seed);
    expect(found).toBe(true);
    expect(ambiguousRotation.run(study)).toMatchObject([{ kind: 'ambiguous-rotation' }]);
    for (const { meanMs } of groups.filter(({ sector }) => sector === null)) expect(meanMs).toBeCloseTo(0, 6);
  }
});
