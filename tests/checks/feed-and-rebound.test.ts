import { describe, expect, it } from 'vitest';
import { runChecks } from '../../analysis/checks/index.ts';
import { rigMachine } from '../rig/machine.ts';
import { simulate } from './simulate.ts';

const seed = 5;
const machine = rigMachine({ channels: ['block', 'gong', 'bell'], seed });
const repeatabilityMs = { block: 0.1, gong: 0.4, bell: 0.4 };
const how = { bpm: 110, turns: 4, startPosition: 3 };
const kinds = (study: Parameters<typeof runChecks>[0]) => runChecks(study).map(({ kind }) => kind);

describe('a feed that runs out', () => {
  const bells = machine.pins.filter(({ channel }) => channel === 2);
  const missing = [2, 3, 4].flatMap((turn) => bells.map(({ step }) => ({ channel: 'bell', step, turn })));
  it('is one finding with the stroke it began at, and none for single strokes', () => {
    const { study } = simulate(machine, { repeatabilityMs, missing }, how, seed);
    const found = runChecks(study);
    expect(found.map(({ kind }) => kind)).toEqual(['feed-ran-out']);
    expect(found[0]).toMatchObject({ channel: 'bell', turn: 2, step: bells[0].step });
  });
  it('is not a single stroke missing at the end, nor a gap that closes again', () => {
    const last = bells[bells.length - 1];
    const once = [{ channel: 'bell', step: last.step, turn: 3 }];
    expect(kinds(simulate(machine, { repeatabilityMs, missing: once }, how, seed).study)).not.toContain(
      'feed-ran-out',
    );
    const gap = bells.map(({ step }) => ({ channel: 'bell', step, turn: 1 }));
    const { study } = simulate(machine, { repeatabilityMs, missing: gap }, how, seed);
    expect(kinds(study)).not.toContain('feed-ran-out');
    expect(kinds(study)).toContain('missing-hit');
  });
});

describe('rebounds', () => {
  const after =
    (delayS: number, levelDb: number) =>
    (played: { strikes: readonly { timeS: number; channel: number }[] }) =>
      played.strikes
        .filter(({ channel }) => channel === 1)
        .filter((_, i) => i % 3 === 0)
        .map(({ timeS, channel }, i) => ({ timeS: timeS + delayS + 0.001 * (i % 3), channel, levelDb }));
  it('are one finding a channel, and no stray hits', () => {
    const { study } = simulate(machine, { repeatabilityMs }, how, seed, after(0.14, -25));
    const found = runChecks(study);
    expect(found.map(({ kind }) => kind)).toEqual(['rebound']);
    expect(found[0].channel).toBe('gong');
    expect(found[0].message).toContain('again about 141 ms later, 13 dB weaker');
  });
  it('are weaker than their stroke: louder hits are strays', () => {
    const { study } = simulate(machine, { repeatabilityMs }, how, seed, after(0.14, -6));
    expect(kinds(study)).toEqual(['extra-hit']);
  });
  it('are not hits strewn over the take', () => {
    const { study } = simulate(machine, { repeatabilityMs }, how, seed, ({ durationS }) =>
      [0.21, 0.47, 0.83].map((share) => ({ timeS: share * durationS, channel: 1, levelDb: -20 })),
    );
    expect(kinds(study)).toEqual(['extra-hit']);
  });
});
