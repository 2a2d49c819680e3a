/**
 * How loud each channel is from take to take. A recorder's gain and a microphone's place differ between takes, so a channel is held
 * against the others on its track: what they have in common is the recorder's. What changes of its drop height did is taken off.
 */
import { finding } from '../results/catalogue.ts';
import { channelName, counted, listed } from '../words/names.ts';
import { dropHeightMm, dropLevelDb, moves } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { withMinus } from '../words/minus.ts';
import { ci95, studentTQuantile } from '../numbers/inference.ts';
import { slopesWithin } from '../numbers/regression.ts';
import { median, sumOfSquares } from '../numbers/statistics.ts';
import type { EarlierReport, Finding } from '../results/results.ts';
import { recordedMs } from '../take/order.ts';

/** Of two channels that part nobody could tell which one changed. */
const leastOthers = 2;
/** Fewer takes cannot tell a fade from a step and chance. */
const leastTakes = 6;
/** A fade is a matter of months; so long at least, days. */
const leastDays = 30;
/** A fade is told from here on, dB: twice what is heard at best. Common practice, no source. */
const fadedDb = 2;
/** Chance of one false fade in a machine's record. */
const falseAlarm = 0.005;
const dayMs = 86_400_000;

export interface LevelInTake {
  /** dB re full scale. */
  readonly levelDb: number | null;
  /** Less the median of the others on its track, changes of drop height since then taken off; null where it cannot be compared. */
  readonly againstOthersDb: number | null;
}

export interface Fade {
  /** Of the whole time, dB; positive is a fall. */
  readonly fallDb: number;
  readonly ci95Db: number;
  readonly takes: number;
  readonly since: string;
}

export interface LevelCourse {
  /** One a report. */
  readonly lines: readonly LevelInTake[];
  /** Channels (indices) that it is held against. */
  readonly others: readonly number[];
  readonly fade: Fade | null;
}

/** @param reports oldest first @returns one course a channel, in the machine's order */
export function levelCourses(machine: Machine, reports: readonly EarlierReport[]): LevelCourse[] {
  const heard = reports.map((report) => levelsOf(machine, report));
  const courses = machine.description.channels.map((_, channel) =>
    courseOf(machine, reports, heard, channel),
  );
  const comparable = courses.filter(({ others }) => others.length >= leastOthers).length;
  return courses.map((course, channel) => ({
    ...course,
    fade: fadeOf(course, sinceWork(machine, reports, channel), reports, falseAlarm / Math.max(1, comparable)),
  }));
}

interface Heard {
  readonly track: number;
  readonly db: number;
}

/** By channel; null where the level is not known or the recorder is not to be relied on. */
function levelsOf({ description }: Machine, { groups, findings, tracks }: EarlierReport): (Heard | null)[] {
  const doubted = new Set(
    findings.flatMap(({ kind, file }) => (kind === 'recorder-gain' || kind === 'clipped' ? [file] : [])),
  );
  return description.channels.map(({ id }) => {
    const level = groups.find((group) => group.channel === id && group.sector === null)?.level;
    if (typeof level?.meanDb !== 'number' || doubted.has(tracks.at(level.track)?.file)) return null;
    return { track: level.track, db: level.meanDb };
  });
}

function courseOf(
  machine: Machine,
  reports: readonly EarlierReport[],
  heard: readonly (readonly (Heard | null)[])[],
  channel: number,
): Omit<LevelCourse, 'fade'> {
  const newest = heard.findLastIndex((levels) => levels[channel] !== null);
  const beside = newest < 0 ? [] : heard[newest];
  const own = beside.at(channel);
  const others = beside.flatMap((level, c) =>
    c !== channel && level !== null && level.track === own?.track ? [c] : [],
  );
  const lines = heard.map((levels, i): LevelInTake => {
    const level = levels[channel];
    const levelDb = level?.db ?? null;
    const at = (c: number) => {
      const one = levels[c];
      if (one === null || one.track !== level?.track) return NaN;
      return one.db - heightDb(machine, c, reports[newest].settings, reports[i].settings);
    };
    const against = at(channel) - median(others.map(at));
    const isKnown =
      others.length >= leastOthers && Number.isFinite(against) && others.every((c) => !Number.isNaN(at(c)));
    return { levelDb, againstOthersDb: isKnown ? against : null };
  });
  return { lines, others };
}

type Settings = EarlierReport['settings'];

/** By how much a channel is louder with other drop heights, dB; NaN where that is not known for the whole channel. */
function heightDb(machine: Machine, channel: number, from: Settings, to: Settings): number {
  return machine.description.adjusters.reduce((sum, adjuster) => {
    if (!('dropMm' in adjuster.perUnit) || !moves(machine, adjuster, channel, null)) return sum;
    const [was, is] = [from, to].map((settings) => settings[adjuster.id] as number | undefined);
    if (was === is) return sum;
    if (was === undefined || is === undefined || adjuster.shifts.sectors !== undefined) return NaN;
    return sum + dropLevelDb(dropHeightMm(adjuster, was), dropHeightMm(adjuster, is));
  }, 0);
}

/** Index of the first report since which nobody worked on a channel, beside the settings that are known. */
function sinceWork(machine: Machine, reports: readonly EarlierReport[], channel: number): number {
  const { channels, adjusters } = machine.description;
  const isOfIt = (id: string) => {
    const adjuster = adjusters.find((one) => one.id === id);
    return (
      id === 'machine' ||
      id === channels[channel].id ||
      (adjuster !== undefined && moves(machine, adjuster, channel, null))
    );
  };
  return Math.max(
    0,
    reports.findLastIndex(({ worked = [] }) => worked.some(isOfIt)),
  );
}

function fadeOf(
  { lines }: Pick<LevelCourse, 'lines'>,
  since: number,
  reports: readonly EarlierReport[],
  chance: number,
): Fade | null {
  const points = lines.flatMap(({ againstOthersDb }, i) => {
    const ms = recordedMs(reports[i].recorded);
    return i < since || againstOthersDb === null || ms === null
      ? []
      : [{ days: ms / dayMs, db: againstOthersDb, recorded: reports[i].recorded ?? '' }];
  });
  if (points.length < leastTakes) return null;
  const days = points.map((point) => point.days);
  const span = Math.max(...days) - Math.min(...days);
  const db = points.map((point) => point.db);
  const line = slopesWithin([[...points.keys()]], db, [days]);
  if (span < leastDays || line === null) return null;
  const [slope] = line.slopes;
  const [error] = line.standardErrors;
  const isSure = slope + studentTQuantile(1 - chance, line.degreesOfFreedom) * error < 0;
  if (!isSure || -slope * span < fadedDb || isStep(db, line.residualSd ** 2 * line.degreesOfFreedom))
    return null;
  return {
    fallDb: -slope * span,
    ci95Db: ci95(error * span, line.degreesOfFreedom),
    takes: points.length,
    since: points[0].recorded.slice(0, 10),
  };
}

/** Whether one change at once explains levels better than a line does: a microphone or a part that was moved, no fade. */
function isStep(db: readonly number[], squaresOfLine: number): boolean {
  return db
    .slice(1)
    .some((_, i) => sumOfSquares(db.slice(0, i + 1)) + sumOfSquares(db.slice(i + 1)) <= squaresOfLine);
}

/** Of the newest take: strikers that grow fainter over the months. */
export function fadingFindings(machine: Machine, reports: readonly EarlierReport[]): Finding[] {
  return levelCourses(machine, reports).flatMap(({ fade, others }, channel) => {
    if (fade === null) return [];
    const { id } = machine.description.channels[channel];
    const message = `${channelName(machine, channel)} fades: ${fallWords(fade)}, against ${othersWords(machine, others)} on its track`;
    return [finding('fades', message, { channel: id })];
  });
}

function fallWords({ fallDb, ci95Db, takes, since }: Fade): string {
  return `${fallDb.toFixed(1)} ± ${ci95Db.toFixed(1)} dB fainter over ${takes} takes since ${since}`;
}

function othersWords({ description }: Machine, others: readonly number[]): string {
  return listed(others.map((c) => description.channels[c].id));
}

/** A channel's loudness over the takes in a sentence; null where no take tells its level. */
export function levelWords(machine: Machine, { lines, others, fade }: LevelCourse): string | null {
  if (lines.every(({ levelDb }) => levelDb === null)) return null;
  if (others.length < leastOthers)
    return 'Loudness cannot be compared from take to take: fewer than two other channels are on its track.';
  if (fade !== null)
    return `It fades: ${fallWords(fade)}, against ${othersWords(machine, others)} on its track.`;
  const known = lines.flatMap(({ againstOthersDb }) => (againstOthersDb === null ? [] : [againstOthersDb]));
  if (known.length < 2) return null;
  const range = [Math.min(...known), Math.max(...known)].map((db) => withMinus(db.toFixed(1))).join(' to ');
  return `Loudness against ${othersWords(machine, others)} on its track: ${range} dB in ${counted(known.length, 'take')}; no steady fade is told.`;
}
