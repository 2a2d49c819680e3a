/** What is kept of strikes where nothing is due, in a quiet room and where someone talks. */
import type { Strike } from '../../analysis/hits/explain/strike.ts';
import { expect, test } from 'vitest';
import { dueNear } from '../../analysis/hits/expect/expected.ts';
import { judgeStrikes } from '../../analysis/hits/select/judge.ts';
import type { RoughRotation } from '../../analysis/rotation/rotation.ts';
import { rigMachine } from '../rig/machine.ts';

const machine = rigMachine({ channels: ['only'], steps: 96, seed: 1 });
const stepS = 0.1;
const turnS = 96 * stepS;
const reachS = 0.015;
const rotation: RoughRotation = {
  found: true,
  startPosition: 0,
  secondsPerStep: stepS,
  positionAt: (timeS) => timeS / stepS,
  timeAt: (position) => position * stepS,
  rivals: [],
  settledBy: 'pattern',
  pieces: [{ from: 0, to: 9600 }],
  offsetS: new Float64Array(1),
  fit: { score: 0, pinned: 0, matched: 0, due: 0, hits: 0 },
};
const strike = (timeS: number, gain = 1): Strike => ({
  timeS,
  timeSdS: 1e-6,
  voice: 0,
  at: 0,
  gain,
  peak: gain,
  like: 1,
});
/** A stroke every fourth step through so many turns. */
const asked = (turns: number) =>
  Array.from({ length: 24 * turns }, (_, i) => ({ channel: 0, sector: 0, timeS: 4 * i * stepS }));

function kept(strays: readonly Strike[], isNoisy: boolean, turns = 8): number[] {
  const due = asked(turns);
  const strikes = [...due.map(({ timeS }) => strike(timeS)), ...strays].sort((a, b) => a.timeS - b.timeS);
  const talk = due.filter((_, i) => isNoisy && i % 5 === 0).map(({ timeS }) => timeS + 0.6 * stepS);
  const sureS = Float64Array.from([...strikes.map(({ timeS }) => timeS), ...talk]).sort();
  const judged = judgeStrikes(strikes, {
    channelOf: [0],
    asked: due,
    dueAt: dueNear(due, reachS),
    sureS,
    machine,
    rotation,
    reachS,
    again: true,
  });
  return judged.strikes.filter((one) => strays.includes(one)).map(({ timeS }) => timeS);
}

test('a pin that nobody wrote down is kept in any room, a single strike in a quiet one only', () => {
  const pin = [0, 1, 2, 5].map((turn) => strike(turn * turnS + 1.5 * stepS));
  const once = strike(3 * turnS + 6.5 * stepS);
  expect(kept([...pin, once], false)).toHaveLength(5);
  expect(kept([...pin, once], true)).toEqual(pin.map(({ timeS }) => timeS));
});

test('where someone talks, what is faint and twice in one turn is not kept', () => {
  expect(kept([strike(1.5 * stepS, 0.3), strike(turnS + 1.5 * stepS, 0.3)], true)).toEqual([]);
  expect(kept([strike(1.5 * stepS), strike(1.6 * stepS)], true)).toEqual([]);
});

test('where one striker of three falls silent half-way, what else sounds is still told from strikes', () => {
  const due = asked(8).flatMap(({ timeS }) =>
    [0, 1, 2].map((channel) => ({ channel, sector: 0, timeS: timeS + channel * stepS })),
  );
  const heard = due.filter(({ channel, timeS }) => channel !== 2 || timeS < 4 * turnS);
  const once = strike(3 * turnS + 3.5 * stepS);
  const strikes = [...heard.map(({ timeS, channel }) => ({ ...strike(timeS), voice: channel })), once];
  strikes.sort((a, b) => a.timeS - b.timeS);
  const talk = Array.from({ length: 80 }, (_, i) => (9.5 + 9 * i) * stepS);
  const sureS = Float64Array.from([...strikes.map(({ timeS }) => timeS), ...talk]).sort();
  const dueAt = dueNear(due, reachS);
  const judged = judgeStrikes(strikes, {
    channelOf: [0, 1, 2],
    asked: due,
    dueAt,
    sureS,
    machine,
    rotation,
    reachS,
    again: true,
  });
  expect(judged.isBent).toBe(true);
  expect(judged.strikes).toEqual(strikes.filter((one) => one !== once));
});

test('a pin that strikes 26 ms late is heard once, and a faint strike on time stays where none follows', () => {
  const due = asked(2);
  const faint = { ...strike(due[5].timeS, 0.08), like: 0.47 };
  const late = strike(due[5].timeS + 0.026);
  const lone = { ...strike(due[9].timeS, 0.2), like: 0.47 };
  const others = due.filter((_, i) => i !== 5 && i !== 9).map(({ timeS }) => strike(timeS));
  const strikes = [...others, faint, late, lone].sort((a, b) => a.timeS - b.timeS);
  const { strikes: kept } = judgeStrikes(strikes, {
    channelOf: [0],
    asked: due,
    dueAt: dueNear(due, reachS),
    sureS: Float64Array.from(strikes, ({ timeS }) => timeS),
    machine,
    rotation,
    reachS,
    again: true,
  });
  expect(kept).toContain(late);
  expect(kept).toContain(lone);
  expect(kept).not.toContain(faint);
});
