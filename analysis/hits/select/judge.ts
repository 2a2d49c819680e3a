/**
 * What the strikes are worth that were heard by the pattern: which are likely, how much of what was due is among them,
 * and whether the rotation may be wrong. In a room where someone talks and walks, the loud moments from which the rotation
 * is first found are not all strikes.
 */
import type { Strike } from '../explain/strike.ts';
import { grouped } from '../../numbers/grouped.ts';
import type { Machine } from '../../machine/machine.ts';
import type { RoughRotation } from '../../rotation/rotation.ts';
import { median } from '../../numbers/statistics.ts';
import { dueNear, nearestWithin, type ExpectedStroke } from '../expect/expected.ts';
import { selected, type Rejected, type Selected } from './rejected.ts';

/** Where nothing is due, what is this much fainter than the channel's usual strike is what another sound has in common with it. */
const faintAstray = 0.15;
/** And where much else sounds in the room, what is 9 dB fainter. */
const faintInNoise = 0.35;
/** Where it is due a strike may be weak, but 20 dB below the usual there was none. */
const faintDue = 0.1;
/**
 * Where so many sure moments, as a share of the strokes that are due, are no striker's, other things sound in the room.
 * They may have bent the rotation where less than `wellMet` of what is due was heard, or more than few strikes where
 * nothing is.
 */
const muchElse = 0.1;
const wellMet = 0.95;
const fewStrays = 0.01;
/** How long a strike sounds for moments to be its own, s. */
const soundsS = 0.02;
/** A pin comes round again to the same place, in steps. */
const samePlace = 0.25;

export interface Judged {
  readonly strikes: readonly Strike[];
  readonly rejected: readonly Rejected[];
  /** Share of what the pattern asked for on this track that was heard. */
  readonly fulfilled: number;
  /** Strokes that were asked for and not heard, and strikes that nobody asked for. */
  readonly wrong: number;
  /** Whether the rotation may be a wrong one here and there. */
  readonly isBent: boolean;
}

/** What the strikes of a track are judged by. */
export interface Expected {
  /** For each voice the channel that makes it. */
  readonly channelOf: readonly number[];
  /** Strokes of the track's own channels. */
  readonly asked: readonly ExpectedStroke[];
  /** When a channel is due near a time, s; NaN where it is not. */
  readonly dueAt: (channel: number, timeS: number) => number;
  /** Moments that are surely strikes or something as loud, s, ascending. */
  readonly sureS: Float64Array;
  readonly machine: Machine;
  readonly rotation: RoughRotation;
  /** How far from where it is due a strike may lie, s. */
  readonly reachS: number;
  /** Whether the rotation was found from strikes, not from moments. */
  readonly again: boolean;
}

/** @param found strikes as they were explained, ascending */
export function judgeStrikes(found: readonly Strike[], expected: Expected): Judged {
  const { channelOf, asked, dueAt, sureS, machine, rotation, reachS, again } = expected;
  const isDue = ({ voice, timeS }: Strike) => !Number.isNaN(dueAt(channelOf[voice], timeS));
  const swings = notBeforeItsStrike(found, 2 * reachS, isDue);
  const strikes = swings.kept;
  const usual = channelOf.map((_, v) =>
    medianGain(strikes.filter((strike) => strike.voice === v && isDue(strike))),
  );
  const loud = selected(
    strikes,
    'nothing due',
    (strike) => strike.gain >= (isDue(strike) ? faintDue : faintAstray) * usual[strike.voice],
  );
  const likely = loud.kept;
  const heardNear = dueNear(
    likely.map(({ voice, timeS }) => ({ channel: channelOf[voice], timeS })),
    reachS,
  );
  const isMet = ({ channel, timeS }: ExpectedStroke) => !Number.isNaN(heardNear(channel, timeS));
  const met = asked.filter(isMet);
  // A bent rotation loses strokes of all channels, a feed that ran out those of one.
  const metOfEach = [...grouped(asked, ({ channel }) => channel).values()].map(
    (strokes) => strokes.filter(isMet).length / strokes.length,
  );
  const likelyS = Float64Array.from(likely, ({ timeS }) => timeS).sort();
  const elses = sureS.filter((timeS) => nearestWithin(likelyS, timeS, soundsS) < 0);
  const strays = likely.filter((strike) => !isDue(strike));
  const isNoisy = elses.length >= muchElse * asked.length;
  const manyStrays = !again && strays.length > fewStrays * asked.length;
  const isBent = isNoisy && (met.length < wellMet * asked.length || manyStrays);
  const mayTellApart = isNoisy && !manyStrays && median(metOfEach) >= wellMet;
  // Heard faintly, or once, where nothing is due: in such a room that is some of what else sounds.
  const sounding = () => {
    const repeated = onceMore(strays, machine, rotation);
    return selected(
      likely,
      'not repeated',
      (strike) =>
        isDue(strike) || (strike.gain >= faintInNoise * usual[strike.voice] && repeated.has(strike)),
    );
  };
  const last = mayTellApart ? sounding() : { kept: likely, rejected: [] };
  return {
    strikes: last.kept,
    rejected: [...swings.rejected, ...loud.rejected, ...last.rejected],
    fulfilled: met.length / Math.max(1, asked.length),
    wrong: asked.length - met.length + strays.length,
    isBent,
  };
}

/**
 * A strike at its due time belongs to the one that follows where that one's cosine with the voice is at least `surelyAlike`, its own
 * below `hardlyAlike`, and its gain below `faintBeside` (−12 dB) of the other's.
 */
const surelyAlike = 0.9;
const hardlyAlike = 0.7;
const faintBeside = 0.25;

/**
 * A striker is not back in so short a time: what sounds just before a strike that is due, and is more like it, is a swing of
 * that one. And where a strike comes later than it is due, what little is like it at the due time is that one's too: a pin 20
 * or 30 ms late was heard twice, the first time at an eighth of its level.
 */
function notBeforeItsStrike(
  strikes: readonly Strike[],
  withinS: number,
  isDue: (strike: Strike) => boolean,
): Selected {
  const isOf = (strike: Strike, later: Strike) =>
    isDue(strike)
      ? later.like >= surelyAlike && strike.like < hardlyAlike && strike.gain < faintBeside * later.gain
      : later.like > strike.like && isDue(later);
  return selected(strikes, 'before its strike', (strike, i) => {
    for (let j = i + 1; j < strikes.length && strikes[j].timeS - strike.timeS < withinS; j++)
      if (strikes[j].voice === strike.voice && isOf(strike, strikes[j])) return false;
    return true;
  });
}

/** Those for which there is another of the same voice at the same place of the barrel, whole turns apart. */
function onceMore(strays: readonly Strike[], machine: Machine, rotation: RoughRotation): Set<Strike> {
  const { steps } = machine.description.barrel;
  const placed = strays.map((stray) => ({ stray, position: rotation.positionAt(stray.timeS) }));
  return new Set(
    [...grouped(placed, ({ stray }) => stray.voice).values()].flatMap((alike) =>
      alike
        .filter(({ position }) =>
          alike.some((other) => {
            const apart = Math.abs(position - other.position);
            const turns = Math.round(apart / steps);
            return turns > 0 && Math.abs(apart - turns * steps) <= samePlace;
          }),
        )
        .map(({ stray }) => stray),
    ),
  );
}

function medianGain(strikes: readonly { readonly gain: number }[]): number {
  return strikes.length > 0 ? median(strikes.map(({ gain }) => gain)) : 0;
}
