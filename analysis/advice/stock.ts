/**
 * Which pieces of the drawer build which stack. Stacks are built of pieces of given thicknesses, whole micrometres here; what comes
 * out of a stack that is changed lies in the drawer while the others are built.
 */
import type { Machine } from '../machine/machine.ts';
import type { Adjuster } from '../machine/schema.ts';
import type { IntegerSolver } from '../ports.ts';
import { LinearProgram, type Term } from './linear-program.ts';
import { changedIn } from './minutes.ts';
import type { Pieces } from './pieces.ts';

/** One changed stack: what it then holds, and against what it holds now. */
export interface Stack {
  /** Index of the adjuster. */
  readonly adjuster: number;
  readonly holds: readonly Pieces[];
  readonly takes: readonly Pieces[];
  readonly givesBack: readonly Pieces[];
  /** Nobody knows what is in it now: all of it comes out, and none of that is counted on. */
  readonly isUnknown: boolean;
}

export interface Built {
  readonly stacks: readonly Stack[];
  /** What lies in the drawer afterwards, by thickness as the machine lists them. */
  readonly left: readonly (Pieces & { readonly unit: string })[];
  /** What is missing; empty where the drawer has all. */
  readonly buy: readonly (Pieces & { readonly unit: string })[];
  /** Indices of the adjusters in an order in which the drawer never runs short, where it had to be sought. */
  readonly order?: readonly number[];
  /** It was sought, not found, and not everything could be tried. */
  readonly isCut?: boolean;
}

const micronsOf = (mm: number) => Math.round(1000 * Math.abs(mm));

/** Whether an adjuster's stack is built from the drawer. */
export function drawsFromStock({ description }: Machine, a: number): boolean {
  const { unit, perUnit } = description.adjusters[a];
  return 'mm' in perUnit && (description.stock ?? []).some((pieces) => pieces.unit === unit);
}

/** Thickness of a stack with a setting, microns. */
export function stackMicrons({ perUnit }: Adjuster, setting: number): number {
  return 'mm' in perUnit ? setting * micronsOf(perUnit.mm) : 0;
}

/**
 * Pieces of a stack as it is fitted, microns → count. Where the machine does not list them each unit is a piece; where what it
 * lists does not come to what is installed nobody knows, and none is counted on.
 */
export function fittedIn(adjuster: Adjuster): Map<number, number> {
  const { stack, installed, perUnit } = adjuster;
  if (!('mm' in perUnit) || installed <= 0) return new Map<number, number>();
  if (stack === undefined) return new Map([[micronsOf(perUnit.mm), installed]]);
  const sum = stack.reduce((total, mm) => total + micronsOf(mm), 0);
  return sum === stackMicrons(adjuster, installed)
    ? counted(stack.map(micronsOf))
    : new Map<number, number>();
}

/** Whether what the machine lists does not come to what is installed, or lists nothing of a stack that stands. */
function isUnknown(adjuster: Adjuster): boolean {
  return adjuster.installed > 0 && fittedIn(adjuster).size === 0;
}

function counted(values: readonly number[]): Map<number, number> {
  const counts = new Map<number, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return counts;
}

/** Kinds of pieces that the changed stacks can be built of: those of the drawer, and those that come out. */
export interface PieceKind {
  readonly unit: string;
  readonly microns: number;
  readonly drawer: number;
  /** Place in the machine's stock; −1 of pieces that only come out of stacks. */
  readonly place: number;
}

export function kindsOf({ description }: Machine, unit: string): PieceKind[] {
  const kinds = (description.stock ?? []).flatMap((pieces, place): PieceKind[] =>
    pieces.unit === unit ? [{ unit, microns: micronsOf(pieces.mm), drawer: pieces.count, place }] : [],
  );
  const fitted = description.adjusters
    .filter((adjuster) => adjuster.unit === unit)
    .flatMap((adjuster) => [...fittedIn(adjuster).keys()]);
  const others = [...new Set(fitted)].filter((microns) => kinds.every((kind) => kind.microns !== microns));
  return [...kinds, ...others.map((microns): PieceKind => ({ unit, microns, drawer: 0, place: -1 }))].sort(
    (a, b) => b.microns - a.microns,
  );
}

/** Units of stacks that are built from the drawer. */
function unitsOf({ description }: Machine): string[] {
  return [...new Set((description.stock ?? []).map(({ unit }) => unit))];
}

/** Ways that are tried for one plan; beyond, it is taken not to be possible, which only costs a better plan. */
const MOST_TRIED = 20_000;

/** Whether the drawer, with what comes out, builds every stack that these settings change. */
export function stockAllows(machine: Machine, settings: readonly number[]): boolean {
  if (machine.description.stock === undefined) return true;
  const { adjusters } = machine.description;
  const changed = changedIn(machine, settings);
  return unitsOf(machine).every((unit) => {
    const own = changed.filter((a) => adjusters[a].unit === unit && drawsFromStock(machine, a));
    const kinds = kindsOf(machine, unit);
    const pool = kinds.map(({ microns, drawer }) =>
      own.reduce((sum, a) => sum + (fittedIn(adjusters[a]).get(microns) ?? 0), drawer),
    );
    const wanted = own.map((a) => stackMicrons(adjusters[a], settings[a])).sort((a, b) => b - a);
    return canBuild(
      kinds.map(({ microns }) => microns),
      pool,
      wanted,
    );
  });
}

/** @param sizes descending, microns; @param pool how many there are of each; @param wanted thickness of each stack, microns */
function canBuild(sizes: readonly number[], pool: readonly number[], wanted: readonly number[]): boolean {
  let tried = 0;
  const left = [...pool];
  const failed = new Set<string>();
  const build = (stack: number, kind: number, rest: number): boolean => {
    if (rest === 0) {
      if (stack + 1 === wanted.length) return true;
      const key = `${stack} ${left.join(' ')}`;
      if (failed.has(key)) return false;
      const done = build(stack + 1, 0, wanted[stack + 1]);
      if (!done) failed.add(key);
      return done;
    }
    if (kind === sizes.length || ++tried > MOST_TRIED) return false;
    for (let n = Math.min(left[kind], Math.floor(rest / sizes[kind])); n >= 0; n--) {
      left[kind] -= n;
      const done = build(stack, kind + 1, rest - n * sizes[kind]);
      left[kind] += n;
      if (done) return true;
    }
    return false;
  };
  return wanted.length === 0 || build(0, 0, wanted[0]);
}

/** How a plan's stacks show in a program: p<a>_<k> is the number of pieces of kind k in the stack of adjuster a. */
export interface StackTerms {
  /** Units from the installed setting, and 1 where it is changed. */
  readonly units: readonly Term[];
  readonly changed: readonly Term[];
}

/** Bounds of the drawer on a program whose settings are still open. */
export function layStock(lp: LinearProgram, machine: Machine, changes: readonly StackTerms[]): void {
  const { adjusters } = machine.description;
  for (const unit of unitsOf(machine)) {
    const kinds = kindsOf(machine, unit);
    const own = [...adjusters.keys()].filter(
      (a) => adjusters[a].unit === unit && drawsFromStock(machine, a) && changes[a].changed.length > 0,
    );
    const most = kinds.map(({ microns, drawer }) =>
      own.reduce((sum, a) => sum + (fittedIn(adjusters[a]).get(microns) ?? 0), drawer),
    );
    for (const a of own) {
      kinds.forEach((_, k) => lp.integer(`p${a}_${k}`, 0, most[k]));
      const { perUnit, installed } = adjusters[a];
      const unitMm = 'mm' in perUnit ? micronsOf(perUnit.mm) / 1000 : 0;
      lp.constrain(
        [
          ...kinds.map(({ microns }, k): Term => [`p${a}_${k}`, microns / 1000]),
          ...changes[a].units.map(([name, n]): Term => [name, -n * unitMm]),
          ...changes[a].changed.map(([name, n]): Term => [name, -n * installed * unitMm]),
        ],
        '=',
        0,
      );
    }
    kinds.forEach(({ microns, drawer }, k) => {
      if (own.length === 0) return;
      lp.constrain(
        own.flatMap((a): Term[] => [
          [`p${a}_${k}`, 1],
          ...changes[a].changed.map(([name, n]): Term => [
            name,
            -n * (fittedIn(adjusters[a]).get(microns) ?? 0),
          ]),
        ]),
        '<=',
        drawer,
      );
    });
  }
}

/** What is bought counts as much as so many pieces in a stack: nothing is bought to save pieces. */
const COST_OF_BUYING = 1000;

/** How many pieces of each thickness, microns, the changed stacks hold, by index of the adjuster. */
export type Counts = ReadonlyMap<number, ReadonlyMap<number, number>>;

/**
 * The stacks of a plan with the fewest pieces in all, and what must be bought for them where the drawer does not do.
 *
 * @returns null where no pieces of these thicknesses come to such stacks, however many there were
 */
export async function buildStacks(
  machine: Machine,
  settings: readonly number[],
  solve: IntegerSolver,
): Promise<Built | null> {
  const { adjusters } = machine.description;
  const changed = changedIn(machine, settings).filter((a) => drawsFromStock(machine, a));
  const counts = new Map<number, Map<number, number>>();
  const buy: (Pieces & { unit: string })[] = [];
  for (const unit of unitsOf(machine)) {
    const own = changed.filter((a) => adjusters[a].unit === unit);
    const kinds = kindsOf(machine, unit);
    if (own.length === 0) continue;
    const lp = new LinearProgram();
    for (const a of own) {
      const thickness = stackMicrons(adjusters[a], settings[a]);
      kinds.forEach(({ microns }, k) => {
        lp.integer(`p${a}_${k}`, 0, Math.floor(thickness / microns));
        lp.minimise([[`p${a}_${k}`, 1]]);
      });
      lp.constrain(
        kinds.map(({ microns }, k): Term => [`p${a}_${k}`, microns / 1000]),
        '=',
        thickness / 1000,
      );
    }
    kinds.forEach(({ microns, drawer, place }, k) => {
      const pool = own.reduce((sum, a) => sum + (fittedIn(adjusters[a]).get(microns) ?? 0), drawer);
      const bought: Term[] = place === -1 ? [] : [[`b${k}`, -1]];
      if (place !== -1) {
        lp.integer(`b${k}`, 0, 1e6);
        lp.minimise([[`b${k}`, COST_OF_BUYING]]);
      }
      lp.constrain([...own.map((a): Term => [`p${a}_${k}`, 1]), ...bought], '<=', pool);
    });
    const { values, objective } = await solve(lp.text());
    if (objective === null) return null;
    const number = (name: string) => Math.round(values.get(name) ?? 0);
    for (const a of own)
      counts.set(a, new Map(kinds.map(({ microns }, k) => [microns, number(`p${a}_${k}`)])));
    kinds.forEach(({ microns }, k) => {
      const bought = number(`b${k}`);
      if (bought > 0) buy.push({ unit, mm: microns / 1000, count: bought });
    });
  }
  return builtOf(machine, counts, buy);
}

/** What such stacks take and give back, and what the drawer then holds. */
export function builtOf(machine: Machine, counts: Counts, buy: Built['buy']): Built {
  const { adjusters, stock = [] } = machine.description;
  const stacks: Stack[] = [];
  const left = stock.map((pieces) => ({ ...pieces }));
  for (const unit of unitsOf(machine)) {
    const own = [...counts.keys()].filter((a) => adjusters[a].unit === unit);
    if (own.length === 0) continue;
    const kinds = kindsOf(machine, unit);
    const fittedCount = (a: number, microns: number) => fittedIn(adjusters[a]).get(microns) ?? 0;
    const thenCount = (a: number, microns: number) => counts.get(a)?.get(microns) ?? 0;
    for (const a of own) {
      const only = (of: (then: number, now: number) => number) =>
        kinds.flatMap(({ microns }) => {
          const count = of(thenCount(a, microns), fittedCount(a, microns));
          return count > 0 ? [{ mm: microns / 1000, count }] : [];
        });
      stacks.push({
        adjuster: a,
        holds: only((then) => then),
        takes: only((then, now) => then - now),
        givesBack: only((then, now) => now - then),
        isUnknown: isUnknown(adjusters[a]),
      });
    }
    for (const { microns, place } of kinds) {
      const bought = buy.find((pieces) => pieces.unit === unit && micronsOf(pieces.mm) === microns);
      const back = own.reduce(
        (sum, a) => sum + fittedCount(a, microns) - thenCount(a, microns),
        bought?.count ?? 0,
      );
      if (place !== -1) left[place] = { ...left[place], count: left[place].count + back };
      else if (back > 0) left.push({ unit, mm: microns / 1000, count: back });
    }
  }
  return { stacks, left, buy };
}
