/** What the report page needs of an editor, however it reaches files; report-session.ts asks, the editor answers. */
import type { Machine } from '../../analysis/machine/machine.ts';
import type { SheetOpening } from '../../analysis/report/sheet/openings.ts';
import type { Advice, EarlierReport, Finding, Report } from '../../analysis/results/results.ts';
import type { Fitted } from '../common/fitted.ts';
import type { SoundClip, ClipOrder } from '../work/jobs.ts';

/** A take folder by its address. The page carries it back and never reads anything into it. */
export type TakeAddress = string;

export interface TakeReport {
  readonly take: TakeAddress;
  readonly report: EarlierReport;
}

export interface TakeStanding {
  /** The machine's newest take by name, where that is another one. */
  readonly newest: string | null;
  /** What there is to tell of the report. */
  readonly told: string | null;
}

export interface WorkNow {
  readonly advice: Advice;
  /** The same as openings of the machine, in the order of the work. */
  readonly openings: readonly SheetOpening[];
  /** Where and how long to record next, a sentence each. */
  readonly record: readonly string[];
}

/** Every member may throw an InputProblem: one line for the person. */
export interface ReportServices {
  /** false in a workspace that is not trusted: nothing is written or run. */
  readonly mayChange: boolean;
  /** false where the machine's pattern is not a table that can be opened at a row. */
  patternInText(take: TakeAddress): Promise<boolean>;
  /** Whether the take's folder is still there. */
  isThere(take: TakeAddress): Promise<boolean>;
  /** null where the take has not been analysed, or is none of this machine. */
  readReport(take: TakeAddress): Promise<Report | null>;
  /** Every analysed take of the same machine, oldest first, this one too. */
  takesOfMachine(take: TakeAddress): Promise<readonly TakeReport[]>;
  /** The machine as it stands now. */
  machineOf(take: TakeAddress): Promise<Machine>;
  /** Where the take stands among the machine's, and its report to what it was made from. */
  standing(take: TakeAddress): Promise<TakeStanding>;
  /** What to change on the machine as it is now, from all its takes. */
  adviceNow(take: TakeAddress, signal: AbortSignal): Promise<WorkNow>;
  /**
   * Writes the take as it is and as its advice would have it, as two WAVE files.
   *
   * @returns what to tell the person
   */
  hear(take: TakeAddress, report: Report, signal: AbortSignal): Promise<string>;
  /** Sound of files in the take's folder; null where there is none. Only takes of this machine are asked for. */
  clips(take: TakeAddress, wants: readonly ClipOrder[]): Promise<readonly (SoundClip | null)[]>;
  /** corrections.csv of the take as text; null where there is none. */
  readCorrections(take: TakeAddress): Promise<string | null>;
  /** Writes it whole, or leaves it as it was; `change` is given what the file holds at that moment. */
  changeCorrections(take: TakeAddress, change: (before: string | null) => string): Promise<void>;
  /** Analyses the take anew; its report.json is written when this ends. */
  analyse(
    take: TakeAddress,
    progress: (stage: string, fraction: number) => void,
    signal: AbortSignal,
  ): Promise<void>;
  showPin(take: TakeAddress, channel: string, step: number): Promise<void>;
  /** Opens where a finding points. */
  showFinding(take: TakeAddress, finding: Finding): Promise<void>;
  /** The editor's own diff of machine.jsonc now against proposed. */
  review(take: TakeAddress): Promise<void>;
  /**
   * Records what was fitted: machine.jsonc and CALIBRATION.md.
   *
   * @param asProposed proposals that were carried out
   * @param others     numbers that a person says are fitted instead
   * @returns what to tell the person; null where they decided otherwise
   */
  accept(take: TakeAddress, asProposed: Fitted, others: Fitted): Promise<string | null>;
  /**
   * Keeps a picture of the report beside its other files.
   *
   * @param png whatever the page sent as one
   * @returns what to tell the person
   */
  savePicture(take: TakeAddress, png: Uint8Array): Promise<string>;
  /** Opens every stroke as a table for a spreadsheet. */
  openStrokes(take: TakeAddress): Promise<void>;
  /** Opens the page of the newest take. */
  showNewest(take: TakeAddress): Promise<void>;
  /** Asks what was fitted instead, and records that. */
  fitted(take: TakeAddress): Promise<string | null>;
}
