/**
 * What the takes on record teach about a machine: what each adjuster does, how exactly parts go back, how much lateness
 * wanders by itself, what happened that is not noted, and with all that where every group stands now. The model is in
 * fit.ts; what it is asked, in turn:
 * 1. which suppositions about the record and about movements the takes uphold (doubt.ts);
 * 2. how much each channel wanders (wander.ts), and how exactly parts go back (refits.ts);
 * 3. where the groups stand, with all that is unsure about that.
 */
import { NORMAL_95 } from '../numbers/normal.ts';
import { sharesOf } from './shares.ts';
import { coupled, moves } from '../machine/effects.ts';
import { ofTune } from '../machine/tune.ts';
import type { Machine } from '../machine/machine.ts';
import type { EarlierReport } from '../results/results.ts';
import {
  measuredGroups,
  type Belief,
  type BelievedEffect,
  type BelievedGroup,
  type OtherTuneGroups,
} from './belief.ts';
import { doubt, heldBy, wanderingAs, type Doubted } from './doubt.ts';
import { BREAK_VARIANCE_MS2, fitEffects, type Assumptions, type Filtered, type EffectsFit } from './fit.ts';
import { learnOwnRefits, learnRefits, MOST_AT_FIRST_MS, usualRefits } from './refits.ts';
import { roundsOf, type Round, settingsOf } from './rounds.ts';
import { seriesOf, type Series } from './series.ts';
import { surely } from './sure.ts';
import { learnWander, USUAL_WANDER_MS } from './wander.ts';

/** Standard deviation of what adjusters truly do about what geometry says: "off by tens of per cent"; no source. */
export const PRIOR_SD = 0.25;

/**
 * An adjuster whose factor is pulled this many of the prior's standard deviations away from geometry is seized, mounted
 * the other way, or wrongly described: of it the prior knows nothing, and its standard deviation is this instead. Else
 * what is odd about one adjuster would be taken for scatter of all refits. 95 % of the prior lies within two.
 */
const SURPRISING_SDS = 2;
const UNKNOWN_SD = 2;

/** What the takes say of a machine, at the newest take's tempo and settings. The newest take must know its tempo. */
export function beliefFromTakes(
  machine: Machine,
  reports: readonly EarlierReport[],
  priorSd = PRIOR_SD,
): Belief {
  const known = remembered.get(machine);
  const same =
    known?.reports.length === reports.length && reports.every((one, i) => one === known.reports[i]);
  if (known !== undefined && same && known.priorSd === priorSd) return known.belief;
  const belief = learn(machine, reports, priorSd);
  remembered.set(machine, { reports: [...reports], priorSd, belief });
  return belief;
}

/** The last belief of each machine: advice and its outcome ask for the same one. */
const remembered = new WeakMap<
  Machine,
  { readonly reports: readonly EarlierReport[]; readonly priorSd: number; readonly belief: Belief }
>();

function learn(machine: Machine, reports: readonly EarlierReport[], priorSd: number): Belief {
  const rounds = roundsOf(machine, reports);
  const adjusters = machine.description.adjusters;
  const base: Assumptions = {
    machine,
    rounds,
    series: seriesOf(rounds),
    priorSds: adjusters.map(() => priorSd),
    refitMs: usualRefits(machine),
    wanderMs: () => USUAL_WANDER_MS,
    breaks: (series, round) => workedOn(machine, rounds[round], series),
    supposed: [],
  };
  // What is odd about a channel must not be taken for its wandering before it was asked what happened.
  const { usualMs } = learnWander(fitEffects(base));
  const first = learnRefits({ ...base, wanderMs: () => usualMs }, MOST_AT_FIRST_MS);
  const doubted = doubt(first, UNKNOWN_SD, usualMs);
  const wander = learnWander(doubted.fit).ofChannelMs;
  const settled = wanderingAs(doubted.assumptions, wander, doubted.upheld);
  const { mean } = fitEffects(settled);
  const priorSds = settled.priorSds.map((sd, a) =>
    Math.abs(mean[a]) > SURPRISING_SDS * sd ? UNKNOWN_SD : sd,
  );
  const common = learnRefits({ ...settled, priorSds });
  const assumptions = learnOwnRefits(common, fitEffects(common));
  return believe({ ...doubted, assumptions, fit: fitEffects(assumptions) }, priorSd);
}

/** What a person says was worked on before a take: no lateness from before it says where its groups are now. */
function workedOn(machine: Machine, { worked }: Round, { channel, sector }: Series): boolean {
  const { channels, barrel, adjusters } = machine.description;
  return worked.some((id) => {
    if (id === 'machine') return true;
    if (id === channels[channel].id) return true;
    if (id === channels[machine.reference].id) return true;
    if (id === `sector:${barrel.sectors[sector].id}`) return channels[channel].onBarrel;
    const adjuster = adjusters.find((one) => one.id === id);
    if (adjuster === undefined) return false;
    return (
      moves(machine, adjuster, channel, sector) ||
      sharesOf(machine, channel, sector)[adjusters.indexOf(adjuster)] !== 0
    );
  });
}

/** From the fit to the newest take's groups, with all that is unsure about them. */
function believe({ fit: current, assumptions, upheld }: Doubted, priorSd: number): Belief {
  const { machine, rounds, refitMs } = assumptions;
  const { mean, covariance, filtered, unknowns } = current;
  const newest = rounds[rounds.length - 1];
  const last = rounds.length - 1;
  const adjusters = refitMs.length;
  const measured = measuredGroups(machine, newest.report);
  const wanderOf = (group: BelievedGroup) => {
    const own = filtered.find(
      ({ series }) => series.channel === group.channel && series.sector === group.sector,
    );
    return own === undefined || rounds.length < 2 ? 0 : assumptions.wanderMs(own.series);
  };
  const believed = measured.map((group) => {
    const own = filtered.find(
      ({ series }) =>
        series.channel === group.channel && series.sector === group.sector && series.rounds.at(-1) === last,
    );
    return own === undefined ? alone(group, adjusters) : levelOf(group, own, current, adjusters);
  });
  return {
    machine,
    secondsPerTurn: newest.secondsPerTurn,
    takeSettings: settingsOf(machine, newest.report),
    groups: believed.map(({ group }) => group),
    share: measured.map(({ channel, sector }) => withCouplings(current, channel, sector)),
    effects: refitMs.map((ms, a): BelievedEffect => {
      const known = covariance.get(a, a) < priorSd ** 2 / 2;
      return { factor: 1 + mean[a], from: known ? 'takes' : 'geometry', refitMs: ms };
    }),
    factorCovariance: refitMs.map((_, a) => Float64Array.from(refitMs, (__, b) => covariance.get(a, b))),
    groupCovariance: believed.map(({ withFactors }) => withFactors),
    rounds,
    upheld,
    held: heldBy(upheld, assumptions),
    wanderMs: measured.map(wanderOf),
    others: otherTunes(current, assumptions),
    couplings: unknowns.couplings.map(({ adjuster, to, at }) => ({
      adjuster,
      to,
      share: to.share + mean[at],
      sd: Math.sqrt(covariance.get(at, at)),
    })),
  };
}

/**
 * Each tune but the newest take's, as its own newest take and all that was learnt since tell it. The levels are those with the
 * newest take's settings; what may have moved since is added to their variance.
 */
function otherTunes(current: EffectsFit, assumptions: Assumptions): OtherTuneGroups[] {
  const { machine, rounds, wanderMs, breaks, refitMs } = assumptions;
  const { adjusters } = machine.description;
  const last = rounds.length - 1;
  const newest = rounds[last];
  const names = [...new Set(rounds.map(({ tune }) => tune))].filter((tune) => tune !== newest.tune);
  return names.flatMap((tune) => {
    if (tune === undefined) return [];
    const at = rounds.findLastIndex((round) => round.tune === tune);
    const slower = rounds[at].secondsPerTurn / newest.secondsPerTurn;
    const ratio = adjusters.map(({ perUnit }) => ('dropMm' in perUnit || 'ms' in perUnit ? 1 : slower));
    const own = ofTune(machine, tune);
    const rows = measuredGroups(own, rounds[at].report).flatMap((group) => {
      const { channel, sector } = group;
      const series = current.filtered.find(
        (one) =>
          one.series.tune === tune &&
          one.series.channel === channel &&
          one.series.sector === sector &&
          one.series.rounds.at(-1) === at,
      );
      if (series === undefined) return [];
      const { meanMs, variance, withFactors } = levelIn(series, current, refitMs.length);
      let moved = 0;
      for (let r = at + 1; r <= last; r++)
        moved += breaks(series.series, r) ? BREAK_VARIANCE_MS2 : wanderMs(series.series) ** 2;
      const share = withCouplings(current, channel, sector, own).map((value, a) => value * ratio[a]);
      const ci95Ms = NORMAL_95 * Math.sqrt(variance + moved);
      return [{ group: { ...group, meanMs, ci95Ms }, share, withFactors, wander: wanderMs(series.series) }];
    });
    return [
      {
        tune,
        take: rounds[at].report.take,
        groups: rows.map(({ group }) => group),
        share: rows.map(({ share }) => share),
        groupCovariance: rows.map(({ withFactors }) => withFactors),
        wanderMs: rows.map(({ wander }) => wander),
      },
    ];
  });
}

interface BelievedLevel {
  readonly group: BelievedGroup;
  readonly withFactors: Float64Array;
}

/** What the newest take says by itself. */
function alone(group: BelievedGroup, adjusters: number): BelievedLevel {
  return { group, withFactors: new Float64Array(adjusters) };
}

/** A series' level with the newest take's settings, its variance, and its covariance with each factor. */
function levelIn(
  { series, steps, at, level, columnLevels }: Filtered,
  { mean, covariance }: EffectsFit,
  adjusters: number,
) {
  let meanMs = level;
  let variance = steps.levelVariance[series.rounds.length - 1] + series.standingMs2;
  const withUnknown = (other: number) =>
    at.reduce((sum, unknown, i) => sum + columnLevels[i] * covariance.get(unknown, other), 0);
  at.forEach((unknown, i) => {
    meanMs -= columnLevels[i] * mean[unknown];
    variance += columnLevels[i] * withUnknown(unknown);
  });
  const withFactors = Float64Array.from({ length: adjusters }, (_, a) => -withUnknown(a));
  return { meanMs, variance, withFactors };
}

function levelOf(group: BelievedGroup, own: Filtered, current: EffectsFit, adjusters: number): BelievedLevel {
  const { meanMs, variance, withFactors } = levelIn(own, current, adjusters);
  const ci95Ms = NORMAL_95 * Math.sqrt(variance);
  // The newest take always counts: where it is sure by itself, and all takes together say otherwise, it stands alone.
  const { toleranceMs } = group;
  const taken = surely(group.measuredMs, group.ci95Ms, toleranceMs);
  if (taken !== null && taken !== surely(meanMs, ci95Ms, toleranceMs)) return alone(group, adjusters);
  return { group: { ...group, meanMs, ci95Ms }, withFactors };
}

/** Shares with the couplings as the takes tell them. */
function withCouplings(
  { assumptions, unknowns, mean }: EffectsFit,
  channel: number,
  sector: number,
  machine = assumptions.machine,
): Float64Array {
  if (unknowns.couplings.length === 0) return sharesOf(machine, channel, sector);
  const share = Float64Array.from(sharesOf(machine, channel, sector));
  for (const { adjuster, to, at } of unknowns.couplings)
    if (coupled(machine, to, channel, sector)) share[adjuster] += mean[at];
  return share;
}
