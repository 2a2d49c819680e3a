/** A first pattern from strikes: on machines that are played from known patterns, by a player that shares no code with it. */
import { describe, expect, it } from 'vitest';
import { draftPattern, type HeardStrike } from '../../analysis/report/draft-pattern.ts';
import { play, type Truth } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';

const channels = ['ref', 'drum', 'bell', 'gong'];

function played(seed: number, truth: Truth, { turns = 5, bpm = 112 } = {}) {
  const machine = rigMachine({ channels, seed });
  const start = 17.4 + seed;
  const { strikes } = play(machine, truth, { bpm, turns, startPosition: start }, seededRandom(seed + 50));
  const heard: HeardStrike[] = strikes
    .map(({ timeS, channel }) => ({ timeS, channel: channels[channel] }))
    .sort((a, b) => a.timeS - b.timeS);
  return { machine, heard };
}
const grid = { steps: 96, stepsPerBeat: 4, bpm: 112 };

/** The pattern's pins, turned so that some strike of the reference is step 0: which one, the draft says by itself. */
function pinsFrom(machine: ReturnType<typeof rigMachine>, zero: number): Set<string> {
  return new Set(machine.pins.map(({ step, channel }) => `${(step - zero + 96) % 96} ${channels[channel]}`));
}

/** Differences to the nearest turning of the true pattern. */
function differences(
  machine: ReturnType<typeof rigMachine>,
  drafted: readonly { step: number; channel: string }[],
) {
  const own = new Set(drafted.map(({ step, channel }) => `${step} ${channel}`));
  const each = Array.from({ length: 24 }, (_, beat) => {
    const truth = pinsFrom(machine, 4 * beat);
    return (
      [...own].filter((pin) => !truth.has(pin)).length + [...truth].filter((pin) => !own.has(pin)).length
    );
  });
  return Math.min(...each);
}

const workshop: Truth = {
  channelMs: { drum: 12, bell: -9, gong: 25 },
  sectorMs: { B: 3, C: -2 },
  repeatabilityMs: { ref: 0.3, drum: 1.5, bell: 1, gong: 3 },
  wobble: { fraction: 0.004, periodTurns: 0.3 },
  driftPerTurn: 0.004,
};

describe('a pattern drafted from a take', () => {
  it.each([1, 2, 3, 4, 5, 6])('is the barrel’s own, pin by pin, whatever is late (machine %i)', (seed) => {
    const { machine, heard } = played(seed, workshop);
    const draft = draftPattern(heard, grid, 'ref');
    if ('why' in draft) throw new Error(draft.why);
    expect(differences(machine, draft.pins)).toBe(0);
    expect(draft.pins.every(({ isSure }) => isSure)).toBe(true);
    expect(draft.leftOut).toBe(0);
  });

  it('marks as doubtful what is not heard in every turn, and leaves out what is heard once', () => {
    const { machine, heard } = played(7, { ...workshop, missingProbability: 0.12 }, { turns: 6 });
    const stray = { timeS: heard[40].timeS + 0.03, channel: 'bell' };
    const draft = draftPattern(
      [...heard, stray].sort((a, b) => a.timeS - b.timeS),
      grid,
      'ref',
    );
    if ('why' in draft) throw new Error(draft.why);
    expect(differences(machine, draft.pins)).toBe(0);
    const doubtful = draft.pins.filter(({ isSure }) => !isSure);
    expect(doubtful.length).toBeGreaterThan(0);
    expect(doubtful.every(({ heard: times, turns }) => times < turns - 1)).toBe(true);
    expect(draft.leftOut).toBe(1);
  });

  it('follows from a tempo that is named a twentieth off', () => {
    for (const bpm of [107.5, 117]) {
      const { machine, heard } = played(8, workshop);
      const draft = draftPattern(heard, { ...grid, bpm }, 'ref');
      if ('why' in draft) throw new Error(draft.why);
      expect(differences(machine, draft.pins)).toBe(0);
    }
  });

  it('says after how many steps strikes come back, where it is not the number given', () => {
    const { heard } = played(9, workshop);
    expect(draftPattern(heard, { ...grid, steps: 80 }, 'ref')).toMatchObject({
      why: expect.stringMatching(
        /^only \d+ % of the strikes come back after 80 steps, but (9\d|100) % after 96$/,
      ) as string,
    });
  });

  it('keeps the pins of a swing, each where it lies, as doubtful', () => {
    const { heard, machine } = played(11, workshop);
    const stepS = 60 / (112 * 4);
    // Every other drum pin a third of a step later.
    const drums = machine.pins.filter(({ channel }) => channel === 1).map(({ step }) => step);
    const swung = new Set(drums.filter((_, i) => i % 2 === 1));
    const { strikes } = play(
      machine,
      workshop,
      { bpm: 112, turns: 5, startPosition: 28.4 },
      seededRandom(61),
    );
    const moved = strikes
      .map(({ timeS, channel, step }) => ({
        timeS: timeS + (channel === 1 && swung.has(step) ? stepS / 3 : 0),
        channel: channels[channel],
      }))
      .sort((a, b) => a.timeS - b.timeS);
    expect(moved.length).toBe(heard.length);
    const draft = draftPattern(moved, grid, 'ref');
    if ('why' in draft) throw new Error(draft.why);
    const drafted = draft.pins.filter(({ channel }) => channel === 'drum');
    expect(drafted).toHaveLength(drums.length);
    expect(drafted.filter(({ isSure }) => isSure)).toHaveLength(drums.length - swung.size);
    for (const { apart, step } of drafted.filter(({ isSure }) => !isSure)) {
      expect(apart).toBeGreaterThan(0.25);
      expect(apart).toBeLessThan(0.42);
      expect(step % 1).toBeCloseTo(apart, 6);
    }
  });

  it('says of a channel between the steps that it may belong to the next one', () => {
    const { heard } = played(12, { ...workshop, channelMs: { drum: 80 } }); // 0.6 of a step
    const draft = draftPattern(heard, grid, 'ref');
    if ('why' in draft) throw new Error(draft.why);
    expect(draft.between.map(({ channel }) => channel)).toEqual(['drum']);
    expect(draft.pins.some(({ channel, isSure }) => channel === 'drum' && isSure)).toBe(false);
    expect(draft.pins.every(({ channel, isSure }) => channel === 'drum' || isSure)).toBe(true);
  });

  it.each([48, 72, 192])('does not take %i steps for 96 without a word', (steps) => {
    const { heard } = played(13, workshop, { turns: 6 });
    const draft = draftPattern(heard, { ...grid, steps }, 'ref');
    if ('why' in draft) expect(draft.why).toMatch(/after 96$/);
    else expect(draft.shorter).toBe(96);
  });

  it('cannot tell from one turn, from a few strikes, or without the reference', () => {
    const { heard } = played(10, workshop, { turns: 1.6 });
    expect(draftPattern(heard, grid, 'ref')).toMatchObject({
      why: expect.stringMatching(/^it holds 1\.6 turns/) as string,
    });
    expect(draftPattern(heard.slice(0, 10), grid, 'ref')).toHaveProperty('why');
    expect(draftPattern(heard, grid, 'nobody')).toHaveProperty('why');
  });

  it('has nothing to say of strikes by chance', () => {
    for (const seed of [1, 2, 3, 4, 5]) {
      const random = seededRandom(seed);
      const chance = Array.from({ length: 300 }, (_, i) => ({
        timeS: random.between(0, 60),
        channel: channels[i % 4],
      })).sort((a, b) => a.timeS - b.timeS);
      expect(draftPattern(chance, grid, 'ref')).toHaveProperty('why');
    }
  });
});
