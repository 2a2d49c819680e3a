// The workshops' own machines: what they play is what their truth says, and a workshop without a fault ends well.
import { describe, expect, it } from 'vitest';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { steadyDrive } from './workshops/drive.ts';
import { runWorkshop } from './workshops/loop.ts';
import { play, truthOf } from './workshops/physics.ts';
import { chance } from './workshops/random.ts';
import type { Situation } from './workshops/situation.ts';
import { situations } from './workshops/situations.ts';
import { build, usualShape } from './workshops/world.ts';

const quiet = { strokeMs: 0, referenceStrokeMs: 0, drive: { ...steadyDrive, wander: 0 } };
const solve = nodeSolver();

describe('a workshop’s machine', () => {
  it('strikes when its truth says', () => {
    const world = build({ ...usualShape, ...quiet, referencePinMs: 0, pinMs: 0 }, 7);
    const strikes = play(world, chance(7));
    const turnS = 12;
    const stepS = turnS / world.steps;
    // A reference without errors: its first strike tells when every step is due.
    const first = strikes.find(({ striker }) => striker === 0)!.timeS;
    for (const { striker, sector, ms } of truthOf(world)) {
      const pins = world.pins.filter((pin) => pin.striker === striker && pin.trueSector === sector);
      const late = strikes
        .filter((strike) => strike.striker === striker)
        .flatMap(({ timeS }) => {
          const steps = (timeS - first - ms / 1000) / stepS;
          // Beats are four steps apart, and the first strike may be any beat's.
          const fits = pins.some(
            ({ writtenStep }) => Math.abs(((((steps - writtenStep) % 4) + 6) % 4) - 2) < 1e-3,
          );
          return fits ? [timeS] : [];
        });
      expect(late.length, `${striker} in ${sector}`).toBeGreaterThanOrEqual(pins.length * (world.turns - 1));
    }
  });

  it('is measured as it is where nothing is left to chance', async () => {
    const calm: Situation = {
      name: 'calm',
      part: 'A',
      takes: 1,
      shape: { ...quiet, pinMs: 0, referencePinMs: 0 },
    };
    for (const seed of [1, 2, 3]) {
      const { rounds } = await runWorkshop(calm, seed, solve);
      expect(rounds[0].refused).toBeNull();
      expect(rounds[0].errorsMs.length).toBe(6);
      expect(Math.max(...rounds[0].errorsMs.map(Math.abs))).toBeLessThan(0.02);
    }
  });

  it('is the same for the same seed', () => {
    const played = () => play(build(usualShape, 3), chance(3));
    expect(played()).toEqual(played());
  });
});

describe('a workshop', () => {
  it('ends well where nothing is wrong', async () => {
    const usual = situations.find(({ name }) => name === 'usual')!;
    const { rounds, lastWorst } = await runWorkshop({ ...usual, takes: 3 }, 1, solve);
    expect(rounds[0].worst).toBeGreaterThan(1);
    expect(lastWorst).toBeLessThanOrEqual(1);
    expect(rounds.some(({ worse, falseNothing }) => worse === true || falseNothing)).toBe(false);
  });

  it('has names of its own', () => {
    expect(new Set(situations.map(({ name }) => name)).size).toBe(situations.length);
    expect(situations.length).toBeGreaterThanOrEqual(50);
  });
});
