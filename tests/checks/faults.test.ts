/** One take of each fault and of none; how often the findings are right is measured in tests/bench/checks.bench.ts. */
import { describe, expect, it } from 'vitest';
import { runChecks, sectionsOf } from '../../analysis/checks/index.ts';
import { awayFromEdges } from '../../analysis/checks/pattern-shift.ts';
import { pinsOff } from '../../analysis/checks/pin-error.ts';
import { shafts, wobblesOf } from '../../analysis/checks/shaft-wobble.ts';
import { driftOf } from '../../analysis/checks/tempo-drift.ts';
import { soundCase } from './cases.ts';
import { faults } from './faults.ts';
import { simulate } from './simulate.ts';

const seed = 77;
const sound = () => soundCase(seed);
const plain = simulate(sound().machine, sound().truth, sound().how, seed).study;

describe('a sound machine', () => {
  it('has no finding, and still a part of the report from each check that measured', () => {
    expect(runChecks(plain).filter(({ kind }) => kind !== 'unrepeatable')).toEqual([]);
    expect(sectionsOf(plain).map(({ id }) => id)).toEqual([
      'pin-error',
      'sector-edge',
      'apart',
      'tempo-drift',
      'shaft-wobble',
    ]);
  });
});

describe('one fault of three times the interval', () => {
  it.each(faults)('$name: $kind', ({ add, kind, raised }) => {
    // The first machine from the seed on that can have the fault: some have too few pins at an edge.
    let faulty: ReturnType<typeof add> = null;
    for (let at = seed; faulty === null && at < seed + 5; at++) {
      const { machine, truth, how } = soundCase(at);
      faulty = add(soundCase(at), simulate(machine, truth, how, at).study, at);
    }
    if (faulty === null) throw new Error(`no machine from seed ${seed} on can have it`);
    const { study, where } = faulty;
    const found = runChecks(study).filter((finding) => finding.kind === kind);
    expect(found.some((finding) => raised?.(finding, where) ?? true)).toBe(true);
  });
});

describe('what is measured is what was put in', () => {
  it('a pin', () => {
    const { machine, truth, how } = sound();
    const at = machine.pins.findIndex(({ channel, step }) => channel === 1 && step > 20);
    const pinMs = machine.pins.map((_, i) => (i === at ? 4 : 0));
    const off = pinsOff(simulate(machine, { ...truth, pinMs }, how, seed).study);
    expect(off.map(({ step }) => step)).toEqual([machine.pins[at].step]);
    expect(Math.abs(off[0].offMs - 4)).toBeLessThan(2 * off[0].ci95Ms);
  });
  it('a shaft’s amplitude', () => {
    const { machine, truth, how } = sound();
    const shaft = shafts(machine)[1];
    const { steps, stepsPerBeat } = machine.description.barrel;
    const periodTurns = (shaft.beatsPerTurn * stepsPerBeat) / steps;
    const turnMs = (60_000 / how.bpm) * (steps / stepsPerBeat);
    const wobble = { fraction: (3 * 2 * Math.PI) / (periodTurns * turnMs), periodTurns };
    const found = wobblesOf(simulate(machine, { ...truth, wobble }, how, seed).study)!.found;
    expect(found.map((one) => one.shaft?.name)).toEqual([shaft.name]);
    expect(Math.abs(found[0].amplitudeMs - 3)).toBeLessThan(2 * found[0].ci95Ms);
  });
  it('a drift', () => {
    const { machine, truth, how } = sound();
    const drift = driftOf(simulate(machine, { ...truth, driftPerTurn: 0.002 }, how, seed).study)!;
    const put = 2000 * how.turns;
    // First and last strokes lie a little inside the take, so up to a fifth of a turn is not seen.
    expect(drift.changePpm).toBeGreaterThan(put - 2000 * 0.3 - 2 * drift.ci95Ppm);
    expect(drift.changePpm).toBeLessThan(put + 2 * drift.ci95Ppm);
  });
});

describe('the pattern moved away from an edge', () => {
  it('leaves the fewest pins there', () => {
    const { machine } = sound();
    const pins = [0, 1, 10].map((step) => ({ step, channel: 1, line: null }));
    const shift = awayFromEdges({ ...machine, pins }, { side: 'first', sector: null, steps: 2 })!;
    // Two steps later, or one less than nothing earlier: 0 and 1 leave the first two steps, 10 reaches no edge.
    expect(shift).toEqual({ steps: 2, before: 2, after: 0 });
  });
});

describe('a shaft that is locked to the barrel', () => {
  it('is named, and no pin is blamed for it', () => {
    const { machine, truth, how } = sound();
    const { steps, stepsPerBeat } = machine.description.barrel;
    const turnMs = (60_000 / how.bpm) * (steps / stepsPerBeat);
    const wobble = { fraction: (2.3 * 2 * Math.PI) / (0.5 * turnMs), periodTurns: 0.5, phase: 0.7 };
    const { study } = simulate(machine, { ...truth, wobble }, how, seed);
    const [found] = wobblesOf(study)!.found;
    expect(found.locked).toBe(true);
    expect(Math.abs(found.amplitudeMs - 2.3)).toBeLessThan(2 * found.ci95Ms);
    const kinds = runChecks(study).map(({ kind }) => kind);
    expect(kinds).toContain('shaft-wobble');
    expect(kinds).not.toContain('pin-error');
  });
});
