/**
 * Tunes that ask for different settings: a group that its tune alone could have within tolerance, while those settings leave
 * another tune's out. Neither limits nor units are in the way there; the pins of the two tunes stand too far apart.
 */
import { grouped } from '../numbers/grouped.ts';
import type { Advice } from '../results/results.ts';
import { predict, type Belief } from './belief.ts';
import { heldMs, isOut } from './leaving.ts';
import { changesWords, placeWords, sideWords } from './place-words.ts';
import type { SparingPlan } from './sparing.ts';

type Told = NonNullable<NonNullable<Advice['tunes']>['conflicts']>;

interface Conflict {
  /** Index of the group that stays out. */
  readonly g: number;
  readonly afterMs: number;
  readonly aloneMs: number;
  /** The other tune's group that is left farthest out by what this one's tune alone would have. */
  readonly against: { readonly g: number; readonly meanMs: number };
  readonly message: string;
}

/**
 * @param belief of all tunes together, as it was planned for
 * @param toRecord tunes of which a take has to tell where they stand: until then nobody knows what they ask for
 */
export function conflictsOf(
  belief: Belief,
  { settings, apart }: SparingPlan,
  toRecord: readonly string[] = [],
): Conflict[] {
  if (apart === undefined) return [];
  const after = predict(belief, settings);
  const share = (meanMs: number, g: number) => Math.abs(meanMs) / heldMs(belief.groups[g]);
  return after.flatMap(({ meanMs }, g) => {
    if (!isOut(share(meanMs, g))) return [];
    const alone = predict(belief, apart[g]);
    if (isOut(share(alone[g].meanMs, g))) return [];
    const harmed = alone.flatMap((then, h) =>
      belief.groups[h].tune !== belief.groups[g].tune &&
      share(then.meanMs, h) > Math.max(1, share(after[h].meanMs, h))
        ? [{ g: h, meanMs: then.meanMs }]
        : [],
    );
    if (harmed.length === 0) return [];
    const against = harmed.reduce((a, b) => (share(b.meanMs, b.g) > share(a.meanMs, a.g) ? b : a));
    const message = `${belief.groups[g].tune ?? 'this tune'} alone could have it at ${Math.abs(alone[g].meanMs).toFixed(1)} ms (${changesWords(belief, apart[g], settings, g)}), which leaves ${placeWords(belief, against.g)} ${sideWords(against.meanMs)}: ${clashWords(belief, [g, against.g], toRecord)}`;
    return [{ g, afterMs: meanMs, aloneMs: alone[g].meanMs, against, message }];
  });
}

function clashWords({ groups }: Belief, of: readonly number[], toRecord: readonly string[]): string {
  const unknown = toRecord.filter((name) => of.some((g) => groups[g].tune === name));
  const words = 'the two tunes ask for different settings';
  return unknown.length === 0
    ? words
    : `as far as is known ${words}, but ${unknown.join(' and ')} may have moved since ${unknown.length === 1 ? 'its take' : 'their takes'}: record ${unknown.length === 1 ? 'it' : 'them'} first`;
}

export function toldOf(belief: Belief, conflicts: readonly Conflict[]): Told {
  const { channels, barrel } = belief.machine.description;
  const placeOf = (g: number) => {
    const { channel, sector, tune = '' } = belief.groups[g];
    return { channel: channels[channel].id, sector: barrel.sectors[sector].id, tune };
  };
  return conflicts.map(({ g, afterMs, aloneMs, against }) => ({
    ...placeOf(g),
    afterMs,
    aloneMs,
    against: { ...placeOf(against.g), meanMs: against.meanMs },
  }));
}

/**
 * Which tunes want what of which channel.
 *
 * @param isKnown whether it is known where all tunes stand
 */
export function conflictWords(told: Told, isKnown: boolean): string[] {
  return [...grouped(told, ({ channel }) => channel)].map(([channel, rows]) => {
    const tunes = [...new Set(rows.flatMap(({ tune, against }) => [tune, against.tune]))];
    return `${tunes.join(' and ')} conflict over ${channel}${isKnown ? '' : ', as far as is known'}: no setting brings it within tolerance in ${tunes.length > 2 ? 'all of them' : 'both'}.`;
  });
}

/** What stays out since pins of one tune alone moved, and what to look at instead of a common adjuster. */
export function movedPinsWords(belief: Belief, { settings, movedPins = [] }: SparingPlan): string[] {
  const { channels } = belief.machine.description;
  const after = predict(belief, settings);
  const rows = [
    ...grouped(movedPins, (g) => `${belief.groups[g].tune} ${belief.groups[g].channel}`).values(),
  ];
  return rows.map((own) => {
    const { tune, channel } = belief.groups[own[0]];
    const worst = own.reduce((a, b) => (Math.abs(after[b].meanMs) > Math.abs(after[a].meanMs) ? b : a));
    return `${channels[channel].id} of ${tune} stays ${sideWords(after[worst].meanMs)}: its pins moved and those of the other tunes did not, and what mends it moves all tunes alike, so nothing is changed for it. Look at those pins first, then record ${tune} and another tune again.`;
  });
}
