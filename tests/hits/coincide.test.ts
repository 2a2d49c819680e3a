/** Two strikers within a millisecond on one microphone: exact still, and honest about it; or set aside. */
import { expect, test } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import { soundFrom } from '../../samples/place.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';
import { makeTake } from '../rig/take.ts';
import { struck } from './synthetic.ts';

const channels = ['block', 'drum'];
const machine = rigMachine({ channels, seed: 2, density: 0.3 });
const { strikes, durationS } = play(
  machine,
  { channelMs: { drum: 0.4 }, repeatabilityMs: { block: 0.1, drum: 0.1 } },
  { bpm: 110, turns: 3 },
  seededRandom(5),
);

async function heardWith(drumGain: number) {
  const drum = struck(140, 0.12);
  const quieter = soundFrom(
    'drum',
    drum.samples.map((x) => drumGain * x),
    drum.sampleRate,
  );
  const { take } = makeTake(machine, {
    sampleRate: 48_000,
    durationS: durationS + 0.5,
    strikes,
    sounds: [[struck(900, 0.1)], [quieter]],
    tracks: [[0, 1]],
    snrDb: 60,
    gainDb: 1,
    seed: 1,
  });
  const { hits } = await hear(take, machine, {});
  return strikes.flatMap(({ channel, timeS }) => {
    const together = strikes.some(
      (other) => other.channel !== channel && Math.abs(other.timeS - timeS) < 0.0009,
    );
    const i = hits.timeS.findIndex((t, k) => hits.channel[k] === channel && Math.abs(t - timeS) < 0.005);
    return i < 0
      ? []
      : [{ channel, together, apartS: hits.timeS[i] - timeS, sdS: hits.timeSdS[i], why: hits.why[i] }];
  });
}

test('as loud: both are heard, with a larger uncertainty that holds', async () => {
  const heard = await heardWith(1);
  expect(heard.length).toBeGreaterThanOrEqual(0.98 * strikes.length);
  const close = heard.filter(({ together }) => together);
  expect(close.length).toBeGreaterThan(20);
  expect(Math.min(...close.map(({ sdS }) => sdS))).toBeGreaterThanOrEqual(10e-6);
  expect(close.every(({ why }) => why === null)).toBe(true);
  const lone = heard.filter(({ together }) => !together);
  expect(Math.min(...lone.map(({ sdS }) => sdS))).toBeLessThan(5e-6);
  for (const c of [0, 1]) {
    const usual = lone.find(({ channel }) => channel === c)!.apartS;
    const own = close.filter(({ channel }) => channel === c);
    const within = own.filter(({ apartS, sdS }) => Math.abs(apartS - usual) < 2.5 * sdS);
    expect(within.length).toBeGreaterThanOrEqual(0.9 * own.length);
  }
});

test('30 dB fainter: set aside as masked where they strike together, and used where not', async () => {
  const drums = (await heardWith(0.03)).filter(({ channel }) => channel === 1);
  const close = drums.filter(({ together }) => together);
  expect(close.length).toBeGreaterThan(5);
  expect(close.every(({ why }) => why === 'masked')).toBe(true);
  const lone = drums.filter(({ together }) => !together);
  expect(lone.length).toBeGreaterThan(10);
  expect(lone.every(({ why }) => why === null)).toBe(true);
});
