/**
 * Which channel is which voice: each channel's rhythm is its signature. Once it is known roughly how the barrel turned,
 * every strike of a voice either falls on a pin of a channel or not, and every pin either has a strike or not; the
 * labels under which that is likeliest are taken. A voice of a channel that this track was not made for is bleed.
 */
import { endlessPattern } from '../../rotation/pattern.ts';
import type { RoughRotation } from '../../rotation/rotation.ts';
import type { Machine } from '../../machine/machine.ts';
import type { Track } from '../../take/take.ts';
import type { TrackStrikes } from '../explain/track.ts';

/** Label of a voice that is no channel's: an echo, a voice in the room, noise. */
export const nobody = -1;

/** Natural logarithms of how likely things are; round numbers, and the labels hardly depend on them. */
const logHeard = Math.log(0.95);
const logMissed = Math.log(0.05);
/** Bleed is heard or not, as it pleases. */
const logBleed = Math.log(0.5);
/** A strike of a channel where it has no pin: a misplaced pin, a rebound. */
const logAstray = Math.log(0.02);
/** A strike of nobody's. */
const logNobody = Math.log(0.12);
/** A strike within this part of a step belongs to the step: lateness is far less. */
const nearStep = 0.4;
/** Rounds of giving each voice its best label, the others' given; three have always been enough. */
const rounds = 6;

/** @returns for each voice of the track a channel index, or `nobody` */
export function labelVoices(
  heard: TrackStrikes,
  track: Track,
  machine: Machine,
  rotation: RoughRotation,
): number[] {
  const pattern = endlessPattern(machine, []);
  const channels = machine.description.channels.length;
  const places = heard.voices.map(() => [] as number[]);
  let first = Infinity;
  let last = -Infinity;
  for (const strike of heard.strikes) {
    const position = rotation.positionAt(strike.timeS);
    const near = Math.round(position);
    places[strike.voice].push(position);
    first = Math.min(first, near);
    last = Math.max(last, near);
  }
  /** By channel and voice: the pin that each of its strikes is at, NaN where it is at none. */
  const pinsOf = Array.from({ length: channels }, (_, c) =>
    places.map((own) =>
      own.map((position) => {
        const pin = pattern.nearest(c, position);
        return Math.abs(position - pin) <= nearStep ? pin : NaN;
      }),
    ),
  );
  const expected = pattern.stepsOf.map((own) =>
    own.reduce((count, step) => {
      const firstTurn = Math.ceil((first - step) / pattern.steps);
      return count + Math.max(0, Math.floor((last - step) / pattern.steps) - firstTurn + 1);
    }, 0),
  );

  /** How likely what these voices together tell is, if all are this channel's. */
  const likelihood = (channel: number, voices: readonly number[]): number => {
    if (channel === nobody) return voices.reduce((sum, v) => sum + places[v].length * logNobody, 0);
    const own = track.channels.includes(channel);
    const on = new Set<number>();
    let astray = 0;
    for (const v of voices)
      for (const pin of pinsOf[channel][v])
        if (!Number.isNaN(pin) && !on.has(pin)) on.add(pin);
        else astray++;
    const missed = expected[channel] - on.size;
    // Without a strike at all the channel may be switched off: then its pins tell nothing.
    if (on.size === 0) return astray * logAstray + (own ? missed * logMissed * 0.5 : missed * logBleed);
    return on.size * (own ? logHeard : logBleed) + missed * (own ? logMissed : logBleed) + astray * logAstray;
  };

  const labels = heard.voices.map(() => nobody);
  // Largest first: the voices are in the order of their counts.
  for (let round = 0; round < rounds; round++) {
    let changed = false;
    for (let v = 0; v < labels.length; v++) {
      const others = (label: number) => [...labels.keys()].filter((u) => u !== v && labels[u] === label);
      let best = labels[v];
      let most = -Infinity;
      for (let label = nobody; label < channels; label++) {
        const without = others(label);
        const gain = likelihood(label, [...without, v]) - likelihood(label, without);
        if (gain > most + 1e-9) {
          most = gain;
          best = label;
        }
      }
      if (best !== labels[v]) changed = true;
      labels[v] = best;
    }
    if (!changed) break;
  }
  return labels;
}
