import { describe, expect, it } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import { moveHits, waveFile } from '../../analysis/report/hear-before.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';
import { recordings, recordingsMissing } from '../rig/recordings.ts';
import { makeTake, takeOf, trackOf } from '../rig/take.ts';

describe('moving hits', () => {
  const click = (n: number) => Float32Array.from({ length: 4000 }, (_, i) => (i === n ? 1 : 0));
  it('moves whole samples exactly, and leaves no trace where the hit was', () => {
    const { samples, tied } = moveHits(click(2000), 1000, [{ timeS: 2, byS: 0.013 }]);
    expect(tied).toBe(0);
    expect([...samples].flatMap((value, i) => (value === 0 ? [] : [[i, value]]))).toEqual([[2013, 1]]);
  });
  it('changes nothing where nothing moves', () => {
    const sound = Float32Array.from({ length: 3000 }, (_, i) => Math.sin(i));
    expect(moveHits(sound, 1000, [{ timeS: 1, byS: 0 }]).samples).toEqual(sound);
  });
  it('says which hits lie too close to go their own way', () => {
    const moves = [
      { timeS: 1, byS: 0.004 },
      { timeS: 1.003, byS: -0.004 },
    ];
    expect(moveHits(new Float32Array(3000), 1000, moves).tied).toBe(1);
  });
});

it('a WAVE file starts with its header', () => {
  const bytes = waveFile(Float32Array.of(0, 1, -1), 48_000);
  expect(new TextDecoder().decode(bytes.subarray(0, 4))).toBe('RIFF');
  expect(new DataView(bytes.buffer).getInt16(46, true)).toBe(32_767);
});

describe.skipIf(recordingsMissing !== null)('heard again', () => {
  it('hits land where they were sent, within 0.1 ms', async () => {
    const seed = 12;
    const sampleRate = 48_000;
    const machine = rigMachine({ channels: ['block', 'tom'], steps: 48, seed });
    const { strikes, durationS } = play(machine, {}, { bpm: 110, turns: 2 }, seededRandom(seed));
    const all = recordings(sampleRate);
    const sounds = ['Wood_Block_1_High', 'Tom_Low_1'].map((name) => all.filter((one) => one.name === name));
    const { take, samples } = makeTake(machine, {
      sampleRate,
      durationS: durationS + 1,
      strikes,
      sounds,
      tracks: [[0], [1]],
      snrDb: 50,
      seed,
    });
    const before = (await hear(take, machine, {})).hits;
    const sent = [0, 0.00437];
    const moved = samples.map((track, t) =>
      moveHits(
        track,
        sampleRate,
        [...before.timeS.keys()]
          .filter((i) => before.track[i] === t)
          .map((i) => ({ timeS: before.timeS[i], byS: sent[t] * (i % 2 === 0 ? 1 : -1) })),
      ),
    );
    const again = takeOf(
      machine,
      moved.map(({ samples: track }, t) => trackOf(track, sampleRate, [t], `track-${t}.wav`)),
    );
    const after = (await hear(again, machine, {})).hits;
    expect(moved.map(({ tied }) => tied)).toEqual([0, 0]);
    expect(after.count).toBe(before.count);
    let worstS = 0;
    for (let i = 0; i < before.count; i++) {
      const due = before.timeS[i] + sent[before.track[i]] * (i % 2 === 0 ? 1 : -1);
      const found = [...after.timeS.keys()]
        .filter((k) => after.channel[k] === before.channel[i])
        .map((k) => Math.abs(after.timeS[k] - due));
      worstS = Math.max(worstS, Math.min(...found));
    }
    expect(worstS).toBeLessThan(1e-4);
  });
});
