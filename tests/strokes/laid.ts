/** From a played machine to strokes without any audio: every strike heard exactly when it sounded. */
import type { Hearing, Hits } from '../../analysis/hits/hits.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import type { Strokes } from '../../analysis/strokes/strokes.ts';
import type { Take } from '../../analysis/take/take.ts';
import type { Strike } from '../../samples/play.ts';

export function takeOf(description: Take['description'] = {}): Take {
  return { name: 'take', description, recorded: null, settings: {}, tracks: [], markers: [], notices: [] };
}

export function hitsOf(strikes: readonly Pick<Strike, 'timeS' | 'channel'>[]): Hits {
  const count = strikes.length;
  return {
    count,
    timeS: Float64Array.from(strikes, (s) => s.timeS),
    timeSdS: new Float64Array(count).fill(1e-6),
    track: new Int32Array(count),
    channel: Int32Array.from(strikes, (s) => s.channel),
    levelDb: new Float32Array(count).fill(-12),
    why: strikes.map(() => null),
  };
}

export function hearingOf(strikes: readonly Pick<Strike, 'timeS' | 'channel'>[]): Hearing {
  return { hits: hitsOf(strikes), tracks: [] };
}

export function lay(
  machine: Machine,
  strikes: readonly Pick<Strike, 'timeS' | 'channel'>[],
  description: Take['description'] = {},
): Strokes {
  return layOnBarrel(hearingOf(strikes), machine, takeOf(description));
}
