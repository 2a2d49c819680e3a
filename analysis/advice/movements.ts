/** Suppositions of movement: what left its place at once or by and by, with nothing noted that would do it. */
import { sharesOf } from './shares.ts';
import type { Machine } from '../machine/machine.ts';
import type { Assumptions, DesignColumn } from './fit.ts';
import type { Series, Moves } from './series.ts';
import type { Supposition } from './supposition.ts';

/** Movements are mostly of a few ms: standard deviation of their prior. Common practice, no source. */
const USUAL_MOVE_MS = 5;
/** What drifts does so by tenths of a ms from take to take. Common practice, no source. */
const USUAL_DRIFT_MS = 0.3;
/** Fewer takes cannot tell a drift from two movements. */
const LEAST_TAKES_OF_DRIFT = 5;

/** Logarithms of how usual each is in a machine's record; common practice, no source. */
const LOG_PRIOR = { moved: -3, drifts: -3.5, slipped: -3.5 };
/** Of the pins of one tune alone: a striker works for all of them. Added to the above; common practice, no source. */
const OF_ONE_TUNE = -1;

/** What moves as one. */
export interface Body {
  readonly kind: 'moved' | 'slipped';
  readonly words: string;
  readonly moves: Moves;
  /** Ms of lateness for one ms of it; without a tune: in any of them. */
  readonly share: (channel: number, sector: number, tune?: string) => number;
  /** The one tune whose pins it moves. */
  readonly tune?: string;
  readonly logPrior: number;
}

/** Lateness that a movement before a round takes off all takes before it, so that the newest stands as it is. */
export function movedBefore(before: number, ms: (series: Series, round: number) => number): DesignColumn {
  return (series, round) => (round < before ? -ms(series, round) : 0);
}

export function movements({ rounds, series }: Assumptions, bodies: readonly Body[]): Supposition[] {
  const count = rounds.length;
  const jumps = bodies.flatMap((body) =>
    Array.from({ length: count - 1 }, (_, i): Supposition => ({
      ...body,
      adjusters: [],
      before: i + 1,
      column: movedBefore(i + 1, ({ channel, sector, tune }) => body.share(channel, sector, tune)),
      mean: 0,
      sd: USUAL_MOVE_MS,
      logPrior: body.logPrior - Math.log(count - 1),
    })),
  );
  // Two takes each of several tunes are many takes, and no course of any.
  const most = Math.max(0, ...series.map((one) => one.rounds.length));
  const starts = most < LEAST_TAKES_OF_DRIFT ? 0 : Math.max(0, count - LEAST_TAKES_OF_DRIFT + 1);
  const drifts = bodies.flatMap((body) =>
    Array.from({ length: starts }, (_, start): Supposition => ({
      ...body,
      adjusters: [],
      kind: 'drifts',
      before: start + 1,
      column: ({ channel, sector, tune }, round) =>
        body.share(channel, sector, tune) * (Math.max(start, round) - (count - 1)),
      mean: 0,
      sd: USUAL_DRIFT_MS,
      logPrior: body.logPrior + LOG_PRIOR.drifts - LOG_PRIOR.moved - Math.log(starts),
    })),
  );
  return [...jumps, ...drifts];
}

/** A channel, a sector, one of both, what an adjuster moves, and everything against the reference; each once. */
export function bodiesOf(machine: Machine, series: readonly Series[]): Body[] {
  const { channels, barrel, adjusters } = machine.description;
  const sectors = barrel.sectors.length;
  const groups = [...new Set(series.map(({ channel, sector }) => channel * sectors + sector))]
    .map((key) => ({ channel: Math.floor(key / sectors), sector: key % sectors }))
    .filter(({ channel }) => channel !== machine.reference);
  const seen = new Set<string>();
  const bodies: Body[] = [];
  const add = (words: string, shareOf: Body['share'], kind: Body['kind'] = 'moved') => {
    const shares = new Float64Array(channels.length * sectors);
    for (const { channel, sector } of groups) shares[channel * sectors + sector] = shareOf(channel, sector);
    const key = shares.map((share) => Math.round(share * 1000)).join(' ');
    if (seen.has(key) || shares.every((share) => share === 0)) return;
    seen.add(key);
    const share = (channel: number, sector: number) => shares[channel * sectors + sector];
    bodies.push({ kind, words, share, moves: (c, s) => share(c, s) !== 0, logPrior: 0 });
  };
  if (new Set(groups.map(({ channel }) => channel)).size > 1)
    add(`everything against the reference ${channels[machine.reference].id}`, () => 1, 'slipped');
  channels.forEach(({ id }, c) => add(id, (channel) => (channel === c ? 1 : 0)));
  if (sectors > 1) {
    barrel.sectors.forEach(({ id }, s) =>
      add(`sector ${id}`, (channel, sector) => (channels[channel].onBarrel && sector === s ? 1 : 0)),
    );
    adjusters.forEach(({ id }, a) => {
      const shares = groups.map(({ channel, sector }) => sharesOf(machine, channel, sector)[a]);
      const most = shares.reduce((x, y) => (Math.abs(y) > Math.abs(x) ? y : x), 0);
      if (most !== 0)
        add(`all that ${id} moves`, (channel, sector) => sharesOf(machine, channel, sector)[a] / most);
    });
    for (const { channel, sector } of groups)
      add(`${channels[channel].id} in sector ${barrel.sectors[sector].id}`, (c, s) =>
        c === channel && s === sector ? 1 : 0,
      );
  }
  const count = (kind: Body['kind']) => bodies.filter((one) => one.kind === kind).length;
  const counts = { moved: count('moved'), slipped: count('slipped') };
  const ofAll = bodies.map((one) => ({ ...one, logPrior: LOG_PRIOR[one.kind] - Math.log(counts[one.kind]) }));
  const tunes = [...new Set(series.flatMap(({ tune }) => (tune === undefined ? [] : [tune])))];
  return tunes.length < 2 ? ofAll : [...ofAll, ...tunes.flatMap((tune) => inTune(tune, ofAll, tunes.length))];
}

/** The same, were it the pins of one tune alone. */
function inTune(tune: string, bodies: readonly Body[], tunes: number): Body[] {
  return bodies.map((body) => {
    const share: Body['share'] = (channel, sector, of = tune) =>
      of === tune ? body.share(channel, sector) : 0;
    return {
      ...body,
      kind: 'moved',
      words: body.kind === 'slipped' ? `all of ${tune}` : `${body.words} of ${tune}`,
      tune,
      share,
      moves: (c, s, of) => share(c, s, of) !== 0,
      logPrior: body.logPrior + OF_ONE_TUNE - Math.log(tunes),
    };
  });
}
