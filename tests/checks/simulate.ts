/** A study straight from a machine whose truth is known: strikes played, laid on the barrel, no sound in between. */
import type { Study } from '../../analysis/checks/check.ts';
import type { Hits } from '../../analysis/hits/hits.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import { summarisePins } from '../../analysis/strokes/pins.ts';
import type { Take } from '../../analysis/take/take.ts';
import { play, type Performance, type Played, type Strike, type Truth } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';

/** What hearing adds to a time, s: a tenth of what a shim is worth at the very most. */
const hearingSdS = 5e-6;

export interface Simulated {
  readonly study: Study;
  readonly played: Played;
}

/** @param also strikes beside those of the machine: rebounds, clicks; of a channel, at a time */
export function simulate(
  machine: Machine,
  truth: Truth,
  how: Performance,
  seed: number,
  also: (played: Played) => readonly (Pick<Strike, 'timeS' | 'channel'> & { levelDb?: number })[] = () => [],
): Simulated {
  const random = seededRandom(seed);
  const played = play(machine, truth, how, random.split('play'));
  const heard = random.split('hearing');
  const strikes = [...played.strikes, ...also(played)]
    .map((strike) => ({
      channel: strike.channel,
      timeS: strike.timeS + hearingSdS * heard.normal(),
      levelDb: 'levelDb' in strike ? (strike.levelDb ?? -12) : -12,
    }))
    .sort((a, b) => a.timeS - b.timeS);
  const hits: Hits = {
    count: strikes.length,
    timeS: Float64Array.from(strikes, (strike) => strike.timeS),
    timeSdS: new Float64Array(strikes.length).fill(hearingSdS),
    track: new Int32Array(strikes.length).fill(-1),
    channel: Int32Array.from(strikes, (strike) => strike.channel),
    levelDb: Float32Array.from(strikes, (strike) => strike.levelDb),
    why: strikes.map(() => null),
  };
  const take: Take = {
    name: `simulated-${seed}`,
    description: { tempo: how.bpm },
    recorded: null,
    settings: Object.fromEntries(machine.description.adjusters.map(({ id, installed }) => [id, installed])),
    tracks: [],
    markers: [],
    notices: [],
  };
  const hearing = { hits, tracks: [] };
  const strokes = layOnBarrel(hearing, machine, take);
  const groups = summariseGroups(strokes, machine);
  const pins = summarisePins(strokes, machine);
  return { study: { machine, take, hearing, strokes, groups, pins }, played };
}
