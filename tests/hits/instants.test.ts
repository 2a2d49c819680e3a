import { expect, test } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import { countInstants, speedOfSound } from '../../analysis/hits/instants.ts';
import { instants } from '../../analysis/checks/instants.ts';
import type { Study } from '../../analysis/checks/check.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { soundFrom } from '../../samples/place.ts';
import { hitsOf } from '../strokes/laid.ts';
import { machineOf, strikesEvery, struck, takeOfSounds } from './synthetic.ts';

/** The machine with other keys at its top and in its channels. */
function withKeys(
  machine: Machine,
  top: Partial<Machine['description']>,
  microphonesMm: readonly (number | undefined)[],
): Machine {
  const channels = machine.description.channels.map((channel, c) => ({
    ...channel,
    ...(microphonesMm[c] === undefined ? {} : { microphoneMm: microphonesMm[c] }),
  }));
  return { ...machine, description: { ...machine.description, ...top, channels } };
}

test.each([
  [0, 331.286],
  [15, 340.261],
  [20, 343.2],
  [30, 349.005],
])('speed of sound at %i °C is ISO 9613-1:1993’s %f m/s', (celsius, metresPerSecond) => {
  expect(speedOfSound(celsius)).toBeCloseTo(metresPerSecond, 2);
});

test('the way to the microphone is taken off, and what was heard is kept beside', () => {
  const { take } = takeOfSounds([struck(900, 0.1)], strikesEvery(0.5, 3, 0, 1));
  const machine = withKeys(machineOf(2), {}, [343.2, 3432]);
  // Channel 1 is heard 5 ms after channel 0 and stands 9 ms further off.
  const hits = hitsOf([
    { timeS: 1, channel: 0 },
    { timeS: 1.005, channel: 1 },
  ]);
  const counted = countInstants({ hits, tracks: [] }, machine, take).hits;
  expect([...counted.channel]).toEqual([1, 0]);
  expect(counted.timeS[0]).toBeCloseTo(0.995, 12);
  expect(counted.timeS[1]).toBeCloseTo(0.999, 12);
  expect([...counted.heardS!]).toEqual([1.005, 1]);
});

test('in colder air the way takes longer', () => {
  const { take } = takeOfSounds([struck(900, 0.1)], strikesEvery(0.5, 3, 0, 1));
  const cold = { ...take, description: { ...take.description, airCelsius: 0 } };
  const machine = withKeys(machineOf(1), {}, [3312.86]);
  const counted = countInstants({ hits: hitsOf([{ timeS: 1, channel: 0 }]), tracks: [] }, machine, cold);
  expect(counted.hits.timeS[0]).toBeCloseTo(0.99, 8);
});

test('nothing asked, nothing moved', () => {
  const { take } = takeOfSounds([struck(900, 0.1)], strikesEvery(0.5, 3, 0, 1));
  const hits = hitsOf([{ timeS: 1, channel: 0 }]);
  expect(countInstants({ hits, tracks: [] }, machineOf(1), take).hits).toBe(hits);
});

/** A tone that swells evenly over `riseS`, then dies away. */
function swelling(riseS: number, sampleRate = 48_000) {
  const samples = Float32Array.from({ length: 6000 }, (_, i) => {
    const t = (i - 10) / sampleRate;
    if (t < 0) return 0;
    return (
      0.3 *
      Math.min(1, t / riseS) *
      Math.exp(-Math.max(0, t - riseS) / 0.02) *
      Math.sin(2 * Math.PI * 700 * t)
    );
  });
  return soundFrom('swelling', samples, sampleRate);
}

test('a slow attack is heard to begin 10 dB below its peak, a quick one where it begins', async () => {
  const strikes = [...strikesEvery(0.5, 12, 0, 2), ...strikesEvery(0.53, 11, 1, 3)];
  const { take, machine } = takeOfSounds([struck(900, 0.1), swelling(0.03)], strikes, { snrDb: 50 });
  const heard = await hear(take, machine, {});
  const [quick, slow] = heard.perceivedS!;
  // 10 dB below the peak of an even swell of 30 ms is 9.5 ms in, and its first 1 % takes 0.3 ms.
  expect(slow).toBeGreaterThan(0.0085);
  expect(slow).toBeLessThan(0.01);
  expect(quick).toBeLessThan(0.0005);

  const perceived = withKeys(machine, { onset: 'perceived' }, []);
  const counted = countInstants(heard, perceived, take);
  const first = (channel: number) => [...counted.hits.channel].indexOf(channel);
  expect(counted.hits.timeS[first(1)] - counted.hits.heardS![first(1)]).toBeCloseTo(slow, 12);
  const section = instants.section!({ machine: perceived, take, hearing: counted } as unknown as Study);
  expect((section as { table: { rows: string[][] } }).table.rows.at(-1)).toEqual([
    'c1',
    '0.00',
    (1000 * slow).toFixed(2),
  ]);
});

test('the report says which instant is in force', () => {
  const { take, machine } = takeOfSounds([struck(900, 0.1)], strikesEvery(0.5, 3, 0, 1));
  const said = (of: Machine, celsius?: number) => {
    const described = { ...take.description, ...(celsius === undefined ? {} : { airCelsius: celsius }) };
    const hearing = countInstants({ hits: hitsOf([]), tracks: [] }, of, take);
    const study = { machine: of, take: { ...take, description: described }, hearing } as unknown as Study;
    return (instants.section!(study) as { sentences: string[] }).sentences.join(' ');
  };
  expect(said(machine)).toContain('physical onset');
  expect(said(machine)).toContain('Nothing is taken off');
  expect(said(withKeys(machine, {}, [1200]))).toContain('343.2 m/s (ISO 9613-1 at 20 °C, which nobody gave)');
  expect(said(withKeys(machine, {}, [1200]), 15)).toContain('340.3 m/s (ISO 9613-1 at 15 °C)');
  expect(said(withKeys(machine, { onset: 'perceived' }, []))).toContain('c0: no sound to tell it from');
});
