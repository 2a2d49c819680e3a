/**
 * Tunes that ask for different settings: a group that its tune alone could have within tolerance, while those settings leave
 * another tune's out. Neither limits nor units are in the way there; the pins of the two tunes stand too far apart.
 */
import { grouped } from '../numbers/grouped.ts';
import type { IntegerSolver, Run } from '../ports.ts';
import type { Advice } from '../results/results.ts';
import { predict, withoutGroups, type Belief } from './belief.ts';
import { heldMs, isOut } from './leaving.ts';
import { changesWords, placeWords, sideWords } from './place-words.ts';
import type { SparingPlan } from './sparing.ts';
import { unreached } from './unreached.ts';

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

/** What the integer program is asked with. */
interface Asking {
  readonly solve: IntegerSolver;
  readonly run: Run;
}

/**
 * A group that is left out because of what is done, or not done, for another channel is in no conflict itself: two groups are, or one
 * channel, where no setting at all has both tunes' within tolerance.
 *
 * @param belief of all tunes together, as it was planned for
 * @param toRecord tunes of which a take has to tell where they stand: until then nobody knows what they ask for
 * @throws the signal's reason when the run is stopped
 */
export async function conflictsOf(
  belief: Belief,
  { settings, apart }: SparingPlan,
  toRecord: readonly string[],
  asking: Asking,
): Promise<Conflict[]> {
  if (apart === undefined) return [];
  const { groups } = belief;
  const share = (meanMs: number, g: number) => Math.abs(meanMs) / heldMs(groups[g]);
  const after = predict(belief, settings);
  const alone = aloneBy(belief, apart);
  const isHad = groups.map((_, g) => !isOut(share(alone(g)[g].meanMs, g)));
  const excluding = exclusion(belief, asking);
  const conflicts: Conflict[] = [];
  for (const [g, { meanMs }] of after.entries()) {
    if (!isOut(share(meanMs, g)) || !isHad[g]) continue;
    const then = alone(g);
    const harmed = then
      .flatMap((one, h) =>
        groups[h].tune !== groups[g].tune &&
        isHad[h] &&
        share(one.meanMs, h) > Math.max(1, share(after[h].meanMs, h))
          ? [{ g: h, meanMs: one.meanMs }]
          : [],
      )
      .sort((a, b) => share(b.meanMs, b.g) - share(a.meanMs, a.g));
    const against = await excludedBy(belief, g, { harmed, isHad, excluding });
    if (against === undefined) continue;
    const aloneMs = then[g].meanMs;
    const message = `${groups[g].tune ?? 'this tune'} alone could have it at ${Math.abs(aloneMs).toFixed(1)} ms (${changesWords(belief, apart[g], settings, g)}), which leaves ${placeWords(belief, against.g)} ${sideWords(against.meanMs)}: ${clashWords(belief, [g, against.g], toRecord)}`;
    conflicts.push({ g, afterMs: meanMs, aloneMs, against, message });
  }
  return conflicts;
}

/** Of a group, what its tune alone would make of all. */
function aloneBy(belief: Belief, apart: readonly (readonly number[])[]) {
  const known = new Map<readonly number[], ReturnType<typeof predict>>();
  return (g: number) => {
    const own = known.get(apart[g]) ?? predict(belief, apart[g]);
    known.set(apart[g], own);
    return own;
  };
}

interface Suffering {
  /** Groups of other tunes, worst first. */
  readonly harmed: readonly Conflict['against'][];
  /** By group, whether its tune alone has it within tolerance. */
  readonly isHad: readonly boolean[];
  readonly excluding: (members: readonly number[]) => Promise<boolean>;
}

/** Of another channel the worst that suffer, each a question to the solver: on large machines hundreds do. */
const MOST_ASKED = 3;

/** The harmed group that cannot be had together with this one: of its own channel, where that as a whole cannot, else of another. */
async function excludedBy(
  belief: Belief,
  g: number,
  { harmed, isHad, excluding }: Suffering,
): Promise<Conflict['against'] | undefined> {
  const { groups, share } = belief;
  const ofChannel = harmed.find(({ g: h }) => groups[h].channel === groups[g].channel);
  const members = groups.flatMap((one, h) => (one.channel === groups[g].channel && isHad[h] ? [h] : []));
  if (ofChannel !== undefined && (await excluding(members))) return ofChannel;
  const others = harmed.filter(
    ({ g: h }) =>
      groups[h].channel !== groups[g].channel && share[g].some((own, a) => own !== 0 && share[h][a] !== 0),
  );
  for (const other of others.slice(0, MOST_ASKED)) if (await excluding([g, other.g])) return other;
  return undefined;
}

/** Whether no setting has all of these groups within tolerance, be the rest as it may; each question is put once. */
function exclusion(belief: Belief, { solve, run }: Asking) {
  const known = new Map<string, Promise<boolean>>();
  // What is left alone until something is settled will move again.
  const free = { ...belief, held: new Set<number>() };
  return (members: readonly number[]): Promise<boolean> => {
    const key = [...members].sort((a, b) => a - b).join();
    const others = new Set([...belief.groups.keys()].filter((g) => !members.includes(g)));
    const answer =
      known.get(key) ?? unreached(withoutGroups(free, others), solve, run).then((out) => out.length > 0);
    known.set(key, answer);
    return answer;
  };
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
 * Which tunes want what of which channel, or of which two.
 *
 * @param isKnown whether it is known where all tunes stand
 */
export function conflictWords(told: Told, isKnown: boolean): string[] {
  const over = ({ channel, against }: Told[number]) => [...new Set([channel, against.channel])].sort();
  return [...grouped(told, (row) => over(row).join(' and '))].map(([channels, rows]) => {
    const tunes = [...new Set(rows.flatMap(({ tune, against }) => [tune, against.tune]))];
    const sides = rows.flatMap((row) =>
      [row, row.against].map(({ channel, tune }) => `${channel} of ${tune}`),
    );
    const none =
      over(rows[0]).length === 1
        ? `it within tolerance in ${tunes.length > 2 ? 'all of them' : 'both'}`
        : `${[...new Set(sides)].sort().join(' and ')} within tolerance together`;
    return `${tunes.join(' and ')} conflict over ${channels}${isKnown ? '' : ', as far as is known'}: no setting brings ${none}.`;
  });
}
