// A take of another tune than take.jsonc names is told as that, and faults of a machine are never taken for another tune.
import { expect, test } from 'vitest';
import { runChecks } from '../../analysis/checks/index.ts';
import type { Machine, Pin } from '../../analysis/machine/machine.ts';
import { sceneMachine, see, type Scene } from './scenes.ts';

const seeds = [1, 2];
const small = { density: 0.1, strikers: 3 };

/** The machine with two tunes, the first of them asked for. */
function of(machine: Machine, tune: 'march' | 'waltz', waltz: readonly Pin[]): Machine {
  const row = (name: string, pins: readonly Pin[]) => ({ name, pattern: name, patternFile: name, pins });
  const march = machine.pins;
  const tunes = [row('march', march), row('waltz', waltz)];
  return { ...machine, tune, tunes, pins: tune === 'march' ? march : waltz };
}

/** The tune with every so many of its pins, the reference's apart, two steps on. */
function variation({ pins, description }: Machine, every: number): Pin[] {
  const { steps } = description.barrel;
  const taken = new Set(pins.map(({ channel, step }) => `${channel} ${step}`));
  let k = 0;
  return pins
    .map((pin) => {
      const step = (pin.step + 2) % steps;
      const moves = pin.channel > 0 && k++ % every === 0 && !taken.has(`${pin.channel} ${step}`);
      return moves ? { ...pin, step } : pin;
    })
    .sort((a, b) => a.step - b.step || a.channel - b.channel);
}

const others: Record<string, (machine: Machine, seed: number) => readonly Pin[]> = {
  'another tune': (_, seed) => sceneMachine({ seed: seed + 500, ...small }).pins,
  'a variation': (machine) => variation(machine, 8),
};

/** Every eighth pin from the third, a step on: none of those that the variation moves. */
const misplaced: Scene['fitted'] = (pin, machine) => {
  const own = machine.pins.filter(({ channel }) => channel > 0);
  const k = own.indexOf(pin);
  return k % 8 === 3 && k < 24 ? (pin.step + 1) % machine.description.barrel.steps : pin.step;
};
const silentFrom =
  (share: number): Scene['heard'] =>
  (strikes) => {
    const [from, to] = [strikes[0].timeS, strikes[strikes.length - 1].timeS];
    return strikes.filter(({ timeS, channel }) => channel !== 1 || timeS < from + share * (to - from));
  };
const faults: Record<string, Partial<Scene>> = {
  nothing: {},
  'three pins in other holes': { fitted: misplaced },
  'a sixth of the strikes missing': { missing: 1 / 6 },
  'a dead channel': { heard: silentFrom(0) },
  'a dead channel and three pins in other holes': { heard: silentFrom(0), fitted: misplaced },
  'a dead channel and a sixth of the other strikes missing': { heard: silentFrom(0), missing: 1 / 6 },
  'a feed that ran out': { heard: silentFrom(0.3) },
};
const cases = Object.keys(others).flatMap((other) =>
  Object.keys(faults).flatMap((fault) =>
    (fault === 'nothing' ? [2.5, 1.2] : [1.2]).map((turns) => [other, fault, turns] as const),
  ),
);

function look(other: string, fault: string, turns: number, seed: number) {
  const machine = sceneMachine({ seed, ...small });
  const waltz = others[other](machine, seed);
  const played = of(machine, 'march', waltz);
  const scene = { seed, turns, missing: 0, machine: played, ...faults[fault] };
  return { scene, asWaltz: of(machine, 'waltz', waltz) };
}

test.each(cases)('beside %s, a machine with %s is not taken for it (%s turns)', (other, fault, turns) => {
  for (const seed of seeds) {
    const { otherTune, perhapsTune } = see(look(other, fault, turns, seed).scene).study.strokes;
    expect([otherTune, perhapsTune], `seed ${seed}`).toEqual([undefined, undefined]);
  }
});

test.each(cases.filter(([other, fault]) => other === 'another tune' || fault === 'nothing'))(
  'named as %s, a take with %s is told, and nothing else is (%s turns)',
  (other, fault, turns) => {
    for (const seed of seeds) {
      const { scene, asWaltz } = look(other, fault, turns, seed);
      const { study } = see({ ...scene, described: asWaltz });
      const findings = runChecks(study);
      expect(
        findings.map(({ kind }) => kind),
        `seed ${seed}`,
      ).toEqual(['other-tune']);
      expect(findings[0].message).toContain('sounds like march, not like waltz');
      expect(study.groups.every(({ meanMs }) => meanMs === null)).toBe(true);
    }
  },
);

test('of two tunes with the same pins nothing is said', () => {
  const machine = sceneMachine({ seed: 1, ...small });
  const turned = machine.pins.map((pin) => ({ ...pin, step: (pin.step + 4) % 96 }));
  const described = of(
    machine,
    'waltz',
    turned.sort((a, b) => a.step - b.step),
  );
  expect(see({ seed: 1, machine, described }).study.strokes.otherTune).toBeUndefined();
});
