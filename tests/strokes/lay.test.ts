import { describe, expect, test } from 'vitest';
import type { Strokes } from '../../analysis/strokes/strokes.ts';
import { machineOf } from '../machine/machine.ts';
import { randomTake, type RandomTake } from '../machine/random-machine.ts';
import type { Take } from '../../analysis/take/take.ts';
import { hearingOf, hitsOf, lay, takeOf } from './laid.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';

/** Eight steps, one a half second; the reference on every even step, the bell on two odd ones, a drum that looks the same from one start only. */
const machine = machineOf(
  {
    name: 'Eight',
    barrel: {
      steps: 8,
      stepsPerBeat: 1,
      diameterMm: 100,
      sectors: [
        { id: 'A', from: 0 },
        { id: 'B', from: 4 },
      ],
    },
    reference: 'block',
    channels: [{ id: 'block', onBarrel: false }, { id: 'bell' }, { id: 'drum' }],
  },
  [
    [0, 0],
    [0, 2],
    [1, 1],
    [2, 0],
    [3, 2],
    [4, 0],
    [4, 2],
    [6, 0],
    [7, 1],
  ],
);
const turns = 5;
const ideal = Array.from({ length: turns }, (_, turn) =>
  machine.pins.map(({ step, channel }) => ({ channel, step, turn, timeS: (turn * 8 + step) * 0.5 + 1 })),
).flat();
const with3ms = ideal.map((s) => ({ ...s, timeS: s.timeS + (s.channel === 1 ? 0.003 : 0) }));
const at = (strokes: Strokes, i: number) => [strokes.turn[i], strokes.step[i], strokes.why[i]];

describe('by hand: eight steps, a bell 3 ms late, a drum on time', () => {
  test('every hit has its turn, step and lateness', () => {
    const strokes = lay(machine, with3ms, { tempo: 118 });
    expect(strokes.rotation).toMatchObject({ found: true, rivals: [], settledBy: 'pattern' });
    expect(strokes.rotation.secondsPerTurn).toBeCloseTo(4, 9);
    expect(strokes.rotation.timeAt(10)).toBeCloseTo(2, 9);
    with3ms.forEach((s, i) => {
      expect(strokes.step[i]).toBe(s.step);
      expect(strokes.why[i]).toBeNull();
      expect(strokes.latenessMs[i]).toBeCloseTo(s.channel === 1 ? 3 : 0, 6);
    });
    // The first hit is a whole second in: the turn in which the take starts is the one before.
    expect(strokes.turn[0]).toBe(1);
    expect([strokes.misplaced, strokes.missing]).toEqual([[], []]);
  });
  test('a missing stroke is named with its turn', () => {
    const strokes = lay(
      machine,
      with3ms.filter((s) => !(s.turn === 2 && s.step === 7)),
      { tempo: 118 },
    );
    expect(strokes.missing).toMatchObject([{ channel: 1, step: 7, turn: 3 }]);
    expect(strokes.missing[0].dueS).toBeCloseTo((2 * 8 + 7) * 0.5 + 1.003, 6);
  });
  test('what is due after the end of its channel’s recording is not missing', () => {
    const short = with3ms.filter((s) => s.channel !== 1 || s.timeS < 8);
    const file = (name: string, durationS: number, channels: number[]) => ({
      file: name,
      track: 0,
      sampleRate: 100,
      length: 100 * durationS,
      channels,
      assigned: true,
      read: () => Promise.reject(new Error('laying reads no samples')),
    });
    const take = (tracks: Take['tracks']) => ({ ...takeOf({ tempo: 118 }), tracks });
    const strokes = (bellS: number) =>
      layOnBarrel(hearingOf(short), machine, take([file('a.wav', 30, [0, 2]), file('b.wav', bellS, [1])]));
    // Both files run on: the bell's strokes from 8 s on were not struck. Its file ends at 8 s: nobody can tell.
    expect(strokes(30).missing.length).toBeGreaterThan(3);
    expect(strokes(8).missing).toEqual([]);
  });
  test('a hit nobody pinned has no pin, and moves nothing', () => {
    const more = [...with3ms, { channel: 1, timeS: 7.6, step: -1, turn: -1 }].sort(
      (a, b) => a.timeS - b.timeS,
    );
    const strokes = lay(machine, more, { tempo: 118 });
    const i = more.findIndex((s) => s.step === -1);
    expect(at(strokes, i)).toEqual([-1, -1, 'no pin here']);
    expect(strokes.latenessMs[i]).toBeNaN();
    expect(strokes.misplaced).toEqual([]);
  });
  test('a pin one hole further, turn after turn, is misplaced and stays out', () => {
    const moved = with3ms
      .map((s) => (s.step === 1 ? { ...s, timeS: s.timeS + 1 } : s))
      .sort((a, b) => a.timeS - b.timeS);
    const strokes = lay(machine, moved, { tempo: 118 });
    expect(strokes.misplaced).toEqual([{ channel: 1, step: 1, foundStep: 3, count: 5 }]);
    const i = moved.findIndex((s) => s.step === 1);
    expect(at(strokes, i)).toEqual([1, 1, 'misplaced pin']);
    expect(strokes.latenessMs[i]).toBeCloseTo(1003, 6);
    expect(strokes.missing).toEqual([]);
  });
  test('an ill-seated pin, 90 ms off every turn, is a pin still', () => {
    const bent = with3ms.map((s) => (s.step === 7 ? { ...s, timeS: s.timeS + 0.09 } : s));
    const strokes = lay(machine, bent, { tempo: 118 });
    expect([strokes.misplaced, strokes.missing]).toEqual([[], []]);
    const i = bent.findIndex((s) => s.step === 7);
    expect(at(strokes, i)).toEqual([1, 7, null]);
    expect(strokes.latenessMs[i]).toBeCloseTo(93, 6);
  });
  test('without the reference: turn and step, but no lateness', () => {
    const others = with3ms.filter((s) => s.channel !== 0);
    const strokes = lay(machine, others, { tempo: 118 });
    expect(strokes.rotation.found).toBe(true);
    expect(Array.from(strokes.step)).toEqual(others.map((s) => s.step));
    expect(strokes.why[0]).toBe('the reference was not heard');
    expect(strokes.latenessMs[0]).toBeNaN();
    expect(strokes.rotation.secondsPerTurn).toBeCloseTo(4, 3);
  });
  test('a hit that hearing set aside keeps its reason and does not bend the rotation', () => {
    const hits = hitsOf(with3ms);
    const i = with3ms.findIndex((s) => s.turn === 2 && s.step === 2);
    const timeS = hits.timeS.map((t, k) => (k === i ? t + 0.02 : t));
    const why = hits.why.map((_, k) => (k === i ? 'masked' : null));
    const strokes = layOnBarrel(
      { hits: { ...hits, timeS, why }, tracks: [] },
      machine,
      takeOf({ tempo: 118 }),
    );
    expect(at(strokes, i)).toEqual([3, 2, 'masked']);
    expect(strokes.latenessMs[i]).toBeCloseTo(20, 5);
    expect(Array.from(strokes.rotation.referenceHits)).not.toContain(i);
  });
});

test('nothing heard, or nothing that fits: no hit has a pin, and no error', () => {
  for (const strikes of [[], [{ channel: 1, timeS: 2 }], [{ channel: -1, timeS: 2 }]]) {
    const strokes = lay(machine, strikes);
    expect(strokes.rotation.found).toBe(false);
    expect(Array.from(strokes.step)).toEqual(strikes.map(() => -1));
  }
});

function key(strokes: Strokes, take: RandomTake) {
  const first = strokes.turn.find((turn) => turn >= 0) ?? 0;
  return take.played.strikes.map((_, i) => [
    strokes.turn[i] < 0 ? null : strokes.turn[i] - first,
    strokes.step[i],
    strokes.why[i],
  ]);
}

describe('on random machines', () => {
  const seeds = Array.from({ length: 20 }, (_, i) => 2001 + i);

  test('every stroke gets its own pin; misplaced pins are named and none is invented', () => {
    for (const seed of seeds) {
      const take = randomTake(seed, { turns: 4 });
      const strokes = lay(take.machine, take.played.strikes, { tempo: take.how.bpm });
      const { channels } = take.machine.description;
      take.played.strikes.forEach((s, i) => {
        if (s.pinned === 'right')
          expect([seed, i, strokes.step[i], strokes.why[i]]).toEqual([seed, i, s.step, null]);
        if (s.pinned === 'none') expect([seed, i, strokes.step[i]]).toEqual([seed, i, -1]);
      });
      const named = strokes.misplaced.map(({ channel, step, foundStep }) => [
        channels[channel].id,
        step,
        foundStep,
      ]);
      // Heard at least thrice: a pin that was silent for half of four turns leaves too little to tell.
      const heard = (take.truth.misplaced ?? []).filter(
        (m) =>
          take.played.strikes.filter((s) => channels[s.channel].id === m.channel && s.step === m.step)
            .length >= 3,
      );
      for (const m of heard) expect(named).toContainEqual([m.channel, m.step, m.foundStep]);
      const true_ = (take.truth.misplaced ?? []).map((m) => [m.channel, m.step, m.foundStep]);
      for (const m of named) expect(true_).toContainEqual(m);
      for (const { channel, step } of strokes.missing)
        expect(take.played.missing.some((m) => m.channel === channel && m.step === step)).toBe(true);
    }
  });

  test('shifting all times shifts nothing but the start', () => {
    for (const seed of seeds.slice(0, 5)) {
      const take = randomTake(seed);
      const before = lay(take.machine, take.played.strikes, { tempo: take.how.bpm });
      const later = take.played.strikes.map((s) => ({ ...s, timeS: s.timeS + 3.75 }));
      const after = lay(take.machine, later, { tempo: take.how.bpm });
      expect(key(after, take)).toEqual(key(before, take));
      after.latenessMs.forEach((ms, i) => {
        if (!Number.isNaN(ms)) expect(ms).toBeCloseTo(before.latenessMs[i], 5);
      });
    }
  });

  test('playing everything slower makes lateness longer in proportion', () => {
    const take = randomTake(2101);
    const before = lay(take.machine, take.played.strikes, { tempo: take.how.bpm });
    const slower = take.played.strikes.map((s) => ({ ...s, timeS: 1.1 * s.timeS }));
    const after = lay(take.machine, slower, { tempo: take.how.bpm / 1.1 });
    expect(key(after, take)).toEqual(key(before, take));
    after.latenessMs.forEach((ms, i) => {
      if (!Number.isNaN(ms)) expect(ms).toBeCloseTo(1.1 * before.latenessMs[i], 4);
    });
  });

  test('half of the reference’s strokes unheard: the others’ lateness hardly moves', () => {
    for (const seed of seeds.slice(0, 5)) {
      const take = randomTake(seed, { turns: 4, speed: 0.001 });
      const all = lay(take.machine, take.played.strikes, { tempo: take.how.bpm });
      let odd = 0;
      const kept = take.played.strikes
        .map((s, i) => ({ ...s, i }))
        .filter((s) => s.channel !== 0 || odd++ % 2 === 0);
      const half = lay(take.machine, kept, { tempo: take.how.bpm });
      kept.forEach((s, k) => {
        if (s.pinned === 'right' && s.channel !== 0)
          expect(Math.abs(half.latenessMs[k] - all.latenessMs[s.i])).toBeLessThan(0.6);
      });
    }
  });

  test('zero is the reference’s own mean', () => {
    for (const seed of seeds.slice(0, 5)) {
      const take = randomTake(seed, { referencePinMs: 0.3 });
      const { latenessMs, rotation } = lay(take.machine, take.played.strikes, { tempo: take.how.bpm });
      const own = Array.from(rotation.referenceHits, (hit) => latenessMs[hit]);
      expect(own.reduce((a, b) => a + b, 0) / own.length).toBeCloseTo(0, 6);
    }
  });
});

test('a reference on the barrel: its sectors’ steps are found within their intervals, and sum to zero', () => {
  let inside = 0;
  let all = 0;
  for (let seed = 2201; seed < 2213; seed++) {
    const take = randomTake(seed, { referenceOnBarrel: true, turns: 6.1, misplaced: false });
    const { rotation } = lay(take.machine, take.played.strikes, { tempo: take.how.bpm });
    if (rotation.referenceSectors.length === 0) continue;
    const true_ = rotation.referenceSectors.map(
      ({ sector }) => take.truth.sectorMs?.[take.machine.description.barrel.sectors[sector].id] ?? 0,
    );
    const middle = true_.reduce((a, b) => a + b, 0) / true_.length;
    const sum = rotation.referenceSectors.reduce((total, { stepMs }) => total + stepMs, 0);
    expect(sum).toBeCloseTo(0, 9);
    rotation.referenceSectors.forEach(({ stepMs, ci95Ms }, k) => {
      all++;
      if (Math.abs(stepMs - (true_[k] - middle)) <= ci95Ms) inside++;
    });
  }
  expect(all).toBeGreaterThan(30);
  expect(inside / all).toBeGreaterThan(0.85);
});
