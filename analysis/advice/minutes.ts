/**
 * What a plan costs. Where the machine says what has to be opened to reach an adjuster (`access`), the cost is minutes: one
 * opening for all that is changed behind it (a fixed charge: Hirsch & Dantzig 1968, Nav. Res. Logist. Q. 15:413, from
 * memory), and each change. Where it does not, each change costs what it says (`cost`).
 */
import type { Machine } from '../machine/machine.ts';

/** Where other adjusters have minutes and one has none: 5 for a change of cost 1. Common practice, no source. */
const USUAL_MINUTES = 5;

/**
 * A little is added for each changed adjuster, so that of two equally hard ways the one that touches fewer is taken.
 */
const COST_OF_A_CHANGE = 1e-3;

/** Sums of minutes differ by rounding. */
export const SLACK_MINUTES = 1e-6;

export interface Opening {
  /** Index into the machine's `access`. */
  readonly access: number;
  readonly openMinutes: number;
  /** Indices of the adjusters behind it. */
  readonly members: readonly number[];
}

/** What has to be opened, for as much of it as has adjusters; empty where the machine says nothing of it. */
export function openingsOf({ description }: Machine): Opening[] {
  return (description.access ?? []).flatMap(({ id, openMinutes }, access) => {
    const members = description.adjusters.flatMap((adjuster, a) => (adjuster.access === id ? [a] : []));
    return members.length === 0 ? [] : [{ access, openMinutes, members }];
  });
}

/** Minutes to change adjuster `a`, what has to be opened for it left out; NaN where the machine does not say. */
export function changeMinutes({ description }: Machine, a: number): number {
  const { access: id, cost = 1 } = description.adjusters[a];
  const access = description.access?.find((one) => one.id === id);
  return access === undefined ? NaN : access.changeMinutes * cost;
}

/** What the change of adjuster `a` costs by itself. */
export function costOfChange(machine: Machine, a: number): number {
  const { cost = 1 } = machine.description.adjusters[a];
  const minutes = changeMinutes(machine, a);
  const own =
    openingsOf(machine).length === 0 ? cost : Number.isNaN(minutes) ? USUAL_MINUTES * cost : minutes;
  return own + COST_OF_A_CHANGE;
}

/** What all changes from the installed settings cost together. */
export function costOfPlan(machine: Machine, settings: readonly number[]): number {
  return withOpenings(machine, settings, costOfChange);
}

/** Minutes that a plan takes; NaN where something is changed of which the machine does not say how long it takes. */
export function minutesOf(machine: Machine, settings: readonly number[]): number {
  return withOpenings(machine, settings, changeMinutes);
}

export function changedIn({ description }: Machine, settings: readonly number[]): number[] {
  return description.adjusters.flatMap(({ installed }, a) => (settings[a] === installed ? [] : [a]));
}

/** What each change takes by itself, and what has to be opened for them, once each. */
function withOpenings(
  machine: Machine,
  settings: readonly number[],
  each: (machine: Machine, a: number) => number,
): number {
  const changed = changedIn(machine, settings);
  const opened = openingsOf(machine).filter(({ members }) => members.some((a) => changed.includes(a)));
  const changes = changed.reduce((sum, a) => sum + each(machine, a), 0);
  return opened.reduce((sum, { openMinutes }) => sum + openMinutes, changes);
}
