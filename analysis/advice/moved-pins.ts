/**
 * Pins of one tune that moved alone, or may have. Every adjuster moves the pins of all tunes, so where another tune's same channel was measured
 * before and after and stood still, no adjuster did it and none is its cure: half a mend of the one would be half a fault of the other.
 */
import { grouped } from '../numbers/grouped.ts';
import { installedOf, predict, worstMeanMs, type Belief } from './belief.ts';
import { isOut, leavingWith, shares } from './leaving.ts';
import { changesWords, placeWords, sideWords } from './place-words.ts';
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
  /** Other tunes that were not recorded since: only they would tell whether all tunes moved. None where it is told. */
  readonly toRecord: readonly string[];
}

/**
 * Movements that put groups of one tune out of tolerance as the machine stands, and that are no ground to change what moves all
 * tunes: its pins moved alone, or nobody knows whether they did.
 *
 * @param belief of all tunes together
 */
export function movedPinsOf(belief: Belief): MovedPins[] {
  const { groups, upheld, machine, rounds } = belief;
  const now = shares(belief, installedOf(machine));
  const found = upheld.flatMap((movement) => {
    const { kind, tune, moves, size, rivals } = movement;
    if ((kind !== 'moved' && kind !== 'slipped') || rivals.length > 0) return [];
    return groups.flatMap((group, g) => {
      const { channel, sector, meanMs } = group;
      const of = group.tune;
      if (of === undefined || channel === machine.reference || !moves(channel, sector, of)) return [];
      const isMost = Math.abs(meanMs - size) <= MOST_OF_IT * Math.abs(meanMs);
      if ((tune !== undefined && tune !== of) || !isOut(now[g]) || !isMost) return [];
      const { since, before } = othersThatTell(rounds, { ...movement, tune: of }, channel);
      if (tune !== undefined) return since.length > 0 ? [{ movement, g, toRecord: [] }] : [];
      // Of a movement of all tunes, one that was recorded since shows it too.
      return since.length === 0 && before.length > 0 ? [{ movement, g, toRecord: before }] : [];
    });
  });
  return [...grouped(found, ({ movement }) => upheld.indexOf(movement)).values()].map((own) => ({
    movement: own[0].movement,
    groups: own.map(({ g }) => g),
    toRecord: [...new Set(own.flatMap(({ toRecord }) => toRecord))],
  }));
}

/** The other tunes of which a channel was measured before and after a movement of one tune's pins, and did not move with them. */
export function stoodStill(rounds: readonly Round[], movement: Upheld, channel: number): readonly string[] {
  return movement.tune === undefined ? [] : othersThatTell(rounds, movement, channel).since;
}

/**
 * Other tunes of which a channel was measured before a movement that one tune shows.
 *
 * @returns since: those that were measured after it too; before: those that were not
 */
function othersThatTell(rounds: readonly Round[], movement: Upheld, channel: number) {
  const { tune, before, moves } = movement;
  if (tune === undefined || before === null) return { since: [], before: [] };
  const own = (c: number, s: number, of?: string) => of === tune && moves(c, s, of);
  const { from, to } = whenMoved(rounds, { moves: own }, before);
  const others = seriesOf(rounds).flatMap((series) =>
    series.channel === channel &&
    series.tune !== undefined &&
    series.tune !== tune &&
    series.rounds[0] <= from
      ? [{ tune: series.tune, isSince: series.rounds[series.rounds.length - 1] >= to }]
      : [],
  );
  const since = new Set(others.filter(({ isSince }) => isSince).map((one) => one.tune));
  const all = new Set(others.map((one) => one.tune));
  return { since: [...since], before: [...all].filter((one) => !since.has(one)) };
}

const MOVED_ALONE = 'its pins moved and those of the other tunes did not';
const untold = (toRecord: readonly string[]) =>
  `it moved, and ${toRecord.join(', ')} ${toRecord.length === 1 ? 'was' : 'were'} not recorded since, so that nobody knows whether its pins moved or all tunes`;

/** By index of the group, the tunes to be recorded before anything is changed for it. */
function toRecordBy(left: readonly MovedPins[]): Map<number, readonly string[]> {
  return new Map(left.flatMap(({ groups, toRecord }) => groups.map((g) => [g, toRecord] as const)));
}

/** By index of the group, why nothing is changed for it. */
export function whyLeft(left: readonly MovedPins[]): Map<number, string> {
  return new Map(
    [...toRecordBy(left)].map(([g, toRecord]) => [g, toRecord.length === 0 ? MOVED_ALONE : untold(toRecord)]),
  );
}

/** Where those groups are, in words, with the tunes to be recorded before anything is changed for them. */
export function placesLeft(
  belief: Belief,
  left: readonly MovedPins[],
): { where: string; toRecord: readonly string[] }[] {
  return [...toRecordBy(left)].map(([g, toRecord]) => ({ where: placeWords(belief, g), toRecord }));
}

/** Of a plan, what is said of them. */
interface LeavingPins {
  readonly settings: readonly number[];
  /** The settings that leave the least worst lateness, whatever they spoil. */
  readonly least: readonly number[];
  readonly movedPins?: readonly MovedPins[];
}

/** What stays out since pins of one tune alone moved, and what to look at instead of a common adjuster. */
export function movedPinsWords(belief: Belief, { settings, least, movedPins = [] }: LeavingPins): string[] {
  const { channels } = belief.machine.description;
  const after = predict(belief, settings);
  const share = shares(belief, settings);
  const toRecordOf = toRecordBy(movedPins);
  const staying = [...toRecordOf.keys()].filter((g) => isOut(share[g]));
  const rows = [...grouped(staying, (g) => `${belief.groups[g].tune} ${belief.groups[g].channel}`).values()];
  const said = rows.map((own) => {
    const { tune, channel } = belief.groups[own[0]];
    const worst = own.reduce((a, b) => (Math.abs(after[b].meanMs) > Math.abs(after[a].meanMs) ? b : a));
    const stays = `${channels[channel].id} of ${tune} stays ${sideWords(after[worst].meanMs)}`;
    const toRecord = toRecordOf.get(worst)!;
    return toRecord.length === 0
      ? `${stays}: ${MOVED_ALONE}, and what mends it moves all tunes alike, so nothing is changed for it. Look at those pins first, then record ${tune} and another tune again.`
      : `${stays}: ${untold(toRecord)}. Record ${toRecord.join(', ')} before anything is changed for it.`;
  });
  const isTold = staying.every((g) => toRecordOf.get(g)!.length === 0);
  if (said.length === 0 || !isTold) return said;
  return [...said, ...compromiseWords(belief, settings, least, staying)];
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
