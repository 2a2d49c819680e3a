/** Two reports of one machine beside each other: what moved, by how much, and whether chance explains it. */
import { asMeantIn } from '../advice/meant.ts';
import { ci95, holm, welch } from '../numbers/inference.ts';
import type { Finding, Group, Report } from '../results/results.ts';
import { measuredOf } from '../strokes/estimate.ts';
import { type ChannelFacts, type Judgement, channelsOf, judge, sectorsOf } from './reading.ts';

/** Groups whose corrected probability is below this moved by more than chance. */
export const significance = 0.05;

export interface MovedGroup {
  readonly channel: string;
  /** As people call the channel. */
  readonly name: string;
  readonly sector: string;
  readonly beforeMs: number | null;
  readonly beforeCi95Ms: number | null;
  readonly afterMs: number | null;
  readonly afterCi95Ms: number | null;
  /** after less before; positive is later than it was */
  readonly movedMs: number | null;
  readonly movedCi95Ms: number | null;
  /** Welch's two-sided probability with Holm's correction over all groups compared. */
  readonly p: number | null;
  /** null where one of the two was not measured */
  readonly moreThanChance: boolean | null;
  readonly judgedBefore: Judgement;
  readonly judgedAfter: Judgement;
}

export interface Comparison {
  readonly before: Pick<Report, 'machine' | 'take' | 'recorded'>;
  readonly after: Pick<Report, 'machine' | 'take' | 'recorded'>;
  /** false: the two reports name different machines, and what moved may mean nothing */
  readonly sameMachine: boolean;
  /** Where the two takes are of different tunes: which; their pins are others, and no group is compared. */
  readonly tunes: readonly [string, string] | null;
  readonly tempo: {
    readonly beforeBpm: number | null;
    readonly afterBpm: number | null;
    readonly changeBpm: number | null;
    readonly changeCi95Bpm: number | null;
  };
  /** Only those that differ; null where the report does not have the adjuster. */
  readonly settings: readonly {
    readonly adjuster: string;
    readonly before: number | null;
    readonly after: number | null;
  }[];
  /** Every channel × sector of either report, in the machine's order. */
  readonly groups: readonly MovedGroup[];
  readonly came: readonly Finding[];
  readonly went: readonly Finding[];
}

/** Compares two reports; neither is changed. Both are held against what is meant in the later one. */
export function compareReports(before: Report, after: Report): Comparison {
  return {
    before: namesOf(before),
    after: namesOf(after),
    sameMachine: before.machine === after.machine,
    tempo: tempoChange(before, after),
    settings: settingChanges(before, after),
    ...(isOfOneTune(before, after)
      ? { tunes: null, ...whatMoved(before, after) }
      : { tunes: [before.tune ?? unnamed, after.tune ?? unnamed], groups: [], came: [], went: [] }),
  };
}

/** Of a take from when the machine had one pattern. */
const unnamed = 'one that is not named';

/** A report from when the machine had one pattern says no tune; its pins tell whether it is the other's. */
function isOfOneTune(a: Report, b: Report): boolean {
  if (a.tune === b.tune) return true;
  if (a.tune !== undefined && b.tune !== undefined) return false;
  const pinsOf = ({ pins }: Report) => new Set(pins.map(({ channel, step }) => `${channel} ${step}`));
  const [ofA, ofB] = [pinsOf(a), pinsOf(b)];
  return ofA.size === ofB.size && [...ofA].every((pin) => ofB.has(pin));
}

function whatMoved(before: Report, after: Report): Pick<Comparison, 'groups' | 'came' | 'went'> {
  return {
    groups: movedGroups(asMeantIn(before, after), after),
    came: missingFrom(before.findings, after.findings),
    went: missingFrom(after.findings, before.findings),
  };
}

function namesOf({ machine, take, recorded }: Report) {
  return { machine, take, recorded };
}

function tempoChange({ tempo: before }: Report, { tempo: after }: Report): Comparison['tempo'] {
  const change = before.bpm === null || after.bpm === null ? null : after.bpm - before.bpm;
  const [a, b] = [before.bpmCi95, after.bpmCi95];
  return {
    beforeBpm: before.bpm,
    afterBpm: after.bpm,
    changeBpm: change,
    // Two independent intervals add as their squares.
    changeCi95Bpm: change === null || a === null || b === null ? null : Math.hypot(a, b),
  };
}

function settingChanges({ settings: before }: Report, { settings: after }: Report): Comparison['settings'] {
  const adjusters = [...new Set([...Object.keys(before), ...Object.keys(after)])];
  return adjusters
    .map((adjuster) => ({ adjuster, before: own(before, adjuster), after: own(after, adjuster) }))
    .filter((row) => row.before !== row.after);
}

function own(settings: Readonly<Record<string, number>>, adjuster: string): number | null {
  return Object.hasOwn(settings, adjuster) ? settings[adjuster] : null;
}

function movedGroups(before: Report, after: Report): MovedGroup[] {
  const channels = new Map<string, ChannelFacts>();
  for (const channel of [...channelsOf(after), ...channelsOf(before)]) {
    if (!channels.has(channel.id)) channels.set(channel.id, channel);
  }
  const sectors = [...new Set([...sectorsOf(after), ...sectorsOf(before)])];
  const [was, is] = [measuresOf(before), measuresOf(after)];
  const pairs = [...channels.values()].flatMap((channel) =>
    sectors.flatMap((sector) => {
      const key = keyOf(channel.id, sector);
      return was.has(key) || is.has(key) ? [{ channel, sector, was: was.get(key), is: is.get(key) }] : [];
    }),
  );
  const tests = pairs.map((pair) => testOf(pair.was, pair.is));
  const tried = tests.flatMap((test, i) => (test === null ? [] : [{ i, p: test.p }]));
  const corrected = new Map(holm(tried.map(({ p }) => p)).map((p, k) => [tried[k].i, p]));
  return pairs.map(({ channel, sector, was, is }, i) => {
    const p = corrected.get(i) ?? null;
    const [beforeMs, afterMs] = [was?.meanMs ?? null, is?.meanMs ?? null];
    return {
      channel: channel.id,
      name: channel.name,
      sector,
      beforeMs,
      beforeCi95Ms: was?.ci95Ms ?? null,
      afterMs,
      afterCi95Ms: is?.ci95Ms ?? null,
      movedMs: beforeMs === null || afterMs === null ? null : afterMs - beforeMs,
      movedCi95Ms: tests[i]?.ci95Ms ?? null,
      p,
      moreThanChance: p === null ? null : p < significance,
      judgedBefore: judge(beforeMs, was?.ci95Ms ?? null, channel.toleranceMs),
      judgedAfter: judge(afterMs, is?.ci95Ms ?? null, channel.toleranceMs),
    };
  });
}

type Measure = Pick<Group, 'meanMs' | 'ci95Ms' | 'standardErrorMs' | 'degreesOfFreedom'>;

function measuresOf({ groups }: Report): Map<string, Measure> {
  return new Map(
    groups.flatMap((group) =>
      group.sector === null ? [] : [[keyOf(group.channel, group.sector), group] as const],
    ),
  );
}

/** Ids have no line breaks. */
function keyOf(channel: string, sector: string): string {
  return `${channel}\n${sector}`;
}

function testOf(was: Measure | undefined, is: Measure | undefined): { p: number; ci95Ms: number } | null {
  const [a, b] = [estimateOf(is), estimateOf(was)];
  if (a === null || b === null) return null;
  const { difference, standardError, degreesOfFreedom, p } = welch(a, b);
  if (standardError === 0) return { p: difference === 0 ? 1 : 0, ci95Ms: 0 };
  return { p, ci95Ms: ci95(standardError, degreesOfFreedom) };
}

function estimateOf(measure: Measure | undefined) {
  const measured = measure === undefined ? null : measuredOf(measure);
  if (measured === null) return null;
  const { meanMs: mean, standardErrorMs: standardError, degreesOfFreedom } = measured;
  return { mean, standardError, degreesOfFreedom };
}

/** Findings of `of` that `from` does not have; their sentences may differ. */
function missingFrom(from: readonly Finding[], of: readonly Finding[]): Finding[] {
  const keys = new Set(from.map(subject));
  return of.filter((finding) => !keys.has(subject(finding)));
}

function subject({ kind, channel, sector, step, foundStep, adjuster, file }: Finding): string {
  return JSON.stringify([kind, channel, sector, step, foundStep, adjuster, file]);
}
