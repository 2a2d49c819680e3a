// A recorder that runs long before the drive, or after it: by the pattern alone strokes would be due there too.
import { expect, test } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';
import { score } from '../rig/score.ts';
import { makeTake } from '../rig/take.ts';
import { struck } from './synthetic.ts';

const channels = ['reference', 'wood', 'drum', 'bell'];
const sounds = [struck(2400, 0.05), struck(900, 0.2), struck(140, 0.5), struck(1800, 1)];
const restS = 40;

test.each([
  ['starts late', restS],
  ['stops early', 0],
])('a drive that %s: every stroke is heard, none is made up, progress only grows', async (_, fromS) => {
  const machine = rigMachine({ channels, together: 0.3, seed: 3 });
  const repeatabilityMs = Object.fromEntries(channels.map((id) => [id, 0.5]));
  const { strikes, durationS } = play(
    machine,
    { repeatabilityMs },
    { bpm: 112, turns: 2 },
    seededRandom(3).split('play'),
  );
  const played = strikes.map((strike) => ({ ...strike, timeS: strike.timeS + fromS }));
  const { take } = makeTake(machine, {
    sampleRate: 48_000,
    durationS: durationS + restS,
    strikes: played,
    sounds: sounds.map((sound) => [sound]),
    tracks: [[0, 1, 2, 3]],
    snrDb: 45,
    gainDb: 3,
    seed: 3,
  });
  const told: number[] = [];
  const { hits } = await hear(take, machine, { progress: (_stage, fraction) => told.push(fraction) });
  channels.forEach((_id, c) => {
    const {
      played: due,
      heard,
      matched,
    } = score(
      played.filter(({ channel }) => channel === c).map(({ timeS }) => timeS),
      [...hits.timeS].filter((_time, i) => hits.channel[i] === c),
    );
    expect([heard, matched]).toEqual([due, due]);
  });
  expect(told).toEqual([...told].sort((a, b) => a - b));
  expect(told.at(-1)).toBe(1);
});
