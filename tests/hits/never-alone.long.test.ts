// A room with a microphone to each striker, and a reference that never sounds without another: as most music has it.
import { expect, test } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import { seededRandom } from '../../samples/random.ts';
import { machineOf } from '../machine/machine.ts';
import { score } from '../rig/score.ts';
import { makeTake } from '../rig/take.ts';
import { struck } from './synthetic.ts';

const sounds = [struck(2400, 0.05), struck(900, 0.2), struck(140, 0.5), struck(1800, 1)];
/** Step and channel: the drum or the bell comes with every stroke of the reference. */
const pins = [
  ...[0, 4, 8, 12].map((step) => [step, 0] as const),
  ...[1, 3, 6, 8, 11, 14].map((step) => [step, 1] as const),
  ...[0, 2, 5, 8, 9, 13].map((step) => [step, 2] as const),
  ...[1, 4, 7, 10, 12, 15].map((step) => [step, 3] as const),
];
const machine = machineOf(
  {
    name: 'Never alone',
    barrel: { steps: 16, stepsPerBeat: 4, diameterMm: 200, sectors: [{ id: 'A', from: 0 }] },
    reference: 'block',
    channels: [{ id: 'block', onBarrel: false }, { id: 'wood' }, { id: 'drum' }, { id: 'bell' }],
  },
  [...pins].sort(([a], [b]) => a - b),
);
const latenessS = [0, 0.005, -0.004, 0.001];

test.each([1, 2])('every track bleeds into every other at −20 dB, seed %i: all are heard', async (seed) => {
  const random = seededRandom(seed);
  const strikes = Array.from({ length: 5 }, (_, turn) =>
    pins.map(([step, channel]) => ({
      timeS: 0.3 + (turn * 16 + step) * 0.16 + latenessS[channel] + 0.0002 * random.normal(),
      channel,
      ...{ step, foundStep: step, turn, trueLatenessMs: 0, pinned: 'right' as const },
    })),
  )
    .flat()
    .sort((a, b) => a.timeS - b.timeS);
  const { take } = makeTake(machine, {
    sampleRate: 48_000,
    durationS: strikes[strikes.length - 1].timeS + 1,
    strikes,
    sounds: sounds.map((sound) => [sound]),
    tracks: sounds.map((_, c) => [c]),
    snrDb: 30,
    gainDb: 2,
    bleed: { db: -20, delayS: 0.002 },
    seed,
  });
  const { hits } = await hear(take, machine, {});
  for (const c of sounds.keys()) {
    const played = strikes.filter(({ channel }) => channel === c).map(({ timeS }) => timeS);
    const heard = hits.timeS.filter((_, i) => hits.channel[i] === c);
    expect(score(played, [...heard]).f1, `channel ${c}`).toBeGreaterThanOrEqual(0.99);
  }
});
