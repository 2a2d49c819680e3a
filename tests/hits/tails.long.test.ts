// Tails of known sounds: solved together, in bounded memory, and nothing made of nothing.
import { describe, expect, test } from 'vitest';
import { backgroundOf } from '../../analysis/hits/signal/background.ts';
import { clipOf, frameFor } from '../../analysis/hits/signal/clip.ts';
import { learnTails } from '../../analysis/hits/learn/tails.ts';
import { voiceFromWaveform, type Struck, type Voice } from '../../analysis/hits/learn/voice.ts';
import { seededRandom } from '../../samples/random.ts';
import { trackOf } from '../rig/take.ts';

const sampleRate = 8000;
const frame = frameFor(sampleRate);
const noise = 1e-3;

/** Rings for so long, s, from where a frame's moment is. */
function ring(hz: number, decayS: number): Float64Array {
  return Float64Array.from({ length: 2 * sampleRate }, (_, i) => {
    const t = (i - frame.pre) / sampleRate;
    return t < 0 ? 0 : 0.3 * Math.exp(-t / decayS) * Math.sin(2 * Math.PI * hz * t);
  });
}

function made(waves: readonly Float64Array[], strikes: readonly Struck[], lengthS: number) {
  const random = seededRandom(5);
  const samples = Float32Array.from({ length: lengthS * sampleRate }, () => noise * random.normal());
  for (const { voice, at, gain } of strikes)
    waves[voice].forEach((x, i) => {
      if (at + i < samples.length) samples[at + i] += gain * x;
    });
  const room = Float64Array.from({ length: frame.n }, () => noise * random.normal());
  const background = backgroundOf([clipOf(0, room, frame)], frame);
  const voices = waves.map((wave) =>
    voiceFromWaveform(wave.slice(0, frame.n), background, frame, {
      onset: frame.pre,
      onsetSd: NaN,
      count: 64,
      spread: () => 0,
    }),
  );
  const longestRead = { samples: 0 };
  const track = trackOf(samples, sampleRate, [0]);
  const watched = {
    ...track,
    read: (from: number, to: number) => {
      longestRead.samples = Math.max(longestRead.samples, to - from);
      return track.read(from, to);
    },
  };
  return { track: watched, voices, background, longestRead };
}

/** The same pattern turn after turn, each strike a little off. */
function pattern(count: number, gapS: number, voices: number): Struck[] {
  const random = seededRandom(6);
  return Array.from({ length: count }, (_, i) => ({
    voice: i % voices,
    gain: random.between(0.8, 1.2),
    at: Math.round((0.3 + i * gapS + random.between(0, 0.002)) * sampleRate),
  }));
}

/** Root mean square of what a voice's tail is off the truth, and of the truth, from 0.1 to 0.6 s after the moment. */
function off({ tail }: Voice, truth: Float64Array): { readonly error: number; readonly sound: number } {
  let [error, sound] = [0, 0];
  const [from, to] = [0.1, 0.6].map((s) => frame.pre + Math.round(s * sampleRate));
  for (let i = from; i < to; i++) {
    error += ((tail?.[i] ?? 0) - truth[i]) ** 2;
    sound += truth[i] ** 2;
  }
  return { error: Math.sqrt(error / (to - from)), sound: Math.sqrt(sound / (to - from)) };
}

describe('learnTails', () => {
  const waves = [ring(200, 0.3), ring(450, 0.2), ring(1100, 0.02)];

  test('each voice has its own ring, none of its neighbours’', async () => {
    const strikes = pattern(150, 0.2, 3);
    const { track, voices, background } = made(waves, strikes, 32);
    const tailed = await learnTails({ track, voices, background, frame }, [strikes]);
    for (const v of [0, 1]) {
      const { error, sound } = off(tailed[v], waves[v]);
      expect(sound).toBeGreaterThan(30 * noise);
      expect(error / sound, `voice ${v}`).toBeLessThan(0.03);
    }
    const loud = off(tailed[0], waves[0]).sound;
    expect(off(tailed[2], waves[2]).error / loud, 'the short one').toBeLessThan(0.03);
  });

  test('an hour’s strikes are read in windows, and not all of them', async () => {
    const strikes = pattern(3000, 0.1, 3);
    const { track, voices, background, longestRead } = made(waves, strikes, 302);
    const tailed = await learnTails({ track, voices, background, frame }, [strikes]);
    expect(longestRead.samples).toBeLessThanOrEqual(4 * sampleRate);
    expect(off(tailed[0], waves[0]).error).toBeLessThan(noise);
  });

  test('strikes far apart, with nothing but the voice in its own waveform', async () => {
    const strikes = pattern(12, 25, 1);
    const { track, voices, background, longestRead } = made(waves.slice(0, 1), strikes, 302);
    const [gong] = await learnTails({ track, voices, background, frame }, [strikes]);
    expect(longestRead.samples).toBeLessThanOrEqual(4 * sampleRate);
    expect(off(gong, waves[0]).error).toBeLessThan(noise);
  });

  test('no strikes, one strike, silence: no tail', async () => {
    const one: Struck[] = [{ voice: 0, gain: 1, at: 4000 }];
    const { track, voices, background } = made(waves, one, 3);
    for (const runs of [[], [[]], [one]]) {
      const tailed = await learnTails({ track, voices, background, frame }, runs);
      expect(tailed.map(({ tail }) => tail)).toEqual([null, null, null]);
    }
    const silence = trackOf(new Float32Array(3 * sampleRate), sampleRate, [0]);
    const still = voices.map((voice) => ({ ...voice, spectrum: voice.spectrum.map(() => 0) }));
    const none = await learnTails({ track: silence, voices: still, background, frame }, [pattern(5, 0.3, 3)]);
    expect(none.map(({ tail }) => tail)).toEqual([null, null, null]);
  });

  test('a sound that begins with its frame', async () => {
    const early = ring(200, 0.3).subarray(frame.pre);
    const strikes = pattern(40, 0.4, 1).map((strike) => ({ ...strike, at: strike.at + 0.5 }));
    const whole = strikes.map((strike) => ({ ...strike, at: Math.floor(strike.at) }));
    const { track, background } = made([early], whole, 18);
    const voice = voiceFromWaveform(early.slice(0, frame.n), background, frame, {
      onset: 0,
      onsetSd: NaN,
      count: 40,
      spread: () => 0,
    });
    const [tailed] = await learnTails({ track, voices: [voice], background, frame }, [strikes]);
    expect(tailed.tail?.every((x) => Number.isFinite(x))).toBe(true);
  });
});
