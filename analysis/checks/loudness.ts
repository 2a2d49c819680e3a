/**
 * How loud channels and sectors play: strikers that are uneven from turn to turn, sectors that play louder or fainter than the
 * others. Levels of one channel on one track are compared; where the recorder changed its gain, none is.
 */
import { finding } from '../results/catalogue.ts';
import { sectorOf } from '../machine/effects.ts';
import { withMinus } from '../words/minus.ts';
import { grouped } from '../numbers/grouped.ts';
import { ci95, pooledVariance, studentTQuantile } from '../numbers/inference.ts';
import { mean, robustSd } from '../numbers/statistics.ts';
import type { Finding, Group } from '../results/results.ts';
import { channelLevels } from '../strokes/levels.ts';
import type { Check, Study } from './check.ts';
import { channelName, counted, listed } from '../words/names.ts';
import { tracksOfOtherGain } from './recorder-gain.ts';

/** Chance of one false sector in a take. */
const falseAlarm = 0.005;
/** The least difference in level that is heard: 0.5 to 1.5 dB (Jesteadt, Wier & Green 1977, JASA 61:169, from memory). */
export const heardDb = 1;
/** Spread from turn to turn from which a striker is called uneven; common practice, no source. */
const unevenDb = 2;
/** A spread of fewer pairs of strokes is too unsure for a word. */
const leastPairs = 12;
/** Strokes on one track nearer than this are in each other's fitted gain, s. */
const clearS = 0.03;
/** Qn is 82 % efficient: standard error of a spread from n values, as a share of it. */
const shareOfSpread = (n: number) => 1 / Math.sqrt(2 * 0.82 * n);
/** Normal quantile of 0.95, one-sided. */
const surely = 1.645;

export const loudness: Check = {
  id: 'loudness',
  looksFor: 'Strikers that are uneven in loudness, and sectors that play louder than others.',
  run: (study) => [...unevenStrikers(study), ...loudSectors(study)],
  section: (study) => {
    const { machine, groups } = study;
    const levelled = groups.filter(({ level }) => typeof level?.meanDb === 'number');
    if (levelled.length === 0) return null;
    const whole = new Map(
      levelled.filter(({ sector }) => sector === null).map((group) => [group.channel, group]),
    );
    const isMoved = tracksOfOtherGain(study).size > 0;
    const turns = new Map(
      turnSpreads(study).map(({ channel, sdDb }) => [machine.description.channels[channel].id, sdDb]),
    );
    const nameOf = (id: string) =>
      channelName(
        machine,
        machine.description.channels.findIndex((channel) => channel.id === id),
      );
    return {
      id: 'loudness',
      title: 'Loudness',
      sentences: [
        `Level of each stroke from the gain that was fitted to it, dB below full scale. It depends on microphone and recorder too: compare a channel with itself. About ${heardDb} dB is heard (Jesteadt, Wier & Green 1977).`,
        ...(isMoved
          ? ['A recorder seems to have changed its gain meanwhile: these levels are not to be relied on.']
          : []),
      ],
      table: {
        columns: [
          'channel',
          'sector',
          'level, dB',
          'against its channel, dB',
          'spread, dB',
          'turn to turn, dB',
          'strokes',
        ],
        rows: levelled.map((group) => {
          const { channel, sector } = group;
          const { meanDb, ci95Db, sdDb, count } = group.level!;
          const isWhole = sector === null;
          return [
            nameOf(channel),
            sector ?? 'all',
            withCi(meanDb, ci95Db),
            isWhole ? '–' : against(group, whole.get(channel)),
            figure(sdDb),
            isWhole ? figure(turns.get(channel) ?? null) : '–',
            `${count}`,
          ];
        }),
      },
    };
  },
};

function figure(db: number | null): string {
  return db === null || !Number.isFinite(db) ? '–' : withMinus(db.toFixed(1));
}

function withCi(db: number | null, ci95Db: number | null): string {
  return ci95Db === null ? figure(db) : `${figure(db)} ± ${ci95Db.toFixed(1)}`;
}

/** A sector's mean less its channel's; the sector's strokes are in both, so chance is only in what the two do not share. */
function against({ level: own }: Group, whole: Group | undefined): string {
  const all = whole?.level;
  if (typeof own?.meanDb !== 'number' || typeof all?.meanDb !== 'number') return '–';
  const difference = own.meanDb - all.meanDb;
  const shown = `${difference < 0 ? '−' : '+'}${Math.abs(difference).toFixed(1)}`;
  if (own.ci95Db === null) return shown;
  const ci95Db = own.ci95Db * Math.sqrt(Math.max(0, 1 - own.count / all.count));
  return `${shown} ± ${ci95Db.toFixed(1)}`;
}

/**
 * Spread of one pin from turn to turn, by channel: from differences of strokes that follow each other at one pin, so that what
 * changes slowly is not in it. Only strokes that nothing else on their track overlaps.
 */
function turnSpreads(study: Study): { channel: number; track: number; sdDb: number; pairs: number }[] {
  const { strokes, machine, hearing } = study;
  const { levelDb, timeS, track, count } = strokes.hits;
  const isClear = (i: number) => {
    const near = (step: -1 | 1) => {
      for (let j = i + step; j >= 0 && j < count && Math.abs(timeS[j] - timeS[i]) < clearS; j += step)
        if (track[j] === track[i]) return true;
      return false;
    };
    return !near(-1) && !near(1);
  };
  return channelLevels(strokes, machine, hearing.tracks).flatMap(({ track: own, byPin }, channel) => {
    const differences = [...byPin.values()].flatMap((hits) => {
      const clear = hits.filter(isClear).sort((a, b) => timeS[a] - timeS[b]);
      return clear.slice(1).map((i, k) => (levelDb[i] - levelDb[clear[k]]) / Math.SQRT2);
    });
    return differences.length < leastPairs
      ? []
      : [{ channel, track: own, sdDb: robustSd(differences), pairs: differences.length }];
  });
}

function unevenStrikers(study: Study): Finding[] {
  const { machine } = study;
  const moved = tracksOfOtherGain(study);
  return turnSpreads(study).flatMap(({ channel, track, sdDb, pairs }) => {
    // Each difference shares a stroke with the next: half of them are independent.
    const leastDb = sdDb * (1 - surely * shareOfSpread(pairs / 2));
    if (moved.has(track) || !(leastDb > unevenDb)) return [];
    const message = `${channelName(machine, channel)} strikes unevenly: one pin’s strokes differ by ${sdDb.toFixed(1)} dB (standard deviation) from turn to turn`;
    return [finding('uneven-strikes', message, { channel: machine.description.channels[channel].id })];
  });
}

/** Mean level of a pin. */
interface PinLevel {
  readonly channel: number;
  readonly sector: number;
  readonly db: number;
}

interface Contrast {
  readonly sector: number;
  readonly db: number;
  readonly standardError: number;
  readonly ci95Db: number;
  /** By channel: its own difference and its weight in the mean. */
  readonly channels: readonly {
    readonly channel: number;
    readonly db: number;
    readonly weight: number;
    readonly standardError: number;
  }[];
}

function loudSectors(study: Study): Finding[] {
  const { machine, strokes, hearing } = study;
  const { channels, barrel } = machine.description;
  const moved = tracksOfOtherGain(study);
  const pins = channelLevels(strokes, machine, hearing.tracks).flatMap(({ track, byPin }, channel) =>
    moved.has(track) || !channels[channel].onBarrel
      ? []
      : [...byPin].map(([step, hits]): PinLevel => ({
          channel,
          sector: sectorOf(machine.description, step),
          db: mean(hits.map((i) => strokes.hits.levelDb[i])),
        })),
  );
  const cells = grouped(pins, ({ channel, sector }) => `${channel} ${sector}`);
  const spread = pooledVariance([...cells.values()].map((cell) => cell.map(({ db }) => db)));
  if (!(spread.degreesOfFreedom > 0)) return [];
  const quantile = studentTQuantile(1 - falseAlarm / (2 * barrel.sectors.length), spread.degreesOfFreedom);
  const findings: Finding[] = [];
  // The one that stands out most first; the others are then held against each other without it.
  const left = new Set(barrel.sectors.keys());
  while (left.size > 1) {
    const sure = [...left].flatMap((sector) => {
      const told = contrastOf(
        pins.filter((pin) => left.has(pin.sector)),
        sector,
        spread,
      );
      return told !== null && Math.abs(told.db) - quantile * told.standardError > heardDb ? [told] : [];
    });
    if (sure.length === 0) break;
    // Of two sectors each stands out against the other: the louder one is named.
    const most = sure.reduce((a, b) => (standsOut(b) > standsOut(a) ? b : a));
    findings.push(...sectorFinding(study, most, quantile));
    left.delete(most.sector);
  }
  return findings;
}

/** Distance from the usual, dB. Where a louder and a quieter sector stand out by the same, the louder wins, whatever rounding says. */
function standsOut({ db }: Contrast): number {
  return Math.abs(db) + (db > 0 ? 1e-6 : 0);
}

/** A sector's level less that of the others, channel by channel. @param spread of pins' levels about their cells' means */
function contrastOf(
  pins: readonly PinLevel[],
  sector: number,
  spread: { readonly variance: number; readonly degreesOfFreedom: number },
): Contrast | null {
  const channels = [...grouped(pins, ({ channel }) => channel)].flatMap(([channel, own]) => {
    const inside = own.filter((pin) => pin.sector === sector).map(({ db }) => db);
    const outside = own.filter((pin) => pin.sector !== sector).map(({ db }) => db);
    if (inside.length === 0 || outside.length === 0) return [];
    const weight = (inside.length * outside.length) / (inside.length + outside.length);
    return [{ channel, db: mean(inside) - mean(outside), weight, standardError: errorOf(weight) }];
  });
  function errorOf(weight: number): number {
    return Math.sqrt(spread.variance / weight);
  }
  const total = channels.reduce((sum, { weight }) => sum + weight, 0);
  if (total === 0) return null;
  const standardError = errorOf(total);
  return {
    sector,
    db: channels.reduce((sum, one) => sum + one.weight * one.db, 0) / total,
    standardError,
    ci95Db: ci95(standardError, spread.degreesOfFreedom),
    channels,
  };
}

/** None where the sector stands out by one channel that is not sure by itself. */
function sectorFinding({ machine }: Study, contrast: Contrast, quantile: number): Finding[] {
  const { sector, db, ci95Db, channels } = contrast;
  const { id } = machine.description.barrel.sectors[sector];
  const size = (value: number) => `${Math.abs(value).toFixed(1)} dB`;
  const word = (value: number) => (value > 0 ? 'louder' : 'fainter');
  const part = (one: (typeof channels)[number]) => one.weight * one.db * Math.sign(db);
  const strongest = channels.reduce((a, b) => (part(b) > part(a) ? b : a));
  // What is left without the channel that makes most of it is the sector's.
  const others = channels.filter((one) => one !== strongest);
  const weight = others.reduce((sum, one) => sum + one.weight, 0);
  const rest = others.reduce((sum, one) => sum + part(one), 0) / weight;
  if (others.length > 0 && rest > heardDb) {
    const names = channels.map(({ channel }) => machine.description.channels[channel].id);
    const message = `sector ${id} plays ${size(db)} ± ${ci95Db.toFixed(1)} ${word(db)} than the other sectors, the mean over ${counted(channels.length, 'channel')}: ${listed(names)}`;
    return [finding('loud-sector', message, { sector: id })];
  }
  if (!(Math.abs(strongest.db) - quantile * strongest.standardError > heardDb)) return [];
  const message = `${channelName(machine, strongest.channel)} plays ${size(strongest.db)} ${word(strongest.db)} in sector ${id} than elsewhere`;
  const { id: channel } = machine.description.channels[strongest.channel];
  return [finding('loud-sector', message, { channel, sector: id })];
}
