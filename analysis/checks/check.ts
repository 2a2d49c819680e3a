/** The one shape of all checks: a pure function from what is known of a take to findings. */
import type { Machine } from '../machine/machine.ts';
import type { Take } from '../take/take.ts';
import type { Hearing } from '../hits/hits.ts';
import type { Strokes } from '../strokes/strokes.ts';
import type { Finding, Group, PinNumbers, Section } from '../results/results.ts';

/** Everything known of a take before anything is judged. */
export interface Study {
  readonly machine: Machine;
  readonly take: Take;
  readonly hearing: Hearing;
  readonly strokes: Strokes;
  readonly groups: readonly Group[];
  readonly pins: readonly PinNumbers[];
}

export interface Check {
  /**
   * Stable name, words joined by hyphens. Mostly its kind of finding; a check may raise several kinds (recording.ts) or one that
   * another raises too: unknown-label raises unknown-sound, since a label that names nobody leaves a sound nobody’s.
   */
  readonly id: string;
  /** One sentence for people: what it looks for. The guide lists it (extension/guide/findings.md). */
  readonly looksFor: string;
  readonly run: (study: Study) => readonly Finding[];
  /** What it measured, found or not, as parts of the report of their own; null where there is nothing to show. */
  readonly section?: (study: Study) => Section | readonly Section[] | null;
}
