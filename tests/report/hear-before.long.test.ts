import { expect, it } from 'vitest';
import { voicesHeard } from '../../analysis/hits/hear.ts';
import { buildReport } from '../../analysis/report/report.ts';
import { demoTake } from '../rig/demo.ts';
import { heardAgain, movedBy, movedTake, soundsOff, wasHeard } from '../rig/heard-again.ts';
import { studyOf } from '../rig/study.ts';

// A gong rings under the next strikes: cut there, its ring would be in two places.
it('strikers that share tracks: each strike’s sound lies where it was sent, and is heard there again', async () => {
  const { machine, take, played } = await demoTake('3-nearly-there');
  const measured = buildReport(await studyOf(machine, take), []);
  const { channels, barrel } = machine.description;
  const predicted = channels.flatMap(({ id }, c) =>
    barrel.sectors.map(({ id: sector }) => ({
      channel: id,
      sector,
      beforeMs: 0,
      afterMs: c === machine.reference ? 0 : (c % 2 ? 1 : -1) * (0.7 + 0.4 * c),
      ci95Ms: 0.1,
    })),
  );
  const report = { ...measured, advice: { ...measured.advice, predicted } };
  const moved = await movedTake(take, machine, report);
  const anew = await demoTake('3-nearly-there', movedBy(machine, report));
  const known = anew.played.strikes.filter((_, i) => wasHeard(machine, report, played.strikes[i]));
  const off = await soundsOff(machine, moved, anew.take, known);
  const again = await heardAgain(machine, report, moved, undefined, await voicesHeard(take, machine, {}));
  const most = (ms: readonly number[]) =>
    ms.map(Math.abs).sort((a, b) => a - b)[Math.ceil(0.95 * ms.length) - 1];
  expect(again.reduce((sum, { lost }) => sum + lost, 0)).toBe(0);
  for (const [c, { channel, errorMs }] of again.entries()) {
    expect(most(errorMs), `${channel} heard again`).toBeLessThan(0.1);
    expect(most(off[c]), `${channel} itself`).toBeLessThan(0.1);
  }
});
