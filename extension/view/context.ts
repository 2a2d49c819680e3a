/** What every section is given: the report, the editor, and what a person has chosen. */
import type { SheetOpening } from '../../analysis/report/sheet/openings.ts';
import type { Advice } from '../../analysis/results/results.ts';
import type { Editor } from './editor.ts';
import type { TakeModel } from './take-model.ts';

export interface Choice {
  /** The channel whose strokes are looked at closely. */
  readonly channel: string | null;
  /** The chosen hit. */
  readonly hit: number | null;
}

export interface Context {
  readonly model: TakeModel;
  readonly editor: Editor;
  /** What to change on the machine as it is now; null while that is worked out, and on pages of older takes. */
  readonly adviceNow: Advice | null;
  /** The same as openings of the machine, in the order of the work. */
  readonly openings: readonly SheetOpening[];
  /** Where and how long to record next, a sentence each. */
  readonly record: readonly string[];
  /** Only the newest take's page notes work, and only what it proposes for the machine as it is now. */
  mayNote(): boolean;
  /** Has the editor write what was said to be fitted. */
  note(): void;
  readonly choice: Choice;
  /**
   * Chooses a hit, or a channel without one.
   *
   * @param from where it was chosen: "list" leaves the list as it is scrolled, others bring it into view
   */
  choose(choice: Choice, from: 'map' | 'panel' | 'list' | 'keys'): void;
  /** Says something to those who hear the page. */
  announce(words: string): void;
}

/** A section of the page; what it draws is replaced with the next report. */
export interface Part {
  readonly element: HTMLElement;
  /** The choice has changed. */
  chosen?(from: string): void;
  /** Colours or width have changed: what is on a canvas is drawn anew. */
  redraw?(): void;
  /** Observers and sounds end here. */
  end?(): void;
}
