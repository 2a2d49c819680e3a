/**
 * Of all the stacks of equally few pieces, some that can be built one after the other without the drawer ever running short.
 * Orders and stacks are sought together, depth first: a stack is built of what lies in the drawer when its turn comes.
 */
import type { Machine } from '../machine/machine.ts';
import type { Belief } from './belief.ts';
import { drawerOf } from './drawer.ts';
import { changedIn } from './minutes.ts';
import { againstIn, orderOfWork, rulesOf, type Rules, type Stop } from './order.ts';
import {
  builtOf,
  drawsFromStock,
  fittedIn,
  kindsOf,
  stackMicrons,
  type Built,
  type PieceKind,
} from './stock.ts';

/** Steps of the search; beyond, it is said that not all was tried. About a second of one core. */
const MOST_STEPS = 200_000;

/**
 * @param built stacks of the fewest pieces, however they are built
 * @returns the same where the drawer does in the usual order, or where no such stacks are found; else others of as few pieces,
 *          with the order in which it does
 */
export function stacksInOrder(
  belief: Pick<Belief, 'machine' | 'share'>,
  settings: readonly number[],
  built: Built,
): Built {
  const { machine } = belief;
  const changed = changedIn(machine, settings);
  const drawer = drawerOf(machine, built);
  const usual = orderOfWork(belief, changed, drawer).flatMap(({ adjusters }) => adjusters);
  if (built.buy.length > 0 || drawer.countLacked(usual) === 0) return built;
  const rules = rulesOf(belief, changed);
  const search = new Search(machine, settings, rules, {
    pieces: built.stacks.reduce((sum, { holds }) => sum + countOf(holds), 0),
    against: againstIn(usual, rules.before),
  });
  const order = search.from(rules.stops);
  if (order === null) return search.isCut ? { ...built, isCut: true } : built;
  return { ...builtOf(machine, search.counts(), []), order };
}

const countOf = (pieces: readonly { readonly count: number }[]) =>
  pieces.reduce((sum, { count }) => sum + count, 0);

/** What a solution may not have more of. */
interface Most {
  readonly pieces: number;
  /** Adjusters that are set before what moves them. */
  readonly against: number;
}

/** One way to build a stack: pieces by kind. */
interface Way {
  readonly pieces: readonly number[];
  readonly count: number;
}

class Search {
  isCut = false;
  private steps = 0;
  private readonly kinds: readonly PieceKind[];
  /** Adjusters whose stacks are built from the drawer. */
  private readonly drawn: ReadonlySet<number>;
  private readonly drawer: number[];
  private readonly fitted = new Map<number, readonly number[]>();
  /** Every way to build each stack of all there is, the fewest pieces first. */
  private readonly ways = new Map<number, readonly Way[]>();
  private readonly chosen = new Map<number, Way>();
  private readonly order: number[] = [];
  private readonly failed = new Set<string>();
  private pieces = 0;
  private against = 0;

  constructor(
    machine: Machine,
    settings: readonly number[],
    private readonly rules: Rules,
    private readonly most: Most,
  ) {
    const { adjusters } = machine.description;
    const changed = rules.stops.flatMap(({ adjusters: own }) => own);
    const drawn = changed.filter((a) => drawsFromStock(machine, a));
    this.drawn = new Set(drawn);
    const units = [...new Set(drawn.map((a) => adjusters[a].unit))];
    const kinds = units.flatMap((unit) => kindsOf(machine, unit));
    this.kinds = kinds;
    this.drawer = kinds.map(({ drawer }) => drawer);
    const own = (a: number) => {
      const fitted = fittedIn(adjusters[a]);
      return kinds.map(({ unit, microns }) =>
        unit === adjusters[a].unit && this.drawn.has(a) ? (fitted.get(microns) ?? 0) : 0,
      );
    };
    for (const a of changed) this.fitted.set(a, own(a));
    const all = this.drawer.map((count, k) => drawn.reduce((sum, a) => sum + this.fitted.get(a)![k], count));
    for (const a of changed) {
      const usable = kinds.map(({ unit }, k) => (unit === adjusters[a].unit ? all[k] : 0));
      const wanted = this.drawn.has(a) ? stackMicrons(adjusters[a], settings[a]) : 0;
      this.ways.set(a, this.waysToBuild(usable, wanted));
    }
  }

  /** @param usable how many there are of each kind; @param wanted thickness, microns */
  private waysToBuild(usable: readonly number[], wanted: number): Way[] {
    const ways: Way[] = [];
    const pieces = this.kinds.map(() => 0);
    const thickest = this.kinds.map((_, k) =>
      Math.max(...this.kinds.slice(k).map(({ microns }, i) => (usable[k + i] > 0 ? microns : 0))),
    );
    const fill = (k: number, rest: number, count: number): void => {
      if (rest === 0) {
        ways.push({ pieces: [...pieces], count });
        return;
      }
      // So many more it takes at least.
      if (k === pieces.length || count + Math.ceil(rest / thickest[k]) > this.most.pieces) return;
      if (++this.steps > MOST_STEPS) {
        this.isCut = true;
        return;
      }
      for (let n = Math.min(usable[k], Math.floor(rest / this.kinds[k].microns)); n >= 0; n--) {
        pieces[k] = n;
        fill(k + 1, rest - n * this.kinds[k].microns, count + n);
      }
      pieces[k] = 0;
    };
    fill(0, wanted, 0);
    return ways.sort((a, b) => a.count - b.count);
  }

  /** @returns the adjusters in their order, or null */
  from(left: readonly Stop[]): readonly number[] | null {
    if (left.length === 0) return [...this.order];
    for (const stop of left) {
      const found = this.within(
        stop.adjusters,
        left.filter((one) => one !== stop),
      );
      if (found !== null) return found;
    }
    return null;
  }

  /** Pieces of each stack, once an order is found. */
  counts(): Map<number, Map<number, number>> {
    return new Map(
      [...this.chosen]
        .filter(([a]) => this.drawn.has(a))
        .map(([a, { pieces }]) => [a, new Map(this.kinds.map(({ microns }, k) => [microns, pieces[k]]))]),
    );
  }

  /** The adjusters that are left behind this opening, then all others. */
  private within(here: readonly number[], later: readonly Stop[]): readonly number[] | null {
    if (here.length === 0) return this.from(later);
    const left = [...here, ...later.flatMap(({ adjusters }) => adjusters)];
    const fewest = left.reduce((sum, a) => sum + (this.ways.get(a)![0]?.count ?? Infinity), 0);
    if (this.pieces + fewest > this.most.pieces) return null;
    const key = `${here.join(',')};${left.join(',')};${this.drawer.join(',')};${this.pieces};${this.against}`;
    if (this.failed.has(key)) return null;
    for (const a of here) {
      const against = left.filter((b) => this.rules.before(b, a)).length;
      if (this.against + against > this.most.against) continue;
      for (const way of this.ways.get(a)!) {
        const others = fewest - this.ways.get(a)![0].count;
        if (this.pieces + way.count + others > this.most.pieces) break;
        if (++this.steps > MOST_STEPS) {
          this.isCut = true;
          return null;
        }
        if (!this.put(a, way, against)) continue;
        const found = this.within(
          here.filter((b) => b !== a),
          later,
        );
        if (found !== null) return found;
        this.putBack(a, way, against);
      }
    }
    this.failed.add(key);
    return null;
  }

  /** Builds the stack where the drawer has the pieces; says whether it did. */
  private put(a: number, { pieces, count }: Way, against: number): boolean {
    const fitted = this.fitted.get(a)!;
    if (this.drawer.some((lies, k) => lies + fitted[k] < pieces[k])) return false;
    for (const k of this.drawer.keys()) this.drawer[k] += fitted[k] - pieces[k];
    this.pieces += count;
    this.against += against;
    this.order.push(a);
    this.chosen.set(a, { pieces, count });
    return true;
  }

  private putBack(a: number, { pieces, count }: Way, against: number): void {
    const fitted = this.fitted.get(a)!;
    for (const k of this.drawer.keys()) this.drawer[k] -= fitted[k] - pieces[k];
    this.pieces -= count;
    this.against -= against;
    this.order.pop();
    this.chosen.delete(a);
  }
}
