/** From a voice recorder's rate to the highest that converters have: strikes are found, each once, and exactly. */
import { expect, test } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import { score } from '../rig/score.ts';
import { strikesEvery, struck, takeOfSounds } from './synthetic.ts';

test.each([
  [16_000, 12],
  [44_100, 12],
  [192_000, 6],
])('%i Hz', async (sampleRate, count) => {
  const sounds = [struck(300, 0.1, sampleRate), struck(700, 0.08, sampleRate)];
  const strikes = sounds.flatMap((_, channel) =>
    strikesEvery(0.4 + channel / 10, count, channel, 11 + channel),
  );
  const { take, machine } = takeOfSounds(sounds, strikes);
  const { hits } = await hear(take, machine, {});
  for (const channel of sounds.keys()) {
    const played = strikes.filter((strike) => strike.channel === channel).map(({ timeS }) => timeS);
    const heard = [...hits.timeS].filter((_, i) => hits.channel[i] === channel && hits.why[i] === null);
    const { f1, spreadUs, biasMs } = score(played, heard);
    expect(f1).toBe(1);
    // Issue's bounds for clean strikes at 30 dB: 10 µs from strike to strike, 0.3 ms of a track's mean.
    expect(spreadUs).toBeLessThanOrEqual(10);
    expect(Math.abs(biasMs)).toBeLessThanOrEqual(0.3);
  }
});
