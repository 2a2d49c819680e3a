import { describe, expect, test } from 'vitest';
import type { TrackHearing } from '../../analysis/hits/hits.ts';
import { hear } from '../../analysis/hits/hear.ts';
import { studentTQuantile } from '../../analysis/numbers/inference.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { withLevels } from '../../analysis/strokes/levels.ts';
import type { Strokes } from '../../analysis/strokes/strokes.ts';
import { place } from '../../samples/place.ts';
import { addNoise } from '../../samples/record.ts';
import { seededRandom } from '../../samples/random.ts';
import { machineOf as soundMachine, strikesEvery, struck } from '../hits/synthetic.ts';
import { machineOf, smallDescription } from '../machine/machine.ts';
import { takeOf, trackOf } from '../rig/take.ts';
import { hitsOf, lay } from './laid.ts';

/** A drum (channel 2) with pins at 3 and 4 in sector A and at 7 in B. */
const machine = machineOf(smallDescription, [
  [0, 0],
  [3, 2],
  [4, 2],
  [6, 0],
  [7, 2],
]);
const clean: TrackHearing = { noiseDb: -70, clippedSamples: 0, badSamples: 0 };

type Row = readonly [step: number, turn: number, db: number, track?: number];

function strokesOf(rows: readonly Row[]): Strokes {
  const hits = hitsOf(rows.map((_, i) => ({ timeS: i, channel: 2 })));
  return {
    ...lay(machine, []),
    hits: {
      ...hits,
      levelDb: Float32Array.from(rows, ([, , db]) => db),
      track: Int32Array.from(rows, ([, , , track = 0]) => track),
    },
    turn: Int32Array.from(rows, ([, turn]) => turn),
    step: Float64Array.from(rows, ([step]) => step),
    latenessMs: new Float64Array(rows.length),
    why: rows.map(() => null),
  };
}

function drum(rows: readonly Row[], tracks = [clean, clean]) {
  const strokes = strokesOf(rows);
  const groups = withLevels(summariseGroups(strokes, machine), strokes, machine, { tracks });
  const level = (sector: string | null) =>
    groups.find((group) => group.channel === 'drum' && group.sector === sector)?.level;
  return { whole: level(null), a: level('A'), b: level('B') };
}

/** Pins about −12, −10 and −6 dB, each ±0.5 from turn to turn. */
const rows: Row[] = [
  [3, 0, -12.5],
  [4, 0, -10.5],
  [7, 0, -6.5],
  [3, 1, -11.5],
  [4, 1, -9.5],
  [7, 1, -5.5],
  [3, 2, -12],
  [4, 2, -10],
  [7, 2, -6],
];

describe('levels of groups, by hand', () => {
  test('means of channel and sectors; the interval holds chance from turn to turn, not what pins differ by', () => {
    const { whole, a, b } = drum(rows);
    expect(whole).toMatchObject({ track: 0, count: 9 });
    expect(whole!.meanDb).toBeCloseTo(-28 / 3, 6);
    expect(a!.meanDb).toBeCloseTo(-11, 6);
    expect(b!.meanDb).toBeCloseTo(-6, 6);
    // Within each pin the variance is 0.25, of two degrees of freedom; three pins together have six.
    expect(b!.ci95Db).toBeCloseTo(studentTQuantile(0.975, 6) * Math.sqrt(0.25 / 3), 6);
  });

  test('what another microphone heard is left out', () => {
    const { b } = drum([...rows, [7, 3, -40, 1], [7, 4, -41, 1]]);
    expect(b!.count).toBe(3);
    expect(b!.meanDb).toBeCloseTo(-6, 6);
  });

  test('markers have no level, and a recording that is cut off has none either', () => {
    expect(drum(rows.map(([step, turn, db]): Row => [step, turn, db, -1])).whole).toBeUndefined();
    const clipped = { ...clean, clippedSamples: 40 };
    expect(drum(rows, [clipped, clean]).whole).toBeDefined();
    const loud = rows.map(([step, turn, db]): Row => [step, turn, db + 5]);
    expect(drum(loud, [clipped, clean]).whole).toBeUndefined();
    expect(drum(loud).whole).toBeDefined();
  });

  test('a recorder turned up by 6 dB moves every mean by 6 dB and no spread', () => {
    const before = drum(rows);
    const after = drum(rows.map(([step, turn, db]): Row => [step, turn, db + 6]));
    expect(after.a!.meanDb).toBeCloseTo(before.a!.meanDb! + 6, 5);
    expect(after.a!.ci95Db).toBeCloseTo(before.a!.ci95Db!, 5);
    expect(after.a!.sdDb).toBeCloseTo(before.a!.sdDb!, 5);
  });
});

describe('levels of hits, from sound', () => {
  test('come from the fitted gain: right to 0.2 dB also where a neighbour sounds at the same time', async () => {
    const sampleRate = 48_000;
    const sounds = [struck(900, 0.12), struck(300, 0.2)];
    const played = strikesEvery(0.4, 12, 0, 2).map((strike, i) => ({ ...strike, db: [0, -3, 2][i % 3] }));
    const random = seededRandom(3);
    const tracks = [0, 1].map(() => new Float32Array(5.5 * sampleRate));
    const strikeAt = (channel: number, timeS: number, db: number) =>
      tracks.forEach((track, t) => {
        // Each microphone hears the other striker at −8 dB.
        const gain = 10 ** ((db - (t === channel ? 0 : 8)) / 20);
        place(track, sampleRate, sounds[channel], timeS, gain);
      });
    for (const [i, { timeS, db }] of played.entries()) {
      strikeAt(0, timeS, db);
      strikeAt(1, timeS + (i % 2 === 0 ? 0.02 : 0.2), 0);
    }
    for (const track of tracks) addNoise(track, 1e-3, random);
    const machine = soundMachine(2);
    const { hits } = await hear(
      takeOf(
        machine,
        tracks.map((samples, t) => trackOf(samples, sampleRate, [t], `${t}.wav`)),
      ),
      machine,
      {},
    );
    const levels = played.map(({ timeS }) => {
      const i = [...hits.timeS].findIndex(
        (time, k) => hits.channel[k] === 0 && Math.abs(time - timeS) < 0.003,
      );
      return i < 0 ? NaN : hits.levelDb[i];
    });
    const errors = played.map(({ db }, i) => levels[i] - db);
    const middle = errors.reduce((sum, error) => sum + error, 0) / errors.length;
    for (const error of errors) expect(Math.abs(error - middle)).toBeLessThan(0.2);
  });
});
