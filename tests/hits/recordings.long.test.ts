/** The exactness that hearing promises, on real recordings (Debian's freepats) at known times: one channel a track, 30 dB. */
import { describe, expect, test } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import { usualColour } from '../../samples/colour.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';
import { recordings, recordingsMissing } from '../rig/recordings.ts';
import { score } from '../rig/score.ts';
import { makeTake } from '../rig/take.ts';

const sampleRate = 48_000;
const channels = ['reference', 'one', 'two', 'three'];
const repeatabilityMs = Object.fromEntries(channels.map((id) => [id, 1]));

describe.skipIf(recordingsMissing)('F1 0.99 at ±5 ms, the tracks’ mean errors within 0.3 ms', () => {
  test.each([
    ['identical strikes, to 3 µs', 1, 3, {}],
    ['strikes in other gains and colours, to 10 µs', 2, 10, { gainDb: 3, colour: usualColour }],
  ])('%s (seed %i)', async (_, seed, leastUs, varied) => {
    const machine = rigMachine({ channels, seed });
    const how = { bpm: 120, turns: 3 };
    const { strikes, durationS } = play(machine, { repeatabilityMs }, how, seededRandom(seed));
    const drawn = seededRandom(seed).shuffle(recordings(sampleRate)).slice(0, channels.length);
    const { take } = makeTake(machine, {
      sampleRate,
      durationS: durationS + 1,
      strikes,
      sounds: drawn.map((sound) => [sound]),
      tracks: channels.map((_, c) => [c]),
      snrDb: 30,
      seed,
      ...varied,
    });
    const { hits } = await hear(take, machine, {});
    const scores = channels.map((_, c) => {
      const played = strikes.filter(({ channel }) => channel === c).map(({ timeS }) => timeS);
      const heard = hits.timeS.filter((_, i) => hits.channel[i] === c);
      return { name: drawn[c].name, ...score(played, [...heard]) };
    });
    for (const { name, f1, spreadUs } of scores) {
      expect(f1, name).toBeGreaterThanOrEqual(0.99);
      expect(spreadUs, name).toBeLessThanOrEqual(leastUs);
    }
    const biases = scores.map(({ biasMs }) => biasMs);
    expect(Math.max(...biases) - Math.min(...biases)).toBeLessThanOrEqual(0.3);
  });
});
