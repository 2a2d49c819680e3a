// Each striker struck by hand: where in the recording, which microphone stands at it, and how it sounds.
import { expect, test } from 'vitest';
import { hearSolos } from '../../analysis/hits/solos/solos.ts';
import { nearestTracks } from '../../analysis/hits/solos/nearest-track.ts';
import { takeOf, trackOf } from '../rig/take.ts';
import { session, type Session } from './solo-session.ts';
import { machineOf, struck } from './synthetic.ts';

const sampleRate = 16_000;
const usual: Session = {
  sampleRate,
  sounds: [struck(180, 0.35, sampleRate), struck(900, 0.12, sampleRate), struck(2100, 0.5, sampleRate)],
  // Every striker has a microphone at 15 cm; the others stand a metre away, the last one is loud by its gain alone.
  metres: [
    [0.15, 1.1, 1.4],
    [1.0, 0.15, 0.9],
    [1.4, 0.9, 0.15],
  ],
  gainDb: [0, -6, 18],
  noiseDb: -50,
  strikes: 10,
  seed: 1,
};
const all = usual.sounds.map((_, c) => c);

function take(scene: Session) {
  const { tracks } = session(scene);
  const machine = machineOf(scene.sounds.length);
  return { machine, take: takeOf(machine, tracks.map((samples) => trackOf(samples, sampleRate, all))) }; // prettier-ignore
}

const heardIn = (scene: Session, order = ['c0', 'c1', 'c2']) => {
  const { machine, take: made } = take(scene);
  return hearSolos(made, machine, order, {});
};

test.each([1, 2, 3])(
  'seed %i: the microphones are told whatever their gains, and every voice is learnt',
  async (seed) => {
    const { solos, learnt } = await heardIn({ ...usual, seed });
    expect(solos.map(({ channel, tracks }) => [channel, ...tracks])).toEqual([['c0', 0], ['c1', 1], ['c2', 2]]); // prettier-ignore
    expect(solos.map(({ stretch }) => stretch.strikes)).toEqual([10, 10, 10]);
    expect(learnt.saved.map(({ channel, strikes }) => [channel, strikes])).toEqual([['c0', 10], ['c1', 10], ['c2', 10]]); // prettier-ignore
    expect(learnt.unsaved).toEqual([]);
  },
  60_000,
);

test('struck in another order, and something knocked over between: said by the order', async () => {
  const order = ['c2', 'c0', 'c1'];
  const { solos } = await heardIn(usual, order);
  expect(solos.map(({ channel, tracks }) => [channel, ...tracks])).toEqual([['c2', 0], ['c0', 1], ['c1', 2]]); // prettier-ignore
  const knocked = await heardIn({ ...usual, knocks: 3 }, ['-', 'c0', '-', 'c1', '-', 'c2']);
  expect(knocked.solos.map(({ tracks }) => tracks)).toEqual([[0], [1], [2]]);
});

test('microphones that stand alike to a striker are not told apart, and its voice is learnt all the same', async () => {
  const metres = [[0.2, 1.2, 1.2], [1, 0.5, 0.5], [1, 0.5, 0.5]]; // prettier-ignore
  const { solos, learnt } = await heardIn({ ...usual, metres });
  expect(solos.map(({ tracks }) => tracks)).toEqual([
    [0],
    expect.arrayContaining([1, 2]),
    expect.arrayContaining([1, 2]),
  ]);
  expect(learnt.saved.map(({ channel }) => channel)).toEqual(['c0', 'c1', 'c2']);
});

test('a recording with other than the named solos is refused, and says what is in it', async () => {
  await expect(heardIn(usual, ['c0', 'c1'])).rejects.toThrow(
    /^rig: 3 strikers are struck one after another, from 0:02 \(10 strikes\), 0:1\d \(10 strikes\), 0:3\d \(10 strikes\); 2 were named: c0, c1; name them in the order/,
  );
  await expect(heardIn({ ...usual, strikes: 1 })).rejects.toThrow(/^rig: no striker is struck by itself 3 times; 3 were named/); // prettier-ignore
});

test('fewer strikes than a voice needs are said to be too few', async () => {
  const { learnt } = await heardIn({ ...usual, strikes: 5 });
  expect(learnt.saved).toEqual([]);
  expect(learnt.unsaved.map(({ why }) => why)).toEqual(Array.from({ length: 3 }, () => 'it was learnt from 5 strikes, and 8 are needed')); // prettier-ignore
});

test('a dead microphone is nobody’s, and a single striker on several tracks is not told', () => {
  const heard = (levelDb: number[], noiseDb = -70) => ({ levelDb, overNoiseDb: levelDb.map((level) => level - noiseDb) }); // prettier-ignore
  const strikers = [heard([-10, -30, -70]), heard([-35, -12, -70]), heard([-40, -38, -70])];
  expect(nearestTracks(strikers)).toEqual([[0], [1], [1, 0]]);
  expect(nearestTracks([heard([-10, -30])])).toEqual([[0, 1]]);
  expect(nearestTracks([heard([-10])])).toEqual([[0]]);
  expect(nearestTracks([])).toEqual([]);
});
