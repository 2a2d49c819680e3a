/** A simulated study whose strokes have levels: what each channel, sector, pin and stroke adds, on tracks of given files. */
import type { Study } from '../../analysis/checks/check.ts';
import { sectorOf } from '../../analysis/machine/effects.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { withLevels } from '../../analysis/strokes/levels.ts';
import { seededRandom } from '../../samples/random.ts';
import { simulate } from './simulate.ts';

export interface Levels {
  /** Standard deviation of pins about their channel, and of strokes about their pin, dB. */
  readonly pinDb?: number;
  readonly strokeDb?: number;
  /** What is added to a stroke, dB; absent: nothing. */
  readonly plusDb?: (stroke: { channel: number; sector: number; timeS: number; turn: number }) => number;
  /** The recorder's gain at each stroke, from the levels before it, ascending in time; absent: 0 dB. */
  readonly gainDb?: (before: readonly { timeS: number; db: number }[], timeS: number) => number;
  /** By channel, the index of its track, each a file of its own; absent: all on one. */
  readonly tracks?: readonly number[];
}

export function levelledStudy(machine: Machine, levels: Levels, seed: number, turns = 6): Study {
  const { pinDb = 0.7, strokeDb = 0.8, plusDb = () => 0, gainDb = () => 0 } = levels;
  const repeatabilityMs = Object.fromEntries(machine.description.channels.map(({ id }) => [id, 0.2]));
  const { study } = simulate(machine, { repeatabilityMs }, { bpm: 100, turns }, seed);
  const random = seededRandom(seed).split('levels');
  const { strokes, take } = study;
  const { hits } = strokes;
  const ofPin = new Map<string, number>();
  const before: { timeS: number; db: number }[] = [];
  const levelDb = Float32Array.from(hits.timeS, (timeS, i) => {
    const channel = hits.channel[i];
    const pin = `${channel} ${strokes.step[i]}`;
    if (!ofPin.has(pin)) ofPin.set(pin, pinDb * random.normal());
    const sector = sectorOf(machine.description, Math.max(0, strokes.step[i]));
    const added = plusDb({ channel, sector, timeS, turn: strokes.turn[i] });
    const db = -20 - 2 * channel + ofPin.get(pin)! + strokeDb * random.normal() + added;
    const gain = gainDb(before, timeS);
    before.push({ timeS, db });
    return db + gain;
  });
  const trackOf = levels.tracks ?? machine.description.channels.map(() => 0);
  const heard = { ...hits, levelDb, track: Int32Array.from(hits.channel, (c) => (c < 0 ? 0 : trackOf[c])) };
  const files = [...new Set(trackOf)].sort((a, b) => a - b);
  const tracks = files.map((t) => ({
    file: `${t}.wav`,
    track: 0,
    sampleRate: 48_000,
    length: 48_000 * 60,
    channels: trackOf.flatMap((track, c) => (track === t ? [c] : [])),
    assigned: true,
    read: () => Promise.resolve(new Float32Array(0)),
  }));
  const levelled = { ...strokes, hits: heard };
  const hearing = {
    hits: heard,
    tracks: files.map(() => ({ noiseDb: -80, clippedSamples: 0, badSamples: 0 })),
  };
  return {
    ...study,
    take: { ...take, tracks },
    hearing,
    strokes: levelled,
    groups: withLevels(study.groups, levelled, machine, hearing),
  };
}
