/**
 * Suppositions about the record: what if a change was not made as it is noted, or the machine file names the wrong
 * things for an adjuster? Each is held against every group, also those that the file does not name for the adjuster.
 */
import { sharesOf } from './shares.ts';
import { moves, sectorOf, shiftMs } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { withMinus } from '../words/minus.ts';
import { shiftIn, type Assumptions, type DesignColumn } from './fit.ts';
import { movedBefore } from './movements.ts';
import type { Round } from './rounds.ts';
import type { Series } from './series.ts';
import type { Supposition, SuppositionKind } from './supposition.ts';

/** Work that was done differently was done about so exactly of its own effect: as adjusters' effects are off geometry. */
const USUAL_SD = 0.25;
/** Standard deviation of the share by which an adjuster may move a neighbour. No source. */
const COUPLING_SD = 0.5;
/** An adjuster whose effect is anything: as learn.ts has it. */
const OWN_SIZE_SD = 2;

/** Logarithms of how usual each is in a machine's record; common practice, no source. */
const LOG_PRIOR: Readonly<Partial<Record<SuppositionKind, number>>> = {
  'own-size': -1,
  'work-not-noted': -2.5,
  'work-not-done': -3,
  'work-done-twice': -4,
  miscounted: -3.5,
  'wrong-place': -4,
  'labels-swapped': -3.5,
  'other-sectors': -3,
  'moves-others': -3.5,
};

/** Joints bear no handles to be mistaken, and lie side by side: shims go to the next one. Added to the above. */
const OF_JOINTS: Readonly<Partial<Record<SuppositionKind, number>>> = {
  'labels-swapped': -2.5,
  'wrong-place': 1,
};

/** Whether something moved before a round in a way that is not foreseen; where nothing did, nothing need be supposed. */
export interface Odd {
  readonly adjuster: (a: number, before: number) => boolean;
  readonly channel: (c: number, before: number) => boolean;
}

export function recordDoubts(assumptions: Assumptions, odd: Odd): Supposition[] {
  const isOdd = odd.adjuster;
  const { machine, rounds } = assumptions;
  const { adjusters } = machine.description;
  const found: Supposition[] = [];
  for (let k = 1; k < rounds.length; k++) {
    const changed = adjusters.flatMap((_, a) => (settingsChange(rounds, a, k) === 0 ? [] : [a]));
    found.push(...wholeRound(assumptions, k, changed));
    for (const a of changed) if (isOdd(a, k)) found.push(...oneChange(assumptions, k, a));
    for (const a of changed)
      for (let b = 0; b < adjusters.length; b++)
        if (b !== a && alike(machine, a, b) && (isOdd(a, k) || isOdd(b, k)))
          found.push(wrongPlace(assumptions, k, a, b));
  }
  const ever = adjusters.flatMap((_, a) =>
    rounds.some((_, k) => k > 0 && settingsChange(rounds, a, k) !== 0) ? [a] : [],
  );
  const everOdd = (a: number) => rounds.some((_, k) => k > 0 && isOdd(a, k));
  for (const a of ever) {
    found.push(ownSize(assumptions, a));
    found.push(...otherSectors(assumptions, a));
    for (let b = 0; b < adjusters.length; b++)
      if ((b > a || !ever.includes(b)) && b !== a && alike(machine, a, b) && (everOdd(a) || everOdd(b)))
        found.push(labelsSwapped(assumptions, a, b));
    found.push(...movesOthers(assumptions, a, odd));
  }
  found.push(...allJoints(assumptions, ever));
  const isJoint = ({ adjusters: own }: Supposition) =>
    own.every((a) => adjusters[a].shifts.sectors !== undefined);
  const counts = new Map<SuppositionKind, number>();
  for (const { kind } of found) counts.set(kind, (counts.get(kind) ?? 0) + 1);
  return found.map((one) => ({
    ...one,
    logPrior:
      (LOG_PRIOR[one.kind] ?? 0) +
      (isJoint(one) ? (OF_JOINTS[one.kind] ?? 0) : 0) -
      (one.kind === 'own-size' ? 0 : Math.log(counts.get(one.kind)!)),
  }));
}

function settingsChange(rounds: readonly Round[], a: number, k: number): number {
  return rounds[k].settings[a] - rounds[k - 1].settings[a];
}

/** Two adjusters that a person can take for one another: counted in the same unit, and acting in the same way on the same kind of thing. */
function alike(machine: Machine, a: number, b: number): boolean {
  const kind = (i: number) => {
    const { unit, perUnit, shifts } = machine.description.adjusters[i];
    const acts = Object.keys(perUnit).find((key) => key in kinds);
    return [unit, acts, shifts.sectors === undefined, shifts.channels === undefined].join();
  };
  return kind(a) === kind(b);
}
const kinds = { mm: 0, degrees: 0, dropMm: 0, ms: 0 };

const share = (machine: Machine, a: number, { channel, sector }: Series) =>
  sharesOf(machine, channel, sector)[a];

/** What adjuster `like` moves, when `a` goes from one setting to another, ms in a round. */
function effect({ machine, rounds }: Assumptions, a: number, from: number, to: number, like = a) {
  const { description } = machine;
  return (series: Series, round: number) => {
    const own = share(machine, like, series);
    if (own === 0) return 0;
    return own * shiftMs(description.adjusters[a], from, to, description, rounds[round].secondsPerTurn);
  };
}

type Part = Pick<Supposition, 'kind' | 'before' | 'adjusters' | 'column' | 'words'> &
  Partial<Pick<Supposition, 'mean' | 'sd'>>;

function supposition(machine: Machine, part: Part, involved = part.adjusters): Supposition {
  return {
    mean: 1,
    sd: USUAL_SD,
    logPrior: 0,
    moves: (channel, sector) => involved.some((a) => sharesOf(machine, channel, sector)[a] !== 0),
    ...part,
  };
}

function oneChange(assumptions: Assumptions, k: number, a: number): Supposition[] {
  const { machine, rounds } = assumptions;
  const { id, unit } = machine.description.adjusters[a];
  const [from, to] = [rounds[k - 1].settings[a], rounds[k].settings[a]];
  const whole = effect(assumptions, a, from, to);
  const noted = `${id} ${withMinus(from)} → ${withMinus(to)}`;
  const way = Math.sign(to - from);
  const part = { before: k, adjusters: [a] };
  const units = Math.abs(to - from);
  return [
    supposition(machine, {
      ...part,
      kind: 'work-not-done',
      column: movedBefore(k, (series, round) => -whole(series, round)),
      words: `${noted} was noted and not done`,
    }),
    supposition(machine, {
      ...part,
      kind: 'work-done-twice',
      column: movedBefore(k, whole),
      words: `${noted} was done twice`,
    }),
    ...[1, -1]
      .filter((by) => units > 1 || by === 1)
      .map((by) => {
        const really = to + by * way;
        return supposition(machine, {
          ...part,
          kind: 'miscounted',
          column: movedBefore(k, effect(assumptions, a, to, really)),
          words: `${id} went to ${withMinus(really)}, not ${withMinus(to)} (one ${unit} ${by > 0 ? 'more' : 'less'} than noted)`,
        });
      }),
  ];
}

/** Nothing of a round's work was done; or the work that was advised before it was, and is not noted. */
function wholeRound(assumptions: Assumptions, k: number, changed: readonly number[]): Supposition[] {
  const { machine, rounds } = assumptions;
  const { adjusters } = machine.description;
  const [before, after] = [rounds[k - 1], rounds[k]];
  const sum = (parts: readonly ((series: Series, round: number) => number)[]) => (s: Series, r: number) =>
    parts.reduce((total, part) => total + part(s, r), 0);
  const found: Supposition[] = [];
  if (changed.length > 1) {
    const noted = sum(changed.map((a) => effect(assumptions, a, before.settings[a], after.settings[a])));
    found.push(
      supposition(machine, {
        kind: 'work-not-done',
        before: k,
        adjusters: changed,
        column: movedBefore(k, (series, round) => -noted(series, round)),
        words: 'nothing of what was noted was done',
      }),
    );
  }
  const advised = before.report.advice.settings.flatMap(({ adjuster, installed, proposed }) => {
    const a = adjusters.findIndex(({ id }) => id === adjuster);
    return a !== -1 && after.settings[a] === installed && before.settings[a] === installed
      ? [{ a, installed, proposed }]
      : [];
  });
  if (advised.length > 0) {
    const words = advised.map(
      ({ a, installed, proposed }) => `${adjusters[a].id} ${withMinus(installed)} → ${withMinus(proposed)}`,
    );
    found.push(
      supposition(machine, {
        kind: 'work-not-noted',
        before: k,
        adjusters: advised.map(({ a }) => a),
        column: movedBefore(
          k,
          sum(advised.map(({ a, installed, proposed }) => effect(assumptions, a, installed, proposed))),
        ),
        words: `what was advised then was done and not noted: ${words.join(', ')}`,
      }),
    );
  }
  return found;
}

/** What was noted of `a` was done at `b`: the next joint, the neighbour's lever. */
function wrongPlace(assumptions: Assumptions, k: number, a: number, b: number): Supposition {
  const { machine, rounds } = assumptions;
  const { adjusters } = machine.description;
  const [from, to] = [rounds[k - 1].settings[a], rounds[k].settings[a]];
  const here = effect(assumptions, a, from, to);
  const there = effect(assumptions, b, rounds[k].settings[b], rounds[k].settings[b] + (to - from));
  return supposition(machine, {
    kind: 'wrong-place',
    before: k,
    adjusters: [a, b],
    column: movedBefore(k, (series, round) => there(series, round) - here(series, round)),
    words: `what was noted of ${adjusters[a].id} (${withMinus(from)} → ${withMinus(to)}) was done at ${adjusters[b].id}`,
  });
}

function labelsSwapped(assumptions: Assumptions, a: number, b: number): Supposition {
  const { machine, rounds } = assumptions;
  const { adjusters } = machine.description;
  const column: DesignColumn = (series, round) => {
    const apart = share(machine, b, series) - share(machine, a, series);
    if (apart === 0) return 0;
    return apart * (shiftIn(machine, rounds, a, round) - shiftIn(machine, rounds, b, round));
  };
  return supposition(machine, {
    kind: 'labels-swapped',
    before: null,
    adjusters: [a, b],
    column,
    words: `${adjusters[a].id} and ${adjusters[b].id} bear each other’s names`,
  });
}

function ownSize(assumptions: Assumptions, a: number): Supposition {
  const { machine, rounds } = assumptions;
  return supposition(machine, {
    kind: 'own-size',
    before: null,
    adjusters: [a],
    column: (series, round) => share(machine, a, series) * shiftIn(machine, rounds, a, round),
    mean: 0,
    sd: OWN_SIZE_SD,
    words: `${machine.description.adjusters[a].id} does more or less than the file says`,
  });
}

/** A joint that moves its first sector alone where the file says all later ones, or all later ones where it says one. */
function otherSectors(assumptions: Assumptions, a: number): Supposition[] {
  const { machine, rounds } = assumptions;
  const really = reallyMoved(machine, a);
  if (really === null) return [];
  const { adjusters, barrel } = machine.description;
  const column: DesignColumn = (series, round) =>
    changeOfShare(machine, a, really, series) * shiftIn(machine, rounds, a, round);
  const names = [...really].map((s) => barrel.sectors[s].id).join(', ');
  return [
    {
      ...supposition(machine, {
        kind: 'other-sectors',
        before: null,
        adjusters: [a],
        column,
        words: `${adjusters[a].id} moves ${really.size === 1 ? 'sector' : 'sectors'} ${names} and no other`,
      }),
      moves: (channel, sector) => changeOfShare(machine, a, really, { channel, sector }) !== 0,
    },
  ];
}

/** All joints that were touched are described alike: one fault of the file, not one a joint. */
function allJoints(assumptions: Assumptions, ever: readonly number[]): Supposition[] {
  const { machine, rounds } = assumptions;
  const joints = ever.flatMap((a) => {
    const really = reallyMoved(machine, a);
    return really === null ? [] : [{ a, really }];
  });
  if (joints.length < 2) return [];
  const { adjusters } = machine.description;
  return [
    supposition(machine, {
      kind: 'other-sectors',
      before: null,
      adjusters: joints.map(({ a }) => a),
      column: (series, round) =>
        joints.reduce(
          (sum, { a, really }) =>
            sum + changeOfShare(machine, a, really, series) * shiftIn(machine, rounds, a, round),
          0,
        ),
      words: `${joints.map(({ a }) => adjusters[a].id).join(', ')} ${joints.some(({ really }) => really.size > 1) ? 'move all later sectors' : 'each move one sector alone'}`,
    }),
  ];
}

/** The other way of bolting a joint's sectors; null of what is no joint, or where both ways are one. */
function reallyMoved(machine: Machine, a: number): ReadonlySet<number> | null {
  const { barrel, adjusters } = machine.description;
  const named = adjusters[a].shifts.sectors;
  if (named === undefined || adjusters[a].shifts.channels !== undefined) return null;
  const sectors = named.map((id) => barrel.sectors.findIndex((sector) => sector.id === id));
  const first = Math.min(...sectors);
  if (sectors.length > 1) return new Set([first]);
  const later = barrel.sectors.flatMap((_, s) => (s >= first ? [s] : []));
  return later.length > 1 ? new Set(later) : null;
}

/** Lateness counts from the reference's own mean: what its pins would move otherwise is off all. */
function changeOfShare(
  machine: Machine,
  a: number,
  really: ReadonlySet<number>,
  { channel, sector }: Pick<Series, 'channel' | 'sector'>,
): number {
  const { channels, adjusters } = machine.description;
  const raw = (c: number, s: number) => {
    if (!channels[c].onBarrel) return 0;
    return (really.has(s) ? 1 : 0) - (moves(machine, adjusters[a], c, s) ? 1 : 0);
  };
  const pins = machine.pins.filter((pin) => pin.channel === machine.reference);
  const ofReference =
    channels[machine.reference].onBarrel && pins.length > 0
      ? pins.reduce((sum, { step }) => sum + raw(machine.reference, sectorOf(machine.description, step)), 0) /
        pins.length
      : 0;
  return raw(channel, sector) - ofReference;
}

function movesOthers(assumptions: Assumptions, a: number, odd: Odd): Supposition[] {
  const { machine, rounds } = assumptions;
  const { channels, adjusters } = machine.description;
  return channels.flatMap(({ id }, c) => {
    if (c === machine.reference || moves(machine, adjusters[a], c, null)) return [];
    if (!rounds.some((_, k) => k > 0 && settingsChange(rounds, a, k) !== 0 && odd.channel(c, k))) return [];
    return [
      {
        ...supposition(machine, {
          kind: 'moves-others',
          before: null,
          adjusters: [a],
          column: ({ channel }, round) => (channel === c ? shiftIn(machine, rounds, a, round) : 0),
          mean: 0,
          sd: COUPLING_SD,
          words: `${adjusters[a].id} moves ${id} too`,
        }),
        moves: (channel: number) => channel === c,
      },
    ];
  });
}
