/**
 * One set of settings for all tunes of a barrel. Each tune's pins lie off by other amounts, while every adjuster moves all tunes
 * alike; so the groups of each tune's newest take are planned for together, and the worst over all tunes is made least.
 */
import type { IntegerSolver, Run } from '../ports.ts';
import type { Advice, EarlierReport } from '../results.ts';
import { installedOf, predict, worstMeanMs, type Belief, type OtherTune } from './belief.ts';
import { goodEnough, planFor } from './plan.ts';
import { sparingPlan } from './sparing.ts';
import { stockAllows } from './stock.ts';

type Tunes = NonNullable<Advice['tunes']>;

/** The groups of a belief with those of all other tunes behind them. */
export function withTunes(belief: Belief, { others }: Belief): Belief {
  if (others.length === 0) return belief;
  const all = <T>(own: readonly T[], rows: (one: OtherTune) => readonly T[]) => [
    ...own,
    ...others.flatMap(rows),
  ];
  return {
    ...belief,
    groups: all(belief.groups, ({ groups }) => groups),
    share: all(belief.share, ({ share }) => share),
    groupCovariance: all(belief.groupCovariance, ({ groupCovariance }) => groupCovariance),
    wanderMs: all(belief.wanderMs, ({ wanderMs }) => wanderMs),
  };
}

/** Each tune by itself, the newest take's first. */
function eachTune(belief: Belief, newest: EarlierReport): { tune: string; take: string; belief: Belief }[] {
  const own = { tune: newest.tune ?? '', take: newest.take, belief };
  return [own, ...belief.others.map((other) => ({ ...other, belief: { ...belief, ...other } }))];
}

/** Whether another tune than the newest take's is not as it should be with these settings: then nothing may be called well. */
export function othersAreOut(belief: Belief, settings: readonly number[]): boolean {
  return belief.others.some((other) => {
    const own = { ...belief, ...other };
    return !goodEnough(own, predict(own, settings)) || unsureIn(own).length > 0;
  });
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
  for (const { tune, take, belief: own } of eachTune(belief, newest)) {
    if (own.groups.length === 0) continue;
    const alone =
      belief.others.length === 0 ? settings : (await sparingPlan(own, planFor, solve, run)).settings;
    const best = stockAllows(own.machine, alone) ? alone : settings;
    const afterMs = worstMeanMs(own, settings);
    rows.push({
      tune,
      take,
      worstBeforeMs: worstMeanMs(own, installedOf(own.machine)),
      worstAfterMs: afterMs,
      aloneMs: Math.min(afterMs, worstMeanMs(own, best)),
      unsure: unsureIn(own),
    });
  }
  const told = new Set(rows.map(({ tune }) => tune));
  return { rows, missing: tunes.flatMap(({ name }) => (told.has(name) ? [] : [name])) };
}

/** Channels of which it is not known to within tolerance where they stand now: too much happened since that tune's take. */
function unsureIn({ groups, machine }: Belief): string[] {
  const wide = groups.filter(({ ci95Ms, toleranceMs }) => ci95Ms > toleranceMs);
  return [...new Set(wide.map(({ channel }) => machine.description.channels[channel].id))];
}

export function tunesWords({ rows, missing }: Tunes): string[] {
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
          `Where ${unsure.map(({ tune }) => tune).join(', ')} stands now is not known well enough (${[...new Set(unsure.flatMap((row) => row.unsure))].slice(0, 3).join(', ')}): record a take of it before it is called well.`,
        ]
      : []),
    ...(missing.length > 0
      ? [
          `No take of ${missing.join(', ')} was measured: nothing is planned for ${missing.length === 1 ? 'it' : 'them'} yet.`,
        ]
      : []),
  ];
}

/** Reports of a tune alone: pins of another say nothing of how these change. */
export function ofSameTune<T extends { readonly tune?: string }>(
  reports: readonly T[],
  tune: string | undefined,
): T[] {
  return reports.filter((report) => report.tune === tune);
}
