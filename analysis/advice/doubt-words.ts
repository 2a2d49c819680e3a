/** What the takes tell beside what is noted, in words: which, how much, since when, what it may be, and what would settle it. */
import { NORMAL_95 } from '../numbers/normal.ts';
import { shiftOf } from './effects.ts';
import { signedMs } from '../words/names.ts';
import { withMinus } from '../words/minus.ts';
import type { Advice } from '../results/results.ts';
import type { FindingKind } from '../results/catalogue.ts';
import { type Belief } from './belief.ts';
import { movementKinds } from './doubt.ts';
import { unlikeSizes } from './change-across.ts';
import type { Round } from './rounds.ts';
import { seriesOf } from './series.ts';
import { stillWords } from './still-words.ts';
import type { SuppositionKind, Upheld } from './supposition.ts';
import { turnsHeard } from './take-noise.ts';
import { lastThatTells, shownIn, whenMoved, type RoundSpan } from './when-moved.ts';

type Doubt = NonNullable<Advice['doubts']>[number];

const findingOf: Readonly<Record<SuppositionKind, FindingKind>> = {
  moved: 'moved-unnoted',
  slipped: 'slipped',
  drifts: 'drifts',
  'work-not-noted': 'work-not-noted',
  'work-not-done': 'work-not-done',
  'work-done-twice': 'work-done-twice',
  miscounted: 'miscounted',
  'wrong-place': 'wrong-place',
  'labels-swapped': 'labels-swapped',
  'other-sectors': 'other-sectors',
  'moves-others': 'moves-others',
  'own-size': 'record-in-doubt',
};

/** A movement is told by the take that shows it and the one after, which may be the first to be sure; then it is history. */
const TOLD_FOR = 1;

/**
 * What is new, or not settled yet.
 *
 * @param rounds that the belief rests on
 * @param standing movements that nothing was done about: they are told for as long as that
 */
export function doubtsOf(
  belief: Belief,
  rounds: readonly Round[],
  standing: readonly Upheld[] = [],
): Doubt[] {
  const last = rounds.length - 1;
  return belief.upheld.flatMap((one) => {
    const shownBy = shownFirst(rounds, one);
    const isNew = one.kind === 'drifts' || (shownBy !== null && last - shownBy <= TOLD_FOR);
    const isOpen = !movementKinds.has(one.kind) && one.adjusters.some((a) => belief.held.has(a));
    return isNew || isOpen || standing.includes(one) ? [doubtOf(belief, rounds, one)] : [];
  });
}

/** The first round that shows it; null where all do. A movement shows in the next take that has its pins. */
function shownFirst(rounds: readonly Round[], one: Upheld): number | null {
  if (one.before === null || one.kind === 'drifts' || !movementKinds.has(one.kind)) return one.before;
  return whenMoved(rounds, one, one.before).shownBy;
}

function doubtOf(belief: Belief, rounds: readonly Round[], one: Upheld): Doubt {
  const { adjusters } = belief.machine.description;
  const movement = movementKinds.has(one.kind);
  const concerned = movement ? [] : [...new Set([one, ...one.rivals].flatMap((each) => each.adjusters))];
  const held = concerned.filter((a) => belief.held.has(a));
  const test = testFor(belief, held, rounds);
  const places = placesOf(belief, one);
  const shownBy = shownFirst(rounds, one);
  const readings = [one.words, ...one.rivals.map(({ words }) => words)];
  const common = {
    kind: findingOf[one.kind],
    since: shownBy === null ? null : rounds[shownBy].report.take,
    adjusters: held.map((a) => adjusters[a].id),
    ...places,
    size: one.size,
    sizeCi95: NORMAL_95 * one.sizeSd,
    test,
  };
  if (movement) {
    const { message, reasons } = movementWords(belief, rounds, one);
    return { ...common, readings: reasons, message };
  }
  const message = [
    recordWords(belief, rounds, one),
    otherReadings(one),
    leftAlone(common.adjusters),
    testWords(test),
  ]
    .filter((part) => part !== '')
    .join('; ');
  return { ...common, readings, message };
}

function placesOf({ groups, machine }: Belief, one: Upheld): Pick<Doubt, 'channels' | 'sectors'> {
  const { channels, barrel } = machine.description;
  const moved = groups.filter(({ channel, sector }) => one.moves(channel, sector));
  const sectors = [...new Set(moved.map(({ sector }) => sector))];
  return {
    channels: [...new Set(moved.map(({ channel }) => channels[channel].id))],
    sectors: sectors.length === barrel.sectors.length ? [] : sectors.map((s) => barrel.sectors[s].id),
  };
}

function movementWords(belief: Belief, rounds: readonly Round[], one: Upheld) {
  const { channels, barrel } = belief.machine.description;
  const half = (NORMAL_95 * one.sizeSd).toFixed(1);
  const last = rounds.length - 1;
  if (one.kind === 'drifts') {
    const from = rounds[lastThatTells(rounds, one, Math.max(0, (one.before ?? 1) - 1))].report.take;
    const moved = belief.groups.filter(({ channel, sector }) => one.moves(channel, sector));
    const leaves = moved.map((group) => {
      const ahead = one.size > 0 ? group.toleranceMs - group.meanMs : group.toleranceMs + group.meanMs;
      return { group, takes: ahead / Math.abs(one.size) };
    });
    const first = leaves.reduce((a, b) => (b.takes < a.takes ? b : a), leaves[0]);
    const where =
      first === undefined
        ? ''
        : `${channels[first.group.channel].id} in sector ${barrel.sectors[first.group.sector].id}`;
    const end =
      first === undefined
        ? ''
        : first.takes <= 0
          ? `; ${where} is beyond its tolerance of ${first.group.toleranceMs} ms already`
          : `; at that rate ${where} leaves its tolerance of ${first.group.toleranceMs} ms in ${takes(Math.ceil(first.takes))}`;
    const message = `${one.words} gets ${one.size > 0 ? 'later' : 'earlier'} by ${Math.abs(one.size).toFixed(2)} ms (± ${(NORMAL_95 * one.sizeSd).toFixed(2)}) from each take to the next since take ${from}, with nothing noted that would do it${end}`;
    return {
      message,
      reasons: ['worn', 'loose and creeping', 'the drive or the room is warmer at each take'],
    };
  }
  const when = whenMoved(rounds, one, one.before ?? last);
  const takesOf = ({ from, to }: RoundSpan) =>
    `between takes ${rounds[from].report.take} and ${rounds[to].report.take}`;
  const between =
    takesOf(when) +
    (when.ofAllTunes === undefined ? '' : ` (${takesOf(when.ofAllTunes)} if all tunes moved)`);
  const unlike = unlikeSizes(belief, one);
  // An adjuster moves the pins of all tunes.
  const like = one.tune === undefined && unlike.length === 0 ? likeUnits(belief, one) : '';
  const reasons =
    one.tune === undefined
      ? ['worn or loose', 'mended', `work that was not noted${like}`]
      : ['pins that are worn or loose', 'mended', 'work on them that was not noted'];
  const by =
    unlike.length === 0
      ? `${signedMs(one.size, 1)} ms (± ${half})${seenIn(belief, one)}`
      : unlike.map(({ tune, ms }) => `${signedMs(ms, 1)} ms in ${tune}`).join(' and ');
  const otherwise =
    unlike.length === 0
      ? stillWords(belief, one)
      : '; an adjuster moves all tunes alike, so either one of them moved by its pins too, or each by its own: look at the pins first';
  const message = `${one.words} moved by ${by} ${between}, and nothing that would do it was noted: ${reasons.slice(0, -1).join(', ')}, or ${reasons[2]}${otherwise}`;
  return { message, reasons };
}

/** Of a movement of all tunes, which of them have takes on both sides of it, where not all do: its size is theirs. */
function seenIn(belief: Belief, one: Upheld): string {
  if (one.tune !== undefined) return '';
  const shown = shownIn(belief, one);
  const all = new Set(
    seriesOf(belief.rounds).flatMap(({ channel, sector, tune }) =>
      tune !== undefined && one.moves(channel, sector, tune) ? [tune] : [],
    ),
  );
  return shown.length === 0 || shown.length === all.size ? '' : ` in ${shown.join(' and ')}`;
}

const takes = (count: number) => (count === 1 ? 'one take' : `${count} takes`);

/** Whole units of an adjuster that would have done a movement; nothing where none comes near. */
function likeUnits(belief: Belief, { moves, size }: Upheld): string {
  const { reference } = belief.machine;
  const g = belief.groups.findIndex(({ channel, sector }) => channel !== reference && moves(channel, sector));
  if (g === -1) return '';
  const named = belief.machine.description.adjusters.flatMap((adjuster, a) => {
    const same = belief.groups.every(
      ({ channel, sector }, other) =>
        channel === reference ||
        Math.abs(belief.share[other][a] - (moves(channel, sector) ? belief.share[g][a] : 0)) < 0.01,
    );
    if (!same || belief.share[g][a] === 0) return [];
    const unit = shiftOf(belief, adjuster, adjuster.installed, adjuster.installed + 1);
    const units = size / (belief.share[g][a] * belief.effects[a].factor * unit);
    const whole = Math.round(units);
    return Number.isFinite(units) && whole !== 0
      ? [`${adjuster.id} by ${whole > 0 ? '+' : ''}${withMinus(whole)} ${adjuster.unit}`]
      : [];
  });
  return named.length === 0 ? '' : ` (as ${named.slice(0, 2).join(' or ')} would)`;
}

function recordWords(belief: Belief, rounds: readonly Round[], one: Upheld): string {
  const { adjusters, channels } = belief.machine.description;
  const when = one.before === null ? '' : ` before take ${rounds[one.before].report.take}`;
  if (one.kind === 'moves-others') {
    const moved = channels.flatMap(({ id }, c) => (one.moves(c, 0) ? [id] : []));
    const share = `${(100 * one.size).toFixed(0)} % (± ${(100 * NORMAL_95 * one.sizeSd).toFixed(0)})`;
    return `${adjusters[one.adjusters[0]].id} moves ${moved.join(', ')} too, by ${share} of its own shift, and the file does not say so`;
  }
  if (one.kind === 'own-size') {
    const { factor } = belief.effects[one.adjusters[0]];
    return `${adjusters[one.adjusters[0]].id} seems to do ${withMinus(factor.toFixed(1))} times what the file says`;
  }
  const evidence = one.before === null ? 'the takes show' : `the change${when} looks`;
  return one.before === null ? `${evidence} that ${one.words}` : `${evidence} as if ${one.words}`;
}

function otherReadings({ rivals }: Upheld): string {
  if (rivals.length === 0) return '';
  const shown = rivals.slice(0, 3).map(({ words }) => words);
  return `as likely: ${shown.join('; or ')}`;
}

function leftAlone(adjusters: readonly string[]): string {
  if (adjusters.length === 0) return '';
  const named =
    adjusters.slice(0, 4).join(', ') + (adjusters.length > 4 ? ` and ${adjusters.length - 4} more` : '');
  return `${named} ${adjusters.length === 1 ? 'is' : 'are'} left alone until this is settled`;
}

/** A change is seen for certain when it is so many half-widths of its groups' intervals. */
const SEEN_HALF_WIDTHS = 3;
/** Turns of the test's take: two give every pin a repeat. */
const LEAST_TURNS = 2;
const MOST_UNITS = 6;

/** The smallest change of one adjuster alone that shows beyond doubt what it moves; null where none has the range. */
function testFor(belief: Belief, held: readonly number[], rounds: readonly Round[]): Doubt['test'] {
  const { adjusters } = belief.machine.description;
  const heard = turnsHeard(rounds[rounds.length - 1].report) || 1;
  for (const a of held) {
    const adjuster = adjusters[a];
    if (adjuster.locked === true) continue;
    const unit = Math.abs(shiftOf(belief, adjuster, adjuster.installed, adjuster.installed + 1));
    const widths = belief.groups.map(({ ci95Ms }) => ci95Ms).sort((x, y) => x - y);
    const half = widths[Math.floor(widths.length / 2)];
    const wanted = Math.max(2, Math.ceil((SEEN_HALF_WIDTHS * half) / unit));
    const room = Math.max(adjuster.max - adjuster.installed, adjuster.installed - adjuster.min);
    const units = Math.min(wanted, MOST_UNITS, room);
    if (!(units >= 1)) continue;
    const up = adjuster.max - adjuster.installed >= units;
    const needed = heard * ((SEEN_HALF_WIDTHS * half) / (units * unit)) ** 2;
    return {
      adjuster: adjuster.id,
      from: adjuster.installed,
      to: adjuster.installed + (up ? units : -units),
      turns: Math.max(LEAST_TURNS, Math.ceil(needed)),
    };
  }
  return null;
}

function testWords(test: Doubt['test']): string {
  if (test === null) return '';
  const { adjuster, from, to, turns } = test;
  return `to tell, move ${adjuster} alone by ${Math.abs(to - from)} (${withMinus(from)} → ${withMinus(to)}) and record ${turns === 2 ? 'two' : turns} turns`;
}
