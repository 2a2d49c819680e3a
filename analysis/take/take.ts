/** One recording session as read: tracks of samples, markers, and what the person said about it. */
import type { Coding } from './audio/coding.ts';
import type { FileClock } from './clock.ts';
import type { TakeDescription } from './schema.ts';

/** One track of one audio file. When each file of a take started is found in clocks/. */
export interface Track {
  readonly file: string;
  /** 0-based track (audio channel) within the file. */
  readonly track: number;
  /** Hz */
  readonly sampleRate: number;
  /** Samples in the track. */
  readonly length: number;
  /** Indices of the machine's channels that may sound here: those of take.jsonc's `tracks`, else all. */
  readonly channels: readonly number[];
  /** true where take.jsonc's `tracks` (or a file named for a channel) said so, false where nothing did. */
  readonly assigned: boolean;
  /** How the file's sound was coded; absent where it was never in a file. */
  readonly coding?: Coding;
  /**
   * Samples `from` up to, not including, `to`, full scale ±1; what lies outside the track is 0. Samples that are not
   * finite are returned as they are. Results never depend on how the reads are cut.
   */
  read(from: number, to: number): Promise<Float32Array>;
}

/** A labelled instant or range that a recorder exported, read from any marker file. */
export interface Marker {
  readonly timeS: number;
  /** null for an instant */
  readonly endS: number | null;
  readonly label: string;
  readonly file: string;
  /** "line 3", "cue 2": for messages */
  readonly place: string;
  /** What the label means on this machine. */
  readonly meaning:
    | { readonly kind: 'hit'; readonly channel: number }
    | { readonly kind: 'sector'; readonly sector: number }
    | { readonly kind: 'note' };
}

export interface Take {
  /** The take folder's name. */
  readonly name: string;
  /** The checked contents of take.jsonc; {} where there is none. */
  readonly description: TakeDescription;
  /** ISO 8601, or null where nothing says when. */
  readonly recorded: string | null;
  /** Adjuster id → setting while recording, every adjuster of the machine. */
  readonly settings: Readonly<Record<string, number>>;
  readonly tracks: readonly Track[];
  /** Ascending in time. */
  readonly markers: readonly Marker[];
  /** When each file began and how its clock ran; absent before that was looked for, and where there is one file. */
  readonly clocks?: readonly FileClock[];
  /** How each marker file was read; absent where none was. */
  readonly markerFiles?: readonly MarkerFile[];
  /** Things the reader noticed that a person should know; the checks turn them into findings. */
  readonly notices: readonly Notice[];
}

/** What a marker file was taken for. */
export interface MarkerFile {
  readonly file: string;
  readonly format: string;
  /** Markers in it, those left out not counted. */
  readonly count: number;
  /** Of a table: the columns' names, or "column 3", and the unit of bare numbers. */
  readonly time?: string;
  readonly unit?: 's' | 'ms' | 'samples';
  readonly end?: string | null;
  readonly label?: string | null;
}

export interface Notice {
  readonly kind:
    | 'bad-samples'
    | 'marker-outside'
    | 'header-disagrees'
    | 'unreadable-marker'
    | 'repeated-marker'
    | 'unused-file';
  readonly file: string;
  readonly place: string;
  readonly message: string;
}
