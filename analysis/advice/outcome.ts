/** Did it work? The newest take against what the takes before it predicted for its settings. */
import { NORMAL_95 } from '../numbers/normal.ts';
import { settingsOf } from './rounds.ts';
import type { Machine } from '../machine/machine.ts';
import { ofTune } from '../machine/tune.ts';
import { grouped } from '../numbers/grouped.ts';
import { asOfNow } from './meant.ts';
import { withMinus } from '../words/minus.ts';
import { holm, welch } from '../numbers/inference.ts';
import type { Outcome, EarlierReport } from '../results/results.ts';
import { measuredGroups, predict, type Belief } from './belief.ts';
import { NOTHING, shiftOf } from './effects.ts';
import { beliefFromTakes } from './learn.ts';
import { unheardIn, unmeasuredIn, withoutCopies } from './takes.ts';

/** Chance of even one false alarm among the groups. */
const ALPHA = 0.05;
/**
 * An effect is known to tens of per cent: only what differs from it by more than this share of it contradicts it. Half of a change
 * that was left undone has to.
 */
const ROUGHLY = 0.4;
/** A take that took less than this share off a factor's variance cannot tell what the adjuster did. */
const LEARNED = 0.25;

/**
 * @param reports oldest first; the last is the take after the change, the one of its tune before it the take that was acted on
 * @returns null where there are not two takes with a tempo, nothing was changed between them, or no group is in both
 */
export function didItWork(given: Machine, reports: readonly EarlierReport[]): Outcome | null {
  const all = reports.map((report) => asOfNow(report, given));
  const { own } = withoutCopies(all);
  // Of a recording that was there before, nothing says what was done in between.
  if (own.at(-1) !== all.at(-1)) return null;
  const known = own.filter(({ tempo }) => tempo.secondsPerTurn !== null);
  const later = known.at(-1);
  if (later === undefined) return null;
  const machine = ofTune(given, later.tune);
  // Pins of another tune cannot show what became of these: the take that was acted on is the last of the same tune.
  const until = known.slice(0, -1).findLastIndex(({ tune }) => tune === later.tune);
  if (until === -1) return null;
  const earlier = known[until];
  const settings = settingsOf(machine, later);
  const then = settingsOf(machine, earlier);
  if (settings.every((setting, a) => setting === then[a])) return null;
  const before = beliefFromTakes(standingAt(machine, earlier), known.slice(0, until + 1));
  const groups = compare(before, settings, machine, later);
  const changed = changesBetween(before, settings);
  const shown = shownByGroups(before, changed, machine, later);
  const adjusters = judgeAdjusters(machine, before, changed, known, shown);
  if (groups.length === 0 || adjusters.length === 0) return null;
  const worstBeforeMs = Math.max(...groups.map(({ beforeMs }) => Math.abs(beforeMs ?? 0)));
  const worstAfterMs = Math.max(...groups.map(({ measuredMs }) => Math.abs(measuredMs ?? 0)));
  const outcome = { since: earlier.take, groups, adjusters, worstBeforeMs, worstAfterMs };
  const missing = [
    ...unheardIn(machine, later).map(({ channel }) => channel),
    ...[...grouped(unmeasuredIn(machine, later), ({ sector }) => sector)].map(
      ([sector, own]) => `sector ${sector} of ${own.map(({ channel }) => channel).join(' and ')}`,
    ),
  ];
  return { ...outcome, line: lineOf(later, outcome, missing) };
}

/** The machine as it stood at a take. */
function standingAt(machine: Machine, report: EarlierReport): Machine {
  const { adjusters } = machine.description;
  const settings = settingsOf(machine, report);
  const then = adjusters.map((adjuster, a) => ({ ...adjuster, installed: settings[a] }));
  return { ...machine, description: { ...machine.description, adjusters: then } };
}

function compare(
  before: Belief,
  settings: readonly number[],
  machine: Machine,
  later: EarlierReport,
): Outcome['groups'] {
  const { channels, barrel } = machine.description;
  // The next take is one wandering later.
  const predicted = predict(before, settings).map(({ meanMs, ci95Ms }, g) => ({
    meanMs,
    ci95Ms: Math.hypot(ci95Ms, NORMAL_95 * before.wanderMs[g]),
  }));
  const measured = new Map(
    measuredGroups(machine, later).map((group) => [`${group.channel} ${group.sector}`, group]),
  );
  const pairs = before.groups.flatMap((group, g) => {
    const after = measured.get(`${group.channel} ${group.sector}`);
    return after === undefined ? [] : [{ group, after, forecast: predicted[g] }];
  });
  const probabilities = pairs.map(({ after, forecast }) => {
    const foreseen = { mean: forecast.meanMs, standardError: forecast.ci95Ms / NORMAL_95 };
    const seen = { mean: after.measuredMs, standardError: after.ci95Ms / NORMAL_95 };
    // Intervals in reports have their degrees of freedom in them already.
    return welch({ ...seen, degreesOfFreedom: Infinity }, { ...foreseen, degreesOfFreedom: Infinity }).p;
  });
  const corrected = holm(probabilities);
  return pairs.map(({ group, after, forecast }, i) => ({
    channel: channels[group.channel].id,
    sector: barrel.sectors[group.sector].id,
    beforeMs: group.measuredMs,
    predictedMs: forecast.meanMs,
    predictedCi95Ms: forecast.ci95Ms,
    measuredMs: after.measuredMs,
    measuredCi95Ms: after.ci95Ms,
    p: corrected[i],
    asPredicted: !(corrected[i] < ALPHA),
  }));
}

/** An adjuster that stands elsewhere than in the take that was acted on. */
interface Change {
  /** Index into the machine's adjusters. */
  readonly adjuster: number;
  readonly from: number;
  readonly to: number;
  /** Its own shift by geometry, ms. */
  readonly shiftMs: number;
}

function changesBetween(before: Belief, settings: readonly number[]): Change[] {
  return before.machine.description.adjusters.flatMap((adjuster, a): Change[] => {
    const [from, to] = [before.takeSettings[a], settings[a]];
    return from === to ? [] : [{ adjuster: a, from, to, shiftMs: shiftOf(before, adjuster, from, to) }];
  });
}

/** What two takes alone say that an adjuster did, as a multiple of what geometry says. */
interface Shown {
  readonly factor: number;
  readonly sd: number;
}

/**
 * The weighted mean over the groups that no other changed adjuster moves, from what both takes measured and nothing that was held
 * before.
 *
 * @returns by adjuster index; without those that have no such group
 */
function shownByGroups(
  before: Belief,
  changes: readonly Change[],
  machine: Machine,
  later: EarlierReport,
): ReadonlyMap<number, Shown> {
  const sums = new Map<number, { weight: number; weighted: number }>();
  for (const after of measuredGroups(machine, later)) {
    const g = before.groups.findIndex(
      ({ channel, sector }) => channel === after.channel && sector === after.sector,
    );
    const moving = g === -1 ? [] : changes.filter(({ adjuster }) => before.share[g][adjuster] !== 0);
    if (moving.length !== 1) continue;
    const [{ adjuster, shiftMs }] = moving;
    const { measuredMs, measuredCi95Ms } = before.groups[g];
    const movedMs = before.share[g][adjuster] * shiftMs;
    const sdMs = Math.hypot(after.ci95Ms, measuredCi95Ms) / NORMAL_95;
    const sum = sums.get(adjuster) ?? { weight: 0, weighted: 0 };
    sums.set(adjuster, {
      weight: sum.weight + (movedMs / sdMs) ** 2,
      weighted: sum.weighted + (movedMs * (after.measuredMs - measuredMs)) / sdMs ** 2,
    });
  }
  return new Map(
    [...sums].flatMap(([a, { weight, weighted }]): [number, Shown][] => {
      if (weight === 0) return [];
      // Where the part came to rest when it was put back is the same in all of its groups.
      const { shiftMs } = changes.find(({ adjuster }) => adjuster === a)!;
      const refit = before.effects[a].refitMs / Math.abs(shiftMs);
      return [[a, { factor: weighted / weight, sd: Math.hypot(1 / Math.sqrt(weight), refit) }]];
    }),
  );
}

/**
 * An adjuster's factor before and after the newest take was learned from. Where the model holds, the step from one to
 * the other is normal about 0, and its variance is what the take took off the factor's.
 */
function judgeAdjusters(
  machine: Machine,
  before: Belief,
  changes: readonly Change[],
  reports: readonly EarlierReport[],
  shown: ReadonlyMap<number, Shown>,
): Outcome['adjusters'] {
  const { adjusters } = machine.description;
  const after = beliefFromTakes(machine, reports);
  const learned = (a: number) => before.factorCovariance[a][a] - after.factorCovariance[a][a];
  const probabilities = changes.map(({ adjuster: a }) => {
    const step = { mean: after.effects[a].factor, standardError: Math.sqrt(Math.max(learned(a), 1e-9)) };
    const expected = { mean: before.effects[a].factor, standardError: 0, degreesOfFreedom: Infinity };
    return welch({ ...step, degreesOfFreedom: Infinity }, expected).p;
  });
  const corrected = holm(probabilities);
  return changes.map(({ adjuster: a, from, to, shiftMs }, i) => {
    const seen = after.effects[a].factor;
    const half = NORMAL_95 * Math.sqrt(after.factorCovariance[a][a]);
    const told = before.effects[a].factor;
    const enough =
      learned(a) >= LEARNED * before.factorCovariance[a][a] || before.effects[a].from === 'takes';
    const measured = shown.get(a) ?? null;
    const did = enough ? verdict({ seen, half, told, p: corrected[i] }, measured) : 'cannot-tell';
    return {
      adjuster: adjusters[a].id,
      from,
      to,
      expectedMs: shiftMs * told,
      seenMs: shiftMs * seen,
      seenCi95Ms: Math.abs(shiftMs) * half,
      did,
      ...(did === 'cannot-tell' && measured !== null && contradicts(told, measured)
        ? { measuredMs: shiftMs * measured.factor }
        : {}),
    };
  });
}

interface Judged {
  /** Factors as the takes together and those before the newest have them; `half` of the first one's interval. */
  readonly seen: number;
  readonly half: number;
  readonly told: number;
  /** Chance of so great a step between the two where the adjuster did as was expected. */
  readonly p: number;
}

function verdict({ seen, half, told, p }: Judged, shown: Shown | null): Outcome['adjusters'][number]['did'] {
  if (!(p < ALPHA)) return contradicts(told, shown) ? 'cannot-tell' : 'as-expected';
  if (Math.abs(seen) <= Math.max(half, NOTHING)) return isHeard(shown) ? 'less' : 'nothing';
  if (seen * told < 0) return 'the-opposite';
  return Math.abs(seen) > Math.abs(told) ? 'more' : 'less';
}

/**
 * Whether the two takes, set side by side, surely show another effect. Together with all that is held a change may still be what was
 * expected, since groups move by themselves and an effect is known roughly: then nothing is said for it.
 */
function contradicts(told: number, shown: Shown | null): boolean {
  return shown !== null && Math.abs(shown.factor - told) - NORMAL_95 * shown.sd > ROUGHLY * Math.abs(told);
}

/** Whether the two takes surely show any effect. */
function isHeard(shown: Shown | null): boolean {
  return shown !== null && Math.abs(shown.factor) > NORMAL_95 * shown.sd;
}

/** What adjusters did, those with the same verdict in one clause. */
const clauses: Readonly<Record<Outcome['adjusters'][number]['did'], (names: string) => string>> = {
  'as-expected': (names) => `${names} did as expected`,
  more: (names) => `${names} did more than expected`,
  less: (names) => `${names} did less than expected`,
  nothing: (names) => `${names} did nothing that could be heard`,
  'the-opposite': (names) => `${names} did the opposite of what was expected`,
  'cannot-tell': (names) => `this take cannot tell by itself what ${names} did`,
};

function lineOf(
  later: EarlierReport,
  { groups, adjusters, worstBeforeMs, worstAfterMs }: Omit<Outcome, 'line'>,
  unmeasured: readonly string[],
): string {
  const missing = unmeasured.length === 0 ? '' : `, and ${unmeasured.join(', ')} could not be measured`;
  const right = groups.filter(({ asPredicted }) => asPredicted).length;
  const ms = (value: number | null) => withMinus((value ?? 0).toFixed(1));
  const change = ({ adjuster, from, to }: Outcome['adjusters'][number]) =>
    `${adjuster} ${withMinus(from)} → ${withMinus(to)}`;
  const figures = ({ seenMs, expectedMs }: Outcome['adjusters'][number]) =>
    ` (${ms(seenMs)} ms, expected ${ms(expectedMs)})`;
  const otherwise = ({ measuredMs, expectedMs }: Outcome['adjusters'][number]) =>
    measuredMs === undefined
      ? ''
      : ` (between the two takes ${ms(measuredMs)} ms, expected ${ms(expectedMs)}: look at what is really fitted)`;
  const did = [...grouped(adjusters, (one) => one.did)].map(([verdict, own]) => {
    if (verdict === 'cannot-tell')
      return clauses[verdict](own.map((one) => change(one) + otherwise(one)).join(', '));
    if (own.length === 1) return clauses[verdict](change(own[0])) + figures(own[0]);
    return clauses[verdict](own.map((one) => change(one) + figures(one)).join(', '));
  });
  return (
    `take ${later.take}: worst mean ${ms(worstBeforeMs)} → ${ms(worstAfterMs)} ms, ` +
    `${right} of ${groups.length} groups as predicted${missing}; ${did.join('; ')}.`
  );
}
