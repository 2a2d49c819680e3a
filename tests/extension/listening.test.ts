/** Listening to a recording that grows: how often it speaks, how much it hears at a time, and when it ends. */
import { describe, expect, it } from 'vitest';
import { listen } from '../../extension/common/listening.ts';
import type { StretchReport } from '../../analysis/report/listening.ts';
import type { Report } from '../../analysis/results/results.ts';

const turnS = 12;
const empty = {
  machine: 'm',
  take: 'listening',
  channels: [],
  tracks: [{}],
  hits: [],
  groups: [],
  pins: [],
  findings: [],
};

/** A recorder that is stopped after `recordedS`, and a computer that hears a second of sound in `cost` seconds. */
async function session(recordedS: number, cost: number, endAfterS = Infinity) {
  let time = 0;
  const asked: number[] = [];
  const saidAt: number[] = [];
  await listen(
    {
      now: () => time,
      hear: (lastS) => {
        asked.push(lastS);
        const grown = Math.min(time, recordedS);
        const stretchS = Math.min(lastS, grown);
        time += cost * stretchS;
        if (grown === 0) return Promise.resolve(null);
        const tempo = { bpm: 100, bpmCi95: 0.01, secondsPerTurn: grown < turnS ? null : turnS };
        const report = { ...empty, tempo } as unknown as Report;
        return Promise.resolve<StretchReport>({ report, recordedS: grown, stretchS });
      },
      say: (line) => {
        if (!line.startsWith(' ')) saidAt.push(time);
      },
      wait: (seconds) => {
        time += Math.max(0, seconds);
        return Promise.resolve();
      },
      isEnded: () => time >= endAfterS,
    },
    { bpm: null, setpoint: null, maxSetpoint: null },
  );
  return { asked, saidAt, endedAt: time };
}

describe('listening', () => {
  it('speaks once a turn, and ends when the recording has not grown for ten seconds', async () => {
    const { saidAt, endedAt } = await session(120, 0.05);
    const gaps = saidAt.slice(2).map((at, i) => at - saidAt[i + 1]);
    expect(Math.max(...gaps)).toBeLessThan(turnS * 1.1);
    expect(endedAt).toBeGreaterThan(129);
    expect(endedAt).toBeLessThan(146);
  });

  it('hears no more at a time than twenty turns or three minutes, in an hour too', async () => {
    const { asked } = await session(3600, 0.02);
    expect(Math.max(...asked)).toBe(180);
    expect(asked.length).toBeGreaterThan(250);
  });

  it('hears less at a time where the computer is slow, but two turns', async () => {
    const quick = await session(600, 0.05);
    const slow = await session(600, 0.25);
    const slowest = await session(600, 2);
    expect(Math.max(...slow.asked.slice(3))).toBeLessThan(Math.max(...quick.asked.slice(3)));
    // Six tenths of a turn go into hearing.
    expect(slow.asked.at(-1)! * 0.25).toBeLessThanOrEqual(0.6 * turnS + 1e-9);
    expect(slowest.asked.at(-1)).toBe(2 * turnS);
  });

  it('ends when the person says so', async () => {
    expect((await session(3600, 0.05, 100)).endedAt).toBeLessThan(100 + 2 * turnS);
  });
});
