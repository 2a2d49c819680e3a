/** One take of each fault and of none; how often the findings are right is measured in tests/bench/checks.bench.ts. */
import { shafts } from '../../analysis/checks/shafts.ts';
import { wobblesOf } from '../../analysis/checks/wobbles.ts';
import { describe, expect, it } from 'vitest';
import { runChecks, sectionsOf } from '../../analysis/checks/index.ts';
import { awayFromEdges } from '../../analysis/checks/pattern-shift.ts';
import { pinsOff } from '../../analysis/checks/pin-error.ts';
import { driftOf } from '../../analysis/checks/tempo-drift.ts';
import type { Study } from '../../analysis/checks/check.ts';
import { thinned } from '../../analysis/checks/plot-points.ts';
import { soundCase } from './cases.ts';
import { faults } from './faults.ts';
import { simulate } from './simulate.ts';

const seed = 77;
const sound = () => soundCase(seed);
/** The sound machine with its second shaft 3 ms out. */
function shaken() {
  const { machine, truth, how } = sound();
  const shaft = shafts(machine)[1];
  const { steps, stepsPerBeat } = machine.description.barrel;
  const periodTurns = (shaft.beatsPerTurn * stepsPerBeat) / steps;
  const turnMs = (60_000 / how.bpm) * (steps / stepsPerBeat);
  const wobble = { fraction: (3 * 2 * Math.PI) / (periodTurns * turnMs), periodTurns };
  return { shaft, study: simulate(machine, { ...truth, wobble }, how, seed).study };
}

const plain = simulate(sound().machine, sound().truth, sound().how, seed).study;

describe('a sound machine', () => {
  it('has no finding, and still a part of the report from each check that measured', () => {
    expect(runChecks(plain).filter(({ kind }) => kind !== 'unrepeatable')).toEqual([]);
    expect(sectionsOf(plain).map(({ id }) => id)).toEqual([
      'pin-error',
      'sector-edge',
      'apart',
      'tempo-drift',
      'beat-steadiness',
      'shaft-wobble',
      'instants',
    ]);
  });
});

describe('the beat’s steadiness', () => {
  const words = (study: Study) =>
    sectionsOf(study)
      .find(({ id }) => id === 'beat-steadiness')!
      .sentences.join(' ');
  it('is the strikes’ where the drive is even', () => {
    expect(words(plain)).toContain('nothing to mend in the drive');
  });
  it('is the drive’s where a shaft is 3 ms out, over the times in which it turns', () => {
    const { study, shaft } = shaken();
    const halfTurnS = (shaft.beatsPerTurn * 60) / sound().how.bpm / 2;
    const [, overS] = /times as much over ([\d.]+) s: that is the drive/.exec(words(study))!;
    expect(Number(overS) / halfTurnS).toBeGreaterThan(0.5);
    expect(Number(overS) / halfTurnS).toBeLessThan(2);
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
    // Each has its sentence and its plot beside its finding.
    // What was missed is drawn by the check of feeds: both count silent strokes.
    const section = sectionsOf(study).find(
      ({ id }) => id === (kind === 'missing-hit' ? 'feed-ran-out' : kind),
    )!;
    expect(section.sentences.length).toBeGreaterThan(0);
    expect(section.plot!.series.some(({ points }) => points.length > 0)).toBe(true);
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
    const { shaft, study } = shaken();
    const found = wobblesOf(study)!.found;
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

describe('two shafts that fold onto each other', () => {
  it('are told apart by nothing in these hits, and what would is said', () => {
    const { machine, truth, how } = sound();
    // The reference strikes every beat. 6.3 turns in 7.3 beats: between two beats a turn, less what the slow shaft turns.
    const drive = { beatsPerOutputTurn: 7.3, stages: [{ name: 'belt', ratio: 6.3 }] };
    const folding = { ...machine, description: { ...machine.description, drive } };
    const { steps, stepsPerBeat } = machine.description.barrel;
    const periodTurns = (7.3 * stepsPerBeat) / steps;
    const turnMs = (60_000 / how.bpm) * (steps / stepsPerBeat);
    const wobble = { fraction: (3 * 2 * Math.PI) / (periodTurns * turnMs), periodTurns };
    const { study } = simulate(folding, { ...truth, wobble }, how, seed);
    const found = runChecks(study).filter(({ kind }) => kind === 'shaft-wobble');
    expect(found.map(({ message }) => message)).toEqual([
      expect.stringContaining(
        'these hits cannot tell it from the input of belt (a turn in 1.16 beats): a pin of the reference off its grid of 1 beat would',
      ),
    ]);
  });
});

describe('what is drawn is what was measured', () => {
  const sectionOf = (study: Study, id: string) => sectionsOf(study).find((section) => section.id === id)!;
  it('the periodogram is highest at the shaft, and there above what scatter alone may reach', () => {
    const { shaft, study } = shaken();
    const { rules, series } = sectionOf(study, 'shaft-wobble').plot!;
    const [course, limit] = series.map(({ points }) => points as [number, number][]);
    const peak = course.reduce((a, b) => (b[1] > a[1] ? b : a));
    expect(Math.abs(peak[0] / shaft.beatsPerTurn - 1)).toBeLessThan(0.05);
    expect(peak[1]).toBeGreaterThan(limit.find(([beats]) => beats === peak[0])![1]);
    expect(rules!.find(({ name }) => name === shaft.name)!.at).toBe(shaft.beatsPerTurn);
    // Where nothing wobbles, nothing reaches the limit.
    const [still, allowed] = sectionOf(plain, 'shaft-wobble').plot!.series;
    still.points.forEach(([, ms], i) => expect(ms!).toBeLessThan(allowed.points[i][1]!));
  });
  it('missed strokes count up to all that were missed', () => {
    const { machine, truth, how } = sound();
    const pin = machine.pins.find(({ channel }) => channel === 1)!;
    const missing = [1, 2].map((turn) => ({ channel: 'striker-1', step: pin.step, turn }));
    const { study } = simulate(machine, { ...truth, missing }, how, seed);
    const [series] = sectionOf(study, 'feed-ran-out').plot!.series;
    expect(series.points.map(([, missed]) => missed)).toEqual([0, 0, 1, 1, 2, 2]);
    expect(sectionOf(study, 'feed-ran-out').sentences).toContain('No feed ran out.');
  });
  it('two that should sound as one: every common stroke, and what one hears', () => {
    const { machine, truth, how } = sound();
    // Both at the same steps, b 3 ms after a.
    const pins = machine.pins.flatMap((pin) =>
      pin.channel === 1 ? [pin, { ...pin, channel: 2 }] : pin.channel === 2 ? [] : [pin],
    );
    const channelMs = { ...truth.channelMs, 'striker-1': 0, 'striker-2': 3 };
    const both = { ...machine, pins };
    const { study } = simulate(both, { ...truth, channelMs }, how, seed);
    const { series, rules } = sectionOf(study, 'apart').plot!;
    const values = series[0].points.map(([, ms]) => ms!);
    expect(values.length).toBeGreaterThan(10);
    expect(values.reduce((a, b) => a + b, 0) / values.length).toBeCloseTo(3, 0);
    expect(rules!.map(({ at }) => at)).toEqual([0, 2, -2]);
  });
  it('points of a long take are thinned to what can be seen, extremes kept', () => {
    const points = Array.from({ length: 10_000 }, (_, i): [number, number] => [i, i === 5555 ? 9 : 0]);
    const kept = thinned(points);
    expect(kept.length).toBeLessThanOrEqual(600);
    expect(kept).toContainEqual([5555, 9]);
    expect(kept.map(([x]) => x)).toEqual(kept.map(([x]) => x).sort((a, b) => a - b));
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
