/** A click on its own track: the machine against it, heard from samples, whatever the recorder's own clock does. */
import { describe, expect, it } from 'vitest';
import { runChecks, sectionsOf } from '../../analysis/checks/index.ts';
import type { Study } from '../../analysis/checks/check.ts';
import { clickOf } from '../../analysis/checks/click.ts';
import { hear } from '../../analysis/hits/hear.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import { summarisePins } from '../../analysis/strokes/pins.ts';
import { play, type Strike } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';
import { recordings, recordingsMissing } from '../rig/recordings.ts';
import { makeTake } from '../rig/take.ts';

const seed = 61;
const sampleRate = 48_000;
const ids = ['block', 'tom', 'click'];
/** The click at exactly 120 a minute; the machine so much faster, parts per million. */
const fastPpm = 250;

function machineWithClick(): Machine {
  const drawn = rigMachine({ channels: ids, steps: 48, seed });
  const channels = ids.map((id, i) => ({ id, onBarrel: i === 1 }));
  const description = machineSchema.parse({ ...drawn.description, channels, click: 'click' });
  return { ...drawn, description, pins: drawn.pins.filter(({ channel }) => channel !== 2) };
}

/** @param clockPpm how much longer the recorder makes every second */
async function recorded(clockPpm: number): Promise<Study> {
  const machine = machineWithClick();
  const how = { bpm: 120 * (1 + fastPpm / 1e6), turns: 5 };
  const { strikes, durationS } = play(machine, {}, how, seededRandom(seed));
  // Between the machine's own strikes, as anything that is not geared to it: it drifts against them by 7 ms in the take.
  const clicks = Array.from({ length: Math.floor((durationS - 0.5) / 0.5) }, (_, k): Strike => ({
    ...strikes[0],
    channel: 2,
    timeS: 0.37 + 0.5 * k,
  }));
  const all = recordings(sampleRate);
  const { take } = makeTake(machine, {
    sampleRate,
    durationS: durationS * (1 + clockPpm / 1e6) + 1,
    strikes: [...strikes, ...clicks]
      .map((strike) => ({ ...strike, timeS: strike.timeS * (1 + clockPpm / 1e6) }))
      .sort((a, b) => a.timeS - b.timeS),
    sounds: ['Wood_Block_1_High', 'Tom_Low_1', 'Wood_Block_2_Low'].map((name) =>
      all.filter((one) => one.name === name),
    ),
    tracks: [[0], [1], [2]],
    snrDb: 50,
    seed,
  });
  const told = { ...take, description: { tempo: 120 } };
  const hearing = await hear(told, machine, {});
  const strokes = layOnBarrel(hearing, machine, told);
  const groups = summariseGroups(strokes, machine);
  return { machine, take: told, hearing, strokes, groups, pins: summarisePins(strokes, machine) };
}

/** "the machine is 250 ± 3 parts per million fast" */
function said(study: Study): { ppm: number; ci95: number; sentence: string } {
  const sentence = sectionsOf(study).find(({ id }) => id === 'tempo-drift')!.sentences[0];
  const found = /the machine is (\d+) ± (\d+) parts per million (fast|slow)/.exec(sentence);
  if (found === null) throw new Error(sentence);
  return { ppm: Number(found[1]) * (found[3] === 'fast' ? 1 : -1), ci95: Number(found[2]), sentence };
}

describe.skipIf(recordingsMissing !== null)('a click on its own track', () => {
  it.each([-800, 0, 450])('with a recorder’s clock that is off by %d parts per million', async (clockPpm) => {
    const study = await recorded(clockPpm);
    const click = clickOf(study)!;
    // What the recorder makes of the click's half second.
    expect(Math.abs(click.secondsPerClick / 0.5 - 1 - clockPpm / 1e6)).toBeLessThan(2e-6);
    const { ppm, ci95, sentence } = said(study);
    expect(ci95).toBeLessThan(20);
    expect(Math.abs(ppm - fastPpm)).toBeLessThanOrEqual(ci95 + 1);
    expect(sentence).toContain('the recorder’s clock is in both and cancels');
    // A click is no striker: nothing is found amiss with it, and it has no lateness.
    expect(runChecks(study).filter(({ channel }) => channel === 'click')).toEqual([]);
    expect(
      study.groups.find(({ channel, meanMs }) => channel === 'click' && meanMs !== null),
    ).toBeUndefined();
  });
  it('without the click the clock is part of the answer, and that is said', async () => {
    const study = await recorded(450);
    const description = { ...study.machine.description, click: undefined };
    const without = { ...study, machine: { ...study.machine, description } };
    const sentence = sectionsOf(without).find(({ id }) => id === 'tempo-drift')!.sentences[0];
    // 250 parts per million fast, less the 450 that the clock makes of every second.
    const found = /(\d+) ± (\d+) parts per million slower than the 120 aimed at/.exec(sentence)!;
    expect(Math.abs(Number(found[1]) - 200)).toBeLessThanOrEqual(Number(found[2]) + 1);
    expect(sentence).toContain('The recorder’s own clock is in this');
  });
});
