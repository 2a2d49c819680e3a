/**
 * Doubts the record: of all suppositions the one that makes the takes by far likelier is upheld, then the next beside it,
 * until none is needed. What cannot be told apart stays open: the rivals are kept with it.
 */
import { sharesOf } from './shares.ts';
import { fitEffects, logEvidence, scoreTest, type Assumptions, type EffectsFit } from './fit.ts';
import { bodiesOf, movedBefore, movements, type Body } from './movements.ts';
import { recordDoubts, type Odd } from './record-doubts.ts';
import type { Series } from './series.ts';
import { cautiousWanderMs } from './wander.ts';
import type { Supposition, SuppositionKind, Upheld } from './supposition.ts';

/** So much likelier (logarithm of the posterior odds) than nothing odd must it be: 20 to 1. */
const UPHELD = Math.log(20);
/** Suppositions within these odds of the best are its rivals: 20 to 1. */
const RIVAL = Math.log(20);
/** Less is not worth a word, ms: hearing and refits are as large. */
const LEAST_MS = 0.3;
/** A movement by so many standard deviations makes the record about it worth doubting. */
const ODD_SDS = 2.5;
/** Work whose size comes out further than this from what it should be was not that work: 95 of 100 are nearer. */
const MOST_OFF_SDS = 2;
/** More at once is no record at all. */
const MOST_UPHELD = 10;

/** They are about when and where lateness moved, not about what a person noted. */
export const movementKinds: ReadonlySet<SuppositionKind> = new Set(['moved', 'slipped', 'drifts']);

export interface Doubted {
  readonly upheld: readonly Upheld[];
  readonly assumptions: Assumptions;
  readonly fit: EffectsFit;
}

/** @param unknownSd prior standard deviation of a factor that is surely not as geometry says */
export function doubt(base: Assumptions, unknownSd: number): Doubted {
  let assumptions = base;
  let current = fitEffects(assumptions);
  const upheld: Upheld[] = [];
  const bodies = assumptions.rounds.length > 1 ? bodiesOf(base.machine, base.series) : [];
  for (let i = 0; i < MOST_UPHELD && assumptions.rounds.length > 1; i++) {
    const next = likeliest(current, bodies);
    if (next === null) break;
    if (next.kind !== 'own-size' || next.rivals.length > 0) upheld.push(next);
    assumptions = withUpheld(assumptions, next, unknownSd);
    current = fitEffects(assumptions);
  }
  return { upheld, assumptions, fit: current };
}

function likeliest(current: EffectsFit, bodies: readonly Body[]): Upheld | null {
  const { assumptions } = current;
  const { machine } = assumptions;
  const asked = new Map<string, boolean>();
  const isOdd = (key: string, before: number, share: (channel: number, sector: number) => number) => {
    let answer = asked.get(`${key} ${before}`);
    if (answer === undefined) {
      const column = movedBefore(before, ({ channel, sector }) => share(channel, sector));
      const { pull, information } = scoreTest(current, column, (c, s) => share(c, s) !== 0);
      answer = information > 0 && pull * pull > ODD_SDS ** 2 * information;
      asked.set(`${key} ${before}`, answer);
    }
    return answer;
  };
  const odd: Odd = {
    adjuster: (a, before) => isOdd(`a${a}`, before, (c, s) => sharesOf(machine, c, s)[a]),
    channel: (channel, before) => isOdd(`c${channel}`, before, (c) => (c === channel ? 1 : 0)),
  };
  const isMoreThanWander = beyondWander(assumptions);
  const judged = [...movements(assumptions, bodies), ...recordDoubts(assumptions, odd)]
    .map((one) => {
      const score = scoreTest(current, one.column, one.moves);
      const log = logEvidence(score, one.mean, one.sd) + one.logPrior;
      const precision = score.information + 1 / one.sd ** 2;
      const size = (score.pull + one.mean / one.sd ** 2) / precision;
      return { one, log, size, sizeSd: 1 / Math.sqrt(precision) };
    })
    .filter(
      ({ log, one, size }) =>
        log > UPHELD &&
        isOfItsSize(one, size) &&
        largestMs(assumptions, one, size) >= LEAST_MS &&
        isMoreThanWander(one),
    )
    .sort((a, b) => b.log - a.log);
  const best = judged.at(0);
  if (best === undefined) return null;
  const rivals = judged.slice(1).flatMap(({ one, log }) => (log > best.log - RIVAL ? [one] : []));
  const apart = rivals.filter((one) => isRival(one, best.one));
  return { ...best.one, size: best.size, sizeSd: best.sizeSd, rivals: apart };
}

/**
 * Whether an adjuster that moves a channel it is not described to move makes the takes likelier than a wander of that channel
 * does, as large as is to be reckoned with. Of the rest it is not asked: what moved has moved, whatever did it.
 */
function beyondWander(assumptions: Assumptions): (one: Supposition) => boolean {
  const { rounds, wanderMs } = assumptions;
  let cautious: EffectsFit | null = null;
  return ({ kind, column, moves, mean, sd }) => {
    if (kind !== 'moves-others') return true;
    cautious ??= fitEffects({
      ...assumptions,
      wanderMs: (series) => cautiousWanderMs(wanderMs(series), rounds.length),
    });
    return logEvidence(scoreTest(cautious, column, moves), mean, sd) > 0;
  };
}

/**
 * Work has a size of its own. Where the takes moved by an eighth of it, the work explains them no better than chance picks its
 * groups, and it is not what is said to have been done.
 */
function isOfItsSize({ mean, sd }: Supposition, size: number): boolean {
  return mean === 0 || Math.abs(size - mean) <= MOST_OFF_SDS * sd;
}

/**
 * Of a movement, when and how widely it was is no matter of the record. Of an adjuster that does something else than geometry
 * says, only what may have happened to itself is another reading of the same; of the rest, each other reading is.
 */
function isRival(one: Supposition, best: Supposition): boolean {
  if (movementKinds.has(best.kind)) return !movementKinds.has(one.kind);
  if (best.kind === 'own-size') return !movementKinds.has(one.kind) && one.kind !== 'own-size';
  return one.kind !== best.kind || one.words !== best.words;
}

function largestMs({ series }: Assumptions, { column }: Supposition, size: number): number {
  let most = 0;
  for (const one of series)
    for (const round of one.rounds) most = Math.max(most, Math.abs(size * column(one, round)));
  return most;
}

function withUpheld(assumptions: Assumptions, one: Upheld, unknownSd: number): Assumptions {
  const { breaks, supposed, wanderMs, priorSds } = assumptions;
  if (one.kind === 'own-size')
    return { ...assumptions, priorSds: priorSds.map((sd, a) => (a === one.adjusters[0] ? unknownSd : sd)) };
  if (one.kind === 'drifts') {
    const isIn = (series: Series) => one.moves(series.channel, series.sector, series.tune);
    return {
      ...assumptions,
      wanderMs: (series) => Math.max(wanderMs(series), isIn(series) ? Math.abs(one.size) : 0),
      supposed: [...supposed, { column: one.column, mean: 0, sd: one.sd }],
    };
  }
  if (one.kind === 'moved' || one.kind === 'slipped' || one.kind === 'work-not-noted')
    return {
      ...assumptions,
      breaks: (series, round) =>
        breaks(series, round) ||
        (round === one.before && one.moves(series.channel, series.sector, series.tune)),
    };
  return { ...assumptions, supposed: [...supposed, one] };
}

/**
 * Adjusters to be left alone: what was noted of them, or what the file says of them, is in doubt. What happened once is
 * settled by the next change that did as it should.
 */
export function heldBy(upheld: readonly Upheld[], { rounds }: Assumptions): Set<number> {
  const held = new Set<number>();
  for (const one of upheld) {
    if (movementKinds.has(one.kind)) continue;
    const all = [one, ...one.rivals.filter(({ kind }) => kind !== 'own-size' && !movementKinds.has(kind))];
    const since = one.before;
    for (const a of all.flatMap(({ adjusters }) => adjusters)) {
      const again =
        since !== null &&
        rounds.some((round, r) => r > since && round.settings[a] !== rounds[r - 1].settings[a]);
      if (!again) held.add(a);
    }
  }
  return held;
}
