/**
 * Pins of one tune that moved alone. Every adjuster moves the pins of all tunes, so where another tune's same channel was measured
 * before and after and stood still, no adjuster did it and none is its cure: half a mend of the one would be half a fault of the other.
 */
import { grouped } from '../numbers/grouped.ts';
import { installedOf, predict, worstMeanMs, type Belief } from './belief.ts';
import { isOut, leavingWith, shares } from './leaving.ts';
import { changesWords, sideWords } from './place-words.ts';
import type { Round } from './rounds.ts';
import { seriesOf } from './series.ts';
import type { Upheld } from './supposition.ts';
import { whenMoved } from './when-moved.ts';

/** So much of a lateness a movement has to be, or the lateness is no matter of it. */
const MOST_OF_IT = 0.5;

export interface MovedPins {
  readonly movement: Upheld;
  /** Indices of the groups that it put out of tolerance. */
  readonly groups: readonly number[];
}

/** Movements of one tune's pins that put groups out of tolerance as the machine stands; `belief` of all tunes together. */
export function movedPinsOf(belief: Belief): MovedPins[] {
  const { groups, upheld, machine, rounds } = belief;
  const now = shares(belief, installedOf(machine));
  return upheld.flatMap((movement) => {
    const { kind, tune, moves, size, rivals } = movement;
    if (kind !== 'moved' || tune === undefined || rivals.length > 0) return [];
    const own = groups.flatMap((group, g) => {
      const { channel, sector, meanMs } = group;
      const isIts = group.tune === tune && channel !== machine.reference && moves(channel, sector, tune);
      const isMost = Math.abs(meanMs - size) <= MOST_OF_IT * Math.abs(meanMs);
      return isIts && isOut(now[g]) && isMost ? [g] : [];
    });
    const told = own.filter((g) => stoodStill(rounds, movement, groups[g].channel).length > 0);
    return told.length === 0 ? [] : [{ movement, groups: told }];
  });
}

/** The other tunes of which a channel was measured before and after a movement of one tune's pins, and did not move with them. */
export function stoodStill(rounds: readonly Round[], movement: Upheld, channel: number): string[] {
  const { tune, before } = movement;
  if (tune === undefined || before === null) return [];
  const { from, to } = whenMoved(rounds, movement, before);
  const still = seriesOf(rounds).filter(
    (series) =>
      series.channel === channel &&
      series.tune !== tune &&
      series.rounds[0] <= from &&
      series.rounds[series.rounds.length - 1] >= to,
  );
  return [...new Set(still.flatMap((series) => (series.tune === undefined ? [] : [series.tune])))];
}

/** Why nothing is changed for such a group. */
export const MOVED_ALONE = 'its pins moved and those of the other tunes did not';

/** Of a plan, what is said of them. */
interface LeavingPins {
  readonly settings: readonly number[];
  /** The settings that leave the least worst lateness, whatever they spoil. */
  readonly least: readonly number[];
  /** Indices of groups that are out since the pins of their tune alone moved. */
  readonly movedPins?: readonly number[];
}

/** What stays out since pins of one tune alone moved, and what to look at instead of a common adjuster. */
export function movedPinsWords(belief: Belief, { settings, least, movedPins = [] }: LeavingPins): string[] {
  const { channels } = belief.machine.description;
  const after = predict(belief, settings);
  const share = shares(belief, settings);
  const staying = movedPins.filter((g) => isOut(share[g]));
  const rows = [...grouped(staying, (g) => `${belief.groups[g].tune} ${belief.groups[g].channel}`).values()];
  const said = rows.map((own) => {
    const { tune, channel } = belief.groups[own[0]];
    const worst = own.reduce((a, b) => (Math.abs(after[b].meanMs) > Math.abs(after[a].meanMs) ? b : a));
    return `${channels[channel].id} of ${tune} stays ${sideWords(after[worst].meanMs)}: ${MOVED_ALONE}, and what mends it moves all tunes alike, so nothing is changed for it. Look at those pins first, then record ${tune} and another tune again.`;
  });
  return said.length === 0 ? [] : [...said, ...compromiseWords(belief, settings, least, staying)];
}

/** The settings that would have all in tolerance at the cost of tunes that stood still: for the person to choose, not proposed. */
function compromiseWords(
  belief: Belief,
  settings: readonly number[],
  least: readonly number[],
  staying: readonly number[],
): string[] {
  const then = shares(belief, least);
  if (staying.some((g) => isOut(then[g])) || leavingWith(belief, least).length > 0) return [];
  const worstMs = worstMeanMs(belief, least);
  return [
    `If the pins are to stay as they are, a compromise is a choice: ${changesWords(belief, least, settings)} would have every mean of all tunes at ${worstMs.toFixed(1)} ms or less, and moves those that stood still.`,
  ];
}
