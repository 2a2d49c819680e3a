// Where on the barrel hits without a pin fall says what to look for.
import { expect, test } from 'vitest';
import { runChecks, sectionsOf } from '../../analysis/checks/index.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { simulate } from './simulate.ts';
import { soundCase } from './cases.ts';

const seed = 77;
const channel = 'striker-1';

/** A step far from all of the channel's pins. */
function freeStep({ pins, description }: Machine): number {
  const own = pins.filter((pin) => description.channels[pin.channel].id === channel).map((pin) => pin.step);
  return [...Array(description.barrel.steps).keys()].find(
    (step) => step > 2 && own.every((pin) => Math.abs(pin - step) > 2),
  )!;
}

function withExtra(positions: (machine: Machine) => readonly number[]) {
  const { machine, truth, how } = soundCase(seed);
  const extra = positions(machine).map((position) => ({ channel, position }));
  const { study } = simulate(machine, { ...truth, extra }, how, seed);
  return { study, found: runChecks(study).filter(({ kind }) => kind === 'extra-hit') };
}

test('at one place of the barrel turn after turn: a burr, and the plot shows them above each other', () => {
  const { study, found } = withExtra((machine) => {
    const { steps } = machine.description.barrel;
    return [1, 2, 3].map((turn) => turn * steps + freeStep(machine) + 0.3);
  });
  expect(found).toHaveLength(1);
  expect(found[0].message).toMatch(/^3 hits .* always at the same place of the barrel/);
  const { plot } = sectionsOf(study).find(({ id }) => id === 'extra-hit')!;
  const steps = plot!.series[0].points.map(([step]) => step!);
  expect(Math.max(...steps) - Math.min(...steps)).toBeLessThan(0.1);
  expect(plot!.yLabel).toContain(channel);
});

test('once: the time and the place, and no cause', () => {
  const { found } = withExtra((machine) => [machine.description.barrel.steps + freeStep(machine)]);
  expect(found[0].message).toMatch(/^1 hit .* at [\d.]+ s \(turn 1, step [\d.]+\)$/);
});

test('beside its own pin: a bounce or the same stroke twice, no burr', () => {
  const { found } = withExtra((machine) => {
    const { steps } = machine.description.barrel;
    const { step } = machine.pins.find(
      (pin) => machine.description.channels[pin.channel].id === channel && pin.step > 2,
    )!;
    return [1, 2].map((turn) => turn * steps + step + 0.45);
  });
  expect(found[0].message).toContain('beside a pin of its own');
  expect(found[0].message).not.toContain('burr');
});
