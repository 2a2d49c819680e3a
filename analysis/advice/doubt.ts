/**
 * Doubts the record: of all suppositions the one that makes the takes by far likelier is upheld, then the next beside it,
 * until none is needed. What cannot be told apart stays open: the rivals are kept with it.
 */
import { sharesOf } from './shares.ts';
import { fitEffects, logEvidence, scoreTest, type Assumptions, type EffectsFit } from './fit.ts';
import { bodiesOf, movedBefore, movements, type Body } from './movements.ts';
import { recordDoubts, type Odd } from './record-doubts.ts';
import { cautiousWanderMs, learnWander, lesserWanders } from './wander.ts';
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

/** Takes that leave more of a prior's standard deviation than this tell nothing of a size. */
const LEAST_KNOWN = 0.5;
/** Evidence that differs by less is the same but for rounding. */
const AS_LIKELY = 1e-6;

/**
 * What moved is taken for wander until it is told, and hides the next movement behind itself: so after each the wander is learned anew.
 *
 * @param unknownSd prior standard deviation of a factor that is surely not as geometry says
 * @param mostWanderMs of the channels as the takes have it before anything is told
 */
export function doubt(base: Assumptions, unknownSd: number, mostWanderMs: number): Doubted {
  const { channels } = base.machine.description;
  let usualMs = mostWanderMs;
  let assumptions = base;
  let current = fitEffects(assumptions);
  const upheld: Upheld[] = [];
  const bodies = assumptions.rounds.length > 1 ? bodiesOf(base.machine, base.series) : [];
  for (let i = 0; i < MOST_UPHELD && assumptions.rounds.length > 1; i++) {
    const next = likeliest(current, bodies, lesserFits(assumptions, usualMs, upheld));
    if (next === null) break;
    if (next.kind !== 'own-size' || next.rivals.length > 0) upheld.push(next);
    assumptions = withUpheld(assumptions, next, unknownSd);
    usualMs = Math.min(usualMs, learnWander(fitEffects(assumptions)).usualMs);
    assumptions = wanderingAs(assumptions, channels.map(() => usualMs), upheld); // prettier-ignore
    current = fitEffects(assumptions);
  }
  return { upheld: sizedBeside(upheld, base, assumptions, unknownSd), assumptions, fit: current };
}

/**
 * What was told first was sized with what was told after it still in it: each movement's size is that of the groups, or the takes, that no
 * other moved, where there are any.
 */
function sizedBeside(
  upheld: readonly Upheld[],
  base: Assumptions,
  { wanderMs }: Assumptions,
  unknownSd: number,
): Upheld[] {
  return upheld.map((one) => {
    if (upheld.length === 1 || (one.kind !== 'moved' && one.kind !== 'slipped')) return one;
    const others = upheld.filter((other) => other !== one);
    const beside = others.reduce((all, other) => withUpheld(all, other, unknownSd), base);
    const { size, sizeSd } = judge(fitEffects({ ...beside, wanderMs }), one);
    return sizeSd < LEAST_KNOWN * one.sd ? { ...one, size, sizeSd } : one;
  });
}

/** A fit with a lesser wander, and the logarithm of how likely it is beside the likeliest of them. */
interface LesserFit {
  readonly fit: EffectsFit;
  readonly log: number;
}

/**
 * What is taken for a wide wander may be a movement: with it the takes may be likelier, and wander less, than without it.
 */
function lesserFits(assumptions: Assumptions, usualMs: number, upheld: readonly Upheld[]): LesserFit[] {
  const { channels } = assumptions.machine.description;
  const fits = lesserWanders(usualMs).map(({ ms, log }) => {
    const fit = fitEffects(wanderingAs(assumptions, channels.map(() => ms), upheld)); // prettier-ignore
    return { fit, log: fit.logLikelihood + log };
  });
  const most = Math.max(...fits.map(({ log }) => log));
  return fits.map(({ fit, log }) => ({ fit, log: log - most }));
}

function judge(fit: EffectsFit, one: Supposition): Judged {
  const score = scoreTest(fit, one.column, one.moves);
  const log = logEvidence(score, one.mean, one.sd) + one.logPrior;
  const precision = score.information + 1 / one.sd ** 2;
  const size = (score.pull + one.mean / one.sd ** 2) / precision;
  return { one, log, size, sizeSd: 1 / Math.sqrt(precision) };
}

function likeliest(
  current: EffectsFit,
  bodies: readonly Body[],
  lesser: readonly LesserFit[],
): Upheld | null {
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
      const asIs = judge(current, one);
      return lesser
        .map(({ fit, log }) => {
          const other = judge(fit, one);
          return { ...other, log: other.log + log };
        })
        .reduce<Judged>((x, y) => (y.log > x.log ? y : x), asIs);
    })
    .filter(
      ({ log, one, size }) =>
        log > UPHELD &&
        isOfItsSize(one, size) &&
        largestMs(assumptions, one, size) >= LEAST_MS &&
        isMoreThanWander(one),
    )
    .sort((a, b) => b.log - a.log);
  if (judged.length === 0) return null;
  const best = latest(judged);
  const rivals = judged.flatMap(({ one, log }) => (one !== best.one && log > best.log - RIVAL ? [one] : []));
  const apart = rivals.filter((one) => isRival(one, best.one));
  return { ...best.one, size: best.size, sizeSd: best.sizeSd, rivals: apart };
}

interface Judged {
  readonly one: Supposition;
  readonly log: number;
  readonly size: number;
  readonly sizeSd: number;
}

/**
 * The likeliest; of a movement that lies between two takes, and may be dated before or after another tune's take there, the latest date:
 * where that tune stands since is then unsure, and not told by a take that may have been made before.
 *
 * @param judged the likeliest first
 */
function latest(judged: readonly Judged[]): Judged {
  const [first] = judged;
  if (first.one.kind !== 'moved' && first.one.kind !== 'slipped') return first;
  return judged
    .filter(
      ({ one, log }) =>
        log > first.log - AS_LIKELY && one.kind === first.one.kind && one.words === first.one.words,
    ) // prettier-ignore
    .reduce((x, y) => ((y.one.before ?? 0) > (x.one.before ?? 0) ? y : x));
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
  const { breaks, supposed, priorSds } = assumptions;
  if (one.kind === 'own-size')
    return { ...assumptions, priorSds: priorSds.map((sd, a) => (a === one.adjusters[0] ? unknownSd : sd)) };
  if (one.kind === 'drifts')
    return { ...assumptions, supposed: [...supposed, { column: one.column, mean: 0, sd: one.sd }] };
  if (one.kind === 'moved' || one.kind === 'slipped' || one.kind === 'work-not-noted')
    return {
      ...assumptions,
      breaks: (series, round) =>
        breaks(series, round) ||
        (round === one.before && one.moves(series.channel, series.sector, series.tune)),
    };
  return { ...assumptions, supposed: [...supposed, one] };
}

/** Channels as they wander, ms by channel; those of which a drift is upheld by at least that much. */
export function wanderingAs(
  assumptions: Assumptions,
  wanderMs: readonly number[],
  upheld: readonly Upheld[],
): Assumptions {
  const drifts = upheld.filter(({ kind }) => kind === 'drifts');
  return {
    ...assumptions,
    wanderMs: ({ channel, sector, tune }) =>
      drifts.reduce(
        (most, drift) => (drift.moves(channel, sector, tune) ? Math.max(most, Math.abs(drift.size)) : most),
        wanderMs[channel],
      ),
  };
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
