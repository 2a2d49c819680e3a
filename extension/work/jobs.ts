/**
 * Analysis off the editor's thread. This file is the contract between the extension host and its worker:
 * every job with its order and its outcome. worker.ts runs the jobs, call.ts asks for them, start-node.ts and
 * start-web.ts start the thread. To add a job, add it here; the compiler then names what is missing.
 */
import type { LearntVoices } from '../../analysis/hits/hear.ts';
import type { WhichMachine } from '../../analysis/hits/which-machine.ts';
import type { Solos } from '../../analysis/hits/solos/solos.ts';
import type { SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Run, Stage } from '../../analysis/ports.ts';
import type { Advice, EarlierReport, Inputs, Report } from '../../analysis/results/results.ts';
import type { StretchReport } from '../../analysis/report/listening.ts';
import type { OwnTemplates, ReportTexts } from '../common/report-texts.ts';

/** A module of another extension, with checks and marker readers. */
export interface Plugin {
  /** The extension's identifier, "publisher.name", as a person knows it. */
  readonly name: string;
  /** Where the module is; in a web worker its text. */
  readonly address: string;
}
export type Plugins = readonly Plugin[];

export interface Jobs {
  /** Reads a take from the disk, and writes its report files and its entry in the changelog. Its hits stay in report.json. */
  analyseFolder(order: FolderOrder): EarlierReport;
  /** Analyses files that were handed over; writes nothing. `takeText`: take.jsonc with questions, null where there is none new. */
  analyseFiles(order: FilesOrder): ReportTexts & { readonly takeText: string | null };
  /** What a take's folder on the disk holds, with digests. */
  digestsOfFolder(order: {
    readonly root: string;
    readonly take: string;
    /** Whether digests may be kept in the machine's folder. */
    readonly keep: boolean;
  }): Inputs['files'];
  /** Sound of a take's files on the disk. */
  clipsOfFolder(order: {
    readonly root: string;
    readonly take: string;
    readonly wants: readonly ClipOrder[];
  }): readonly (SoundClip | null)[];
  /** Sound of files that were handed over. */
  clipsOfFiles(order: {
    readonly files: FilesOrder['files'];
    readonly wants: readonly ClipOrder[];
  }): readonly (SoundClip | null)[];
  /** The last stretch of a recording that is still being written; null while nothing of it can be read. */
  listenTo(order: {
    /** Real path of the machine's folder. */
    readonly root: string;
    readonly shown: string;
    /** Path of the recording, wherever it is. */
    readonly file: string;
    /** Length of the stretch, s. */
    readonly lastS: number;
  }): StretchReport | null;
  /** Which machine a recording is of that lies anywhere on the disk; null where it is no recording. */
  whichMachineOf(order: {
    readonly machines: readonly { readonly root: string; readonly shown: string }[];
    readonly file: string;
  }): JudgedRecording | null;
  /** How each channel sounds in a take on the disk. */
  voicesOfFolder(order: {
    readonly root: string;
    readonly shown: string;
    readonly take: string;
  }): LearntVoices;
  /** The same of files that were handed over. */
  voicesOfFiles(order: Omit<HearFilesOrder, 'report'>): LearntVoices;
  /** What solos on the disk teach, wherever they lie. */
  solosOnDisk(order: {
    /** Real path of the machine's folder. */
    readonly root: string;
    readonly shown: string;
    /** Paths of the recordings. */
    readonly files: readonly string[];
    /** Channels as they are struck; null as `hearSolos` has it. */
    readonly order: readonly string[] | null;
  }): Solos;
  /** The same of files that were handed over. */
  solosOfFiles(
    order: Omit<HearFilesOrder, 'report' | 'name'> & { readonly order: readonly string[] | null },
  ): Solos;
  /** Writes a take as it is and as its advice would have it, two WAVE files, into its folder. */
  hearFolder(order: HearFolderOrder): HeardFiles;
  /** The same of files that were handed over; writes nothing. */
  hearFiles(order: HearFilesOrder): { readonly before: Uint8Array; readonly after: Uint8Array };
  /** What to change, from all reports, oldest first. */
  advise(order: {
    readonly machine: Machine;
    readonly reports: readonly EarlierReport[];
    /** How long the work may take; absent: as long as it takes. */
    readonly minutes?: number;
  }): Advice;
  /** The work sheet's text. */
  sheet(order: {
    readonly machine: Machine;
    readonly newest: EarlierReport;
    readonly advice: Advice;
  }): string;
  /** Two takes over each other, as a page's markup. */
  comparison(order: {
    readonly before: Report;
    readonly after: Report;
    /** What the two are called. */
    readonly names: readonly [before: string, after: string];
  }): string;
  /** The barrel unrolled, as markup; null where it has more pins than a drawing can show apart. */
  barrel(order: {
    readonly machine: Machine;
    /** Whose pins; absent of a machine with one pattern. */
    readonly tune: string | undefined;
    /** Of a take of that tune; null shows the pattern alone. */
    readonly report: EarlierReport | null;
  }): string | null;
  /** Every file of the demo machine's folder, machine.jsonc last: a folder whose writing was cut short is no machine's. */
  demo(order: Record<string, never>): readonly { readonly path: string; readonly bytes: Uint8Array }[];
}

export interface JudgedRecording {
  readonly which: WhichMachine;
  readonly lengthS: number;
}

export interface FolderOrder {
  /** Real path of the machine's folder. */
  readonly root: string;
  /** The same as the person knows it, for messages; absent: `root`. */
  readonly shown?: string;
  /** Path of the take's folder. */
  readonly take: string;
  readonly plugins: Plugins;
}

export interface HearFolderOrder {
  /** Real path of the machine's folder. */
  readonly root: string;
  readonly take: string;
  readonly report: Report;
}

/** Where the two files are, below the take's folder. */
export interface HeardFiles {
  readonly before: string;
  readonly after: string;
}

export interface HearFilesOrder {
  readonly machine: Machine;
  readonly name: string;
  readonly files: FilesOrder['files'];
  readonly voices: readonly SavedVoice[];
  readonly report: Report;
}

export interface FilesOrder {
  readonly machine: Machine;
  /** The take folder's name. */
  readonly name: string;
  readonly files: readonly { readonly name: string; readonly bytes: Uint8Array }[];
  readonly earlier: EarlierReport | null;
  readonly voices: readonly SavedVoice[];
  readonly templates: OwnTemplates;
  readonly plugins: Plugins;
}

/** A stretch of one track of a file, in seconds from its start. */
export interface ClipOrder {
  readonly file: string;
  readonly track: number;
  readonly fromS: number;
  readonly toS: number;
}

export interface SoundClip {
  /** Hz */
  readonly sampleRate: number;
  /** Time of the first sample, s. */
  readonly fromS: number;
  /** Full scale ±1. */
  readonly samples: Float32Array;
}

/** Reports of earlier takes, oldest first; null where the job reads them itself. */
export type History = readonly EarlierReport[] | null;

/** How a job tells how far it is and is stopped, and how it waits for what depends on other takes. */
export interface JobRun extends Run {
  /** Called once the take is measured. */
  readonly turn: () => Promise<History>;
}

export type JobName = keyof Jobs;
export type Order<J extends JobName> = Parameters<Jobs[J]>[0];
export type JobOutcome<J extends JobName> = ReturnType<Jobs[J]>;

/** From the host. `start` comes first; `wasm` is the solver's code where the worker cannot read it itself. */
export type ToWorker =
  | { readonly kind: 'start'; readonly wasm: Uint8Array<ArrayBuffer> | null }
  | { readonly kind: 'job'; readonly id: number; readonly job: JobName; readonly order: unknown }
  | { readonly kind: 'stop'; readonly id: number }
  /** The turn of a job that said `measured` has come. */
  | { readonly kind: 'turn'; readonly id: number; readonly history: History };

/** From the worker. */
export type FromWorker =
  | { readonly kind: 'progress'; readonly id: number; readonly stage: Stage; readonly fraction: number }
  /** The job waits for its turn. */
  | { readonly kind: 'measured'; readonly id: number }
  | { readonly kind: 'done'; readonly id: number; readonly outcome: unknown }
  | { readonly kind: 'failed'; readonly id: number; readonly failure: Failure };

/** An error as it crosses between threads. */
export type Failure =
  | {
      readonly kind: 'input';
      readonly file: string;
      readonly place: string;
      readonly what: string;
      readonly mend: string;
    }
  | { readonly kind: 'stopped' }
  | { readonly kind: 'defect'; readonly trace: string };

/** One end of the way between the two threads; node:worker_threads and Web Workers both fit behind it. */
export interface Port<Out, In> {
  post(message: Out): void;
  /** At most one listener. */
  listen(listener: (message: In) => void): void;
}

/** The host's end, which can also end the worker. */
export interface WorkerPort extends Port<ToWorker, FromWorker> {
  /** The thread ended by itself or could not start. */
  onEnd(listener: (reason: string) => void): void;
  end(): void;
}
