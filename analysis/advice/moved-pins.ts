/**
 * Pins of one tune that moved alone, or may have. Every adjuster moves the pins of all tunes, so where another tune's same channel was measured
 * before and after and stood still, no adjuster did it and none is its cure: half a mend of the one would be half a fault of the other.
 */
import { grouped } from '../numbers/grouped.ts';
import { installedOf, predict, worstMeanMs, type Belief, type BelievedGroup } from './belief.ts';
import { changesAcross, isOther, isShown } from './change-across.ts';
import { heldMs, isOut, leavingWith, shares } from './leaving.ts';
import { changesWords, placeWords, sideWords } from './place-words.ts';
import type { Round } from './rounds.ts';
import { seriesOf, type Moves } from './series.ts';
import type { Upheld } from './supposition.ts';
import { shownIn, whenMoved, type RoundSpan } from './when-moved.ts';

/** So much of a lateness a movement has to be, or more than the tolerance, or the lateness is no matter of it. */
const MOST_OF_IT = 0.5;

export interface MovedPins {
  readonly movement: Upheld;
  /** Indices of the groups that it put out of tolerance. */
  readonly groups: readonly number[];
  /** Other tunes that were not recorded since: only they would tell whether all tunes moved. None where it is told. */
  readonly toRecord: readonly string[];
  /** Whether the other tunes' takes show nothing of it; else they moved otherwise over the same takes. */
  readonly isAlone: boolean;
}

/**
 * Movements that put groups of one tune out of tolerance as the machine stands, and that are no ground to change what moves all
 * tunes: its pins moved alone, or nobody knows whether they did.
 *
 * @param belief of all tunes together
 */
export function movedPinsOf(belief: Belief): MovedPins[] {
  const { groups, upheld, machine } = belief;
  const now = shares(belief, installedOf(machine));
  const found = upheld.flatMap((movement) => {
    const { kind, tune, moves, size, rivals } = movement;
    if ((kind !== 'moved' && kind !== 'slipped') || rivals.length > 0) return [];
    return groups.flatMap((group, g) => {
      const { channel, sector, meanMs } = group;
      const of = group.tune;
      if (of === undefined || channel === machine.reference || !moves(channel, sector, of)) return [];
      const isMost = Math.abs(meanMs - size) <= MOST_OF_IT * Math.abs(meanMs);
      const isPart = isMost || (meanMs * size > 0 && Math.abs(size) > heldMs(group));
      if ((tune !== undefined && tune !== of) || !isOut(now[g]) || !isPart) return [];
      if (tune === undefined) {
        const toRecord = othersToRecord(belief, movement, { channel, tune: of });
        return toRecord.length > 0 ? [{ movement, g, toRecord, isAlone: false }] : [];
      }
      const { own, others } = besideOf(belief, movement, group);
      if (others.length === 0 || !own.some((change) => isShown(change, movement.size))) return [];
      const isAlone = !others.some(isOther);
      return [{ movement, g, toRecord: [], isAlone }];
    });
  });
  return [...grouped(found, ({ movement }) => upheld.indexOf(movement)).values()].map((own) => ({
    movement: own[0].movement,
    groups: own.map(({ g }) => g),
    toRecord: [...new Set(own.flatMap(({ toRecord }) => toRecord))],
    isAlone: own.every(({ isAlone }) => isAlone),
  }));
}

/** The takes that a movement of one tune's pins lies between. */
export function spanInTune(rounds: readonly Round[], { tune, before, moves }: Upheld): RoundSpan | null {
  if (tune === undefined || before === null) return null;
  const own: Moves = (c, s, of) => of === tune && moves(c, s, of);
  return whenMoved(rounds, { moves: own }, before);
}

/** How a group's channel and sector changed over a movement of its tune's pins, in this tune and in the others. */
function besideOf(belief: Belief, movement: Upheld, { channel, sector, tune }: BelievedGroup) {
  const span = spanInTune(belief.rounds, movement);
  const changes = span === null ? [] : changesAcross(belief, channel, span, movement);
  const here = changes.filter((change) => change.sector === sector);
  return {
    own: here.filter((change) => change.tune === tune),
    others: here.filter((change) => change.tune !== tune),
  };
}

/**
 * Other tunes of which a channel was measured before a movement that one tune alone shows, and not since. Where two tunes show it, it is no
 * matter of the pins of one: none.
 */
function othersToRecord(
  belief: Belief,
  movement: Upheld,
  { channel, tune }: { readonly channel: number; readonly tune: string },
): string[] {
  const { before, moves } = movement;
  const { rounds } = belief;
  if (before === null || shownIn(belief, movement).some((shown) => shown !== tune)) return [];
  const others = seriesOf(rounds).flatMap((series) =>
    series.channel === channel &&
    series.tune !== undefined &&
    series.tune !== tune &&
    moves(channel, series.sector, series.tune) &&
    series.rounds[series.rounds.length - 1] < before
      ? [series.tune]
      : [],
  );
  return [...new Set(others)];
}

const MOVED_ALONE = 'its pins moved and those of the other tunes did not';
const MOVED_OTHERWISE = 'it moved otherwise than the other tunes did over the same takes';
const untold = (toRecord: readonly string[]) =>
  `it moved, and ${toRecord.join(', ')} ${toRecord.length === 1 ? 'was' : 'were'} not recorded since, so that nobody knows whether its pins moved or all tunes`;

function whyWords({ toRecord, isAlone }: MovedPins): string {
  return toRecord.length > 0 ? untold(toRecord) : isAlone ? MOVED_ALONE : MOVED_OTHERWISE;
}

/** By index of the group, the movement that it is left for. */
function movementBy(left: readonly MovedPins[]): Map<number, MovedPins> {
  return new Map(left.flatMap((one) => one.groups.map((g) => [g, one] as const)));
}

/** By index of the group, why nothing is changed for it. */
export function whyLeft(left: readonly MovedPins[]): Map<number, string> {
  return new Map([...movementBy(left)].map(([g, one]) => [g, whyWords(one)]));
}

/** Where those groups are, in words, with the tunes to be recorded before anything is changed for them. */
export function placesLeft(
  belief: Belief,
  left: readonly MovedPins[],
): { where: string; toRecord: readonly string[] }[] {
  return [...movementBy(left)].map(([g, { toRecord }]) => ({ where: placeWords(belief, g), toRecord }));
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
  const movementOf = movementBy(movedPins);
  const staying = [...movementOf.keys()].filter((g) => isOut(share[g]));
  const rows = [...grouped(staying, (g) => `${belief.groups[g].tune} ${belief.groups[g].channel}`).values()];
  const said = rows.map((own) => {
    const { tune, channel } = belief.groups[own[0]];
    const worst = own.reduce((a, b) => (Math.abs(after[b].meanMs) > Math.abs(after[a].meanMs) ? b : a));
    const stays = `${channels[channel].id} of ${tune} stays ${sideWords(after[worst].meanMs)}`;
    const { toRecord } = movementOf.get(worst)!;
    const why = whyWords(movementOf.get(worst)!);
    return toRecord.length === 0
      ? `${stays}: ${why}, and what mends it moves all tunes alike, so nothing is changed for it. Look at those pins first, then record ${tune} and another tune again.`
      : `${stays}: ${why}. Record ${toRecord.join(', ')} before anything is changed for it.`;
  });
  const isTold = staying.every((g) => movementOf.get(g)!.toRecord.length === 0);
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
