/**
 * One set of settings for all tunes of a barrel. Each tune's pins lie off by other amounts, while every adjuster moves all tunes
 * alike; so the groups of each tune's newest take are planned for together, and the worst over all tunes is made least.
 */
import type { IntegerSolver, Run } from '../ports.ts';
import type { Advice, EarlierReport } from '../results/results.ts';
import { leastAloneMs } from './alone.ts';
import { endMs, installedOf, predict, withoutGroups, worstMeanMs } from './belief.ts';
import type { Belief, BelievedGroup, Prediction } from './belief.ts';
import { isOut, shares } from './leaving.ts';
import { goodEnough } from './plan.ts';
import { placeWords } from './place-words.ts';
import { withinMs } from './question.ts';
import { tempoOf } from './series.ts';
import { surely } from './sure.ts';

type Tunes = NonNullable<Advice['tunes']>;

/**
 * The groups of a belief with those of all other tunes behind them. Where nobody knows where one stands, no plan is made for it and none is
 * held back by it: its tune is to be recorded.
 *
 * @param tune of the newest take
 */
export function withTunes(belief: Belief, { others }: Belief, tune: string | undefined): Belief {
  if (others.length === 0) return belief;
  const known = others.map((other) => ({ tune: other.tune, own: knownOf({ ...belief, ...other }) }));
  const all = <T>(own: readonly T[], rows: (one: Belief, of: string) => readonly T[]) => [
    ...own,
    ...known.flatMap((one) => rows(one.own, one.tune)),
  ];
  return {
    ...belief,
    groups: all(
      belief.groups.map((group) => ({ ...group, tune })),
      ({ groups }, of) => groups.map((group) => ({ ...group, tune: of })),
    ),
    share: all(belief.share, ({ share }) => share),
    groupCovariance: all(belief.groupCovariance, ({ groupCovariance }) => groupCovariance),
    wanderMs: all(belief.wanderMs, ({ wanderMs }) => wanderMs),
  };
}

/** A forecast whose half-width is more than so many times its own take's tells less than a new take would. */
const MUCH_WIDER = 1.5;
/** A half-width of so many tolerances says next to nothing of where a group stands. */
const WIDE = 3;

/**
 * Where groups of another tune stand now is a forecast: what happened since its take makes it wider, and no resolution of a
 * recording is to blame for that. So the width that was added is granted to it; and where the forecast does not tell whether
 * the group is in tolerance, while a take would, it is no reason to change anything; what is wholly unknown is left out.
 */
function knownOf(own: Belief): Belief {
  const now = predict(own, installedOf(own.machine));
  const unknown = own.groups.flatMap((group, g) => (isUnknown(group, now[g]) ? [g] : []));
  const groups = own.groups.map((group, g) => {
    const { toleranceMs, measuredCi95Ms } = group;
    const takeMs = Math.min(now[g].ci95Ms, measuredCi95Ms);
    const allowedMs = withinMs({ toleranceMs, ci95Ms: takeMs }) + now[g].ci95Ms - takeMs;
    return { ...group, allowedMs: isUnsure(group, now[g]) ? Math.max(allowedMs, endMs(now[g])) : allowedMs };
  });
  return withoutGroups({ ...own, groups }, new Set(unknown));
}

/** Whether a change of the size of its tolerance would leave it as likely to be in or out as it was. */
function isUnknown(group: BelievedGroup, now: Prediction): boolean {
  return isUnsure(group, now) && now.ci95Ms > WIDE * group.toleranceMs;
}

/** Whether a take of its own would have to tell on which side of its tolerance a group stands. */
function isUnsure({ toleranceMs, measuredCi95Ms }: BelievedGroup, { meanMs, ci95Ms }: Prediction): boolean {
  return ci95Ms > MUCH_WIDER * measuredCi95Ms && surely(meanMs, ci95Ms, toleranceMs) === null;
}

/** Each tune by itself, the newest take's first. */
function eachTune(belief: Belief, newest: EarlierReport): { tune: string; take: string; belief: Belief }[] {
  const own = { tune: newest.tune ?? '', take: newest.take, belief };
  return [own, ...belief.others.map((other) => ({ ...other, belief: { ...belief, ...other } }))];
}

/** Whether another tune than the newest take's is out of tolerance with these settings, as far as is known: then nothing may be called well. */
export function othersAreOut(belief: Belief, settings: readonly number[]): boolean {
  return belief.others.some((other) => {
    const own = knownOf({ ...belief, ...other });
    return !goodEnough(own, predict(own, settings));
  });
}

/** The group that lies farthest off with these settings, of all tunes. */
export function worstOfAll(belief: Belief, tune: string | undefined, settings: readonly number[]) {
  return worstOf(withTunes(belief, belief, tune), settings);
}

export function worstOf(all: Belief, settings: readonly number[], among?: ReadonlySet<number>) {
  const after = predict(all, settings);
  const of = [...after.keys()].filter((g) => among?.has(g) ?? true);
  const [g] = of.sort((a, b) => Math.abs(after[b].meanMs) - Math.abs(after[a].meanMs));
  return { where: placeWords(all, g), meanMs: after[g].meanMs };
}

/** The same of those that are out of tolerance, where there are any: a larger mean may be within its own. */
export function worstOutOf(all: Belief, settings: readonly number[]) {
  const out = shares(all, settings).flatMap((share, g) => (isOut(share) ? [g] : []));
  return { ...worstOf(all, settings, out.length === 0 ? undefined : new Set(out)), isOut: out.length > 0 };
}

/**
 * What the settings do to each tune, and what each alone could have.
 *
 * @returns null where the machine has one pattern
 * @throws the signal's reason when the run is stopped
 */
export async function tunesOf(
  belief: Belief,
  newest: EarlierReport,
  settings: readonly number[],
  solve: IntegerSolver,
  run: Run,
): Promise<Tunes | null> {
  const { tunes } = belief.machine;
  if (tunes === undefined) return null;
  const rows: Tunes['rows'] = [];
  for (const { tune, take, belief: all } of eachTune(belief, newest)) {
    if (all.groups.length === 0) continue;
    // Of groups that may stand anywhere no figure says anything.
    const known = tune === newest.tune ? all : knownOf(all);
    const own = known.groups.length === 0 ? all : known;
    const afterMs = worstMeanMs(own, settings);
    rows.push({
      tune,
      take,
      worstBeforeMs: worstMeanMs(own, installedOf(own.machine)),
      worstAfterMs: afterMs,
      aloneMs: belief.others.length === 0 ? afterMs : await leastAloneMs(own, settings, solve, run),
      unsure: unsureIn(all),
    });
  }
  const told = new Set(rows.map(({ tune }) => tune));
  return { rows, missing: tunes.flatMap(({ name }) => (told.has(name) ? [] : [name])) };
}

/** Channels of which too much happened since that tune's take to know whether they are in tolerance as the machine stands. */
function unsureIn(own: Belief): string[] {
  const now = predict(own, installedOf(own.machine));
  const unsure = own.groups.filter((group, g) => isUnsure(group, now[g]));
  return [...new Set(unsure.map(({ channel }) => own.machine.description.channels[channel].id))];
}

/** Tunes of which a take has to tell where they stand before anything is changed for them. */
export function tunesToRecord(belief: Belief): string[] {
  return belief.others.flatMap((other) => (unsureIn({ ...belief, ...other }).length > 0 ? [other.tune] : []));
}

/**
 * Whether what is proposed moves nothing of which a tune's own take has to tell where it stands; null where nothing is proposed.
 */
export function holdsAnyhow(belief: Belief, settings: readonly number[]): boolean | null {
  const installed = installedOf(belief.machine);
  const changed = settings.flatMap((setting, a) => (setting === installed[a] ? [] : [a]));
  if (changed.length === 0) return null;
  return belief.others.every((other) => {
    const own = { ...belief, ...other };
    const now = predict(own, installed);
    return own.groups.every(
      (group, g) => !isUnsure(group, now[g]) || changed.every((a) => own.share[g][a] === 0),
    );
  });
}

/** @param isAnyhow whether what is proposed holds whatever a take of those tunes shows; null where nothing is proposed */
export function tunesWords({ rows, missing }: Tunes, isAnyhow: boolean | null): string[] {
  const figures = (values: readonly number[]) => values.map((value) => value.toFixed(1)).join(', ');
  const names = rows.map(({ tune }) => tune).join(', ');
  const unsure = rows.filter((row) => row.unsure.length > 0);
  return [
    ...(rows.length > 1
      ? [
          `These are for all tunes together (${names}): their worst means come to ${figures(rows.map(({ worstAfterMs }) => worstAfterMs))} ms; each tune alone could have ${figures(rows.map(({ aloneMs }) => aloneMs))} ms.`,
        ]
      : []),
    ...(unsure.length > 0
      ? [
          `Where ${unsure.map(({ tune }) => tune).join(', ')} stands now is not known well enough (${[...new Set(unsure.flatMap((row) => row.unsure))].slice(0, 3).join(', ')}): record a take of ${unsure.length === 1 ? 'it' : 'each'} before anything is changed for ${unsure.length === 1 ? 'it' : 'them'}${recordFirst(isAnyhow, unsure.length === 1)}.`,
        ]
      : []),
    ...(missing.length > 0
      ? [
          `No take of ${missing.join(', ')} was measured: nothing is planned for ${missing.length === 1 ? 'it' : 'them'} yet.`,
        ]
      : []),
  ];
}

/**
 * Tunes whose newest takes are at different tempi are planned for side by side, each at its own: said where the machine names no tempi, as
 * what a delay does to lateness goes by the tempo.
 */
export function ownTempiWords({ machine, rounds }: Belief): string[] {
  if (machine.description.tempi !== undefined) return [];
  const newest = new Map(rounds.flatMap((round, i) => (round.tune === undefined ? [] : [[round.tune, i]])));
  if (new Set([...newest.values()].map((i) => tempoOf(rounds, i))).size < 2) return [];
  const each = [...newest].map(([tune, i]) => {
    const { bpm } = rounds[i].report.tempo;
    return bpm === null ? tune : `${tune} at ${bpm.toFixed(0)}`;
  });
  return [
    `Each tune is foretold at the tempo of its own newest take (${each.join(', ')} beats a minute), and what a tune does at another tempo is not said: name the tempi that are meant ("tempi") to have all planned for.`,
  ];
}

/** A take that is to come first, and changes that stand beside it: which of the two holds. */
function recordFirst(isAnyhow: boolean | null, isOne: boolean): string {
  if (isAnyhow === null) return '';
  const it = isOne ? 'it' : 'them';
  return isAnyhow
    ? `; what is proposed moves nothing of that, and holds whatever a take of ${it} shows`
    : `; what is proposed moves ${it} too, so record ${it} before any of it is done`;
}

/** Reports of a tune alone: pins of another say nothing of how these change. */
export function ofSameTune<T extends { readonly tune?: string }>(
  reports: readonly T[],
  tune: string | undefined,
): T[] {
  return reports.filter((report) => report.tune === tune);
}
