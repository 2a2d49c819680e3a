import { describe, expect, it } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import { movedPart, piecesOf, reachOf, type HitMove } from '../../analysis/report/hear-before.ts';
import { beforeAndAfter, hearBefore, waveFile } from '../../analysis/report/hear-take.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { exampleReport, hit } from './example.ts';
import { rigMachine } from '../rig/machine.ts';
import { recordings, recordingsMissing } from '../rig/recordings.ts';
import { makeTake, takeOf, trackOf } from '../rig/take.ts';

/** A whole track at once. */
function moveHits(samples: Float32Array, sampleRate: number, moves: readonly HitMove[]) {
  const pieces = piecesOf(moves);
  return { samples: movedPart(pieces, sampleRate, samples, 0, [0, samples.length]), tied: pieces.tied };
}

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

it('windows laid side by side are the whole, wherever the cuts fall', () => {
  const random = seededRandom(31);
  const sound = Float32Array.from({ length: 6000 }, () => random.normal());
  const moves = [0.4, 1.1, 2.6, 4.9].map((timeS, i) => ({ timeS, byS: [0.0123, -0.02, 0, 0.0301][i] }));
  const whole = moveHits(sound, 1000, moves).samples;
  const pieces = piecesOf(moves);
  const reach = Math.ceil(1000 * reachOf(pieces, 1000));
  for (const width of [37, 400, 1111]) {
    const parts: number[] = [];
    for (let from = 0; from < sound.length; from += width) {
      const to = Math.min(sound.length, from + width);
      const first = Math.max(0, from - reach);
      parts.push(...movedPart(pieces, 1000, sound.subarray(first, to + reach), first, [from, to]));
    }
    expect(Float32Array.from(parts)).toEqual(whole);
  }
});

describe('a take as two WAVE files', () => {
  const sampleRate = 8000;
  const report = {
    ...exampleReport(),
    hits: [hit('gong', 'A', 0, { timeS: 1, track: 0 })],
    advice: {
      ...exampleReport().advice,
      predicted: [{ channel: 'gong', sector: 'A', beforeMs: 5, afterMs: 0, ci95Ms: 0.1 }],
    },
  };
  const track = (length: number, at: number, rate = sampleRate) =>
    trackOf(
      Float32Array.from({ length }, (_, i) => (i === at ? 0.5 : 0)),
      rate,
      [1],
    );
  const samplesOf = (file: Uint8Array) => {
    const view = new DataView(file.buffer);
    return Array.from({ length: (file.length - 44) / 2 }, (_, i) => view.getInt16(44 + 2 * i, true));
  };
  const at = (file: Uint8Array) => samplesOf(file).flatMap((value, i) => (value === 0 ? [] : [[i, value]]));

  it('are alike in loudness, with each hit where advice predicts it; a second track ends earlier', async () => {
    // Longer than two windows, so that both a cut and an end lie in it.
    const long = track(2 * (1 << 18) + 5, sampleRate);
    const short = track(4 * sampleRate, 3 * sampleRate);
    const { before, after, tied } = await beforeAndAfter([long, short], report, []);
    expect(tied).toBe(0);
    const loud = Math.round(0.9 * 32_767);
    expect(at(before)).toEqual([
      [sampleRate, loud],
      [3 * sampleRate, loud],
    ]);
    // 5 ms of 8 kHz are 40 samples.
    expect(at(after)).toEqual([
      [sampleRate - 40, loud],
      [3 * sampleRate, loud],
    ]);
    expect(samplesOf(after).length).toBe(long.length);
  });

  it.each([
    ['its advice changes nothing', [track(10, 1)], { ...report, advice: { ...report.advice, settings: [] } }],
    ['has no audio', [], report],
    ['is at 4000 samples a second', [track(10, 1), track(10, 1, 4000)], report],
  ])('says in one line that the take %s', async (words, tracks, of) => {
    const machine = rigMachine({ channels: ['gong'], seed: 1 });
    await expect(hearBefore(takeOf(machine, tracks), machine, of, 'takes/may')).rejects.toThrow(words);
  });

  it('begin with their header', () => {
    const bytes = waveFile(3, 48_000);
    expect(new TextDecoder().decode(bytes.subarray(0, 4))).toBe('RIFF');
    expect(bytes.length).toBe(50);
  });
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
