/** What a situation is: how a workshop differs from the usual one, and what the tool ought to say about it. */
import type { Idea } from './kinds.ts';
import type { Change, Deed } from './person.ts';
import type { Chance } from './random.ts';
import type { Recorder } from './texts.ts';
import type { Shape, World } from './world.ts';

/** A person's deed that is not what was told; `erred` false where there was nothing to err in. */
export interface Erring extends Deed {
  readonly erred: boolean;
}

export interface Situation {
  readonly name: string;
  /** A error model, B belief, C record, D whole steps, E advice. */
  readonly part: 'A' | 'B' | 'C' | 'D' | 'E';
  readonly shape?: Partial<Shape>;
  /** How many takes are recorded; what was advised after each is carried out. */
  readonly takes?: number;
  /** The finding that is true here, and those that may be said too. */
  readonly finding?: Idea;
  readonly alsoTrue?: readonly Idea[];
  /** Made without what is mostly true of machines. */
  readonly untrue?: readonly Idea[];
  /** First take (from 0) that can show the fault; where a person errs, the take after that. */
  readonly evidentFrom?: number;
  /** The fault lies in how the machine moves: before `evidentFrom` nobody can foresee what a change does. */
  readonly standing?: boolean;
  /** Rounds until tolerance count from this take. */
  readonly from?: number;
  /** Done to the machine before its first take. */
  prepare?(world: World, random: Chance): void;
  /** Done to it before take k. */
  before?(world: World, k: number, random: Chance): void;
  recorder?(k: number): Partial<Recorder>;
  /** Take k is a copy of take `k − 1`'s files. */
  repeats?(k: number): boolean;
  /** The folder's name of take k. */
  takeName?(k: number): string;
  act?(told: readonly Change[], world: World, k: number): Erring;
  /** What the person does once told by the finding, beyond counting the named adjusters' units anew. */
  settle?(world: World): void;
  /** Groups that no setting brings within tolerance: they are not counted among those to be brought there. */
  outOfReach?(world: World, striker: number, sector: number): boolean;
}
