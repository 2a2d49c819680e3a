/**
 * Every message between the editor and the report page, a union for each direction, with its check at run time. A
 * message that answers or changes something carries the `run` of the report it speaks of: each report sent to the
 * page has a new one, and what belongs to an older one is dropped.
 */
import { z } from 'zod';
import { adviceSchema } from '../../analysis/results/results.ts';
import { hitColumnsSchema, reportHeadSchema } from './page-report.ts';

/** Clips in one request: every sector of a large barrel several times over, a few megabytes at usual rates. */
export const mostClips = 96;
/** The longest clip, s: long enough to hear a stroke among its neighbours. */
export const longestClipS = 5;

/** Bytes; a picture of sixty channels has some three million. */
export const largestPicture = 40e6;

const run = z.number().int();
const request = z.number().int();
const known = z.number().nullable();

/** One row of a take's corrections.csv; a person's word about a hit. */
export const correctionSchema = z.object({
  timeS: z.number().min(0).describe('The hit meant; for add and move, where the strike is'),
  channel: z.string().describe('The hit’s channel; for rename, its right one. Empty where unknown'),
  action: z.enum(['add', 'drop', 'move', 'rename']),
  note: z.string().max(1000),
});
export type Correction = z.output<typeof correctionSchema>;

const clipWantSchema = z
  .object({ track: z.number().int().min(0), fromS: z.number(), toS: z.number() })
  .refine(({ fromS, toS }) => toS > fromS && toS - fromS <= longestClipS, 'a clip of a bearable length');
export type ClipWant = z.output<typeof clipWantSchema>;

const clipSchema = z.object({
  sampleRate: z.number().positive(),
  /** Full scale ±1; the first sample is at `fromS` or the first sample after it. */
  samples: z.custom<Float32Array>((value) => value instanceof Float32Array),
  /** Time of the first sample, s. */
  fromS: z.number(),
});
export type ClipMessage = z.output<typeof clipSchema>;

const toHostSchema = z.discriminatedUnion('kind', [
  z.object({ kind: z.literal('ready') }),
  /** Sound of this take, or of another of the machine's. */
  z.object({
    kind: z.literal('clips'),
    run,
    request,
    take: z.string().nullable(),
    wants: z.array(clipWantSchema).max(mostClips),
  }),
  /** The strokes of one pin in every take of the machine. */
  z.object({
    kind: z.literal('pin'),
    run,
    request,
    channel: z.string(),
    step: z.number().min(0),
  }),
  /** Every channel over all takes of the machine. */
  z.object({ kind: z.literal('history'), run, request }),
  /** Writes the take as it is and as advised, as two WAVE files. */
  z.object({ kind: z.literal('hear'), run }),
  /** Keeps a picture of the report beside its other files. */
  z.object({
    kind: z.literal('save-picture'),
    run,
    png: z.custom<Uint8Array<ArrayBuffer>>(
      (value) => value instanceof Uint8Array && value.length > 0 && value.length <= largestPicture,
    ),
  }),
  z.object({ kind: z.literal('show-pin'), channel: z.string(), step: z.number().min(0) }),
  /** Opens where a finding points; the index is that of the report's findings. */
  z.object({ kind: z.literal('show-finding'), run, finding: z.number().int().min(0) }),
  z.object({ kind: z.literal('correct'), run, row: correctionSchema }),
  /** Takes back the correction of this place in the list the page was sent. */
  z.object({ kind: z.literal('take-back'), run, place: z.number().int().min(0), row: correctionSchema }),
  z.object({ kind: z.literal('analyse') }),
  z.object({ kind: z.literal('stop') }),
  z.object({ kind: z.literal('review') }),
  /** "This is done": the proposed settings of `adjusters` were fitted, and other numbers than proposed of `others`. */
  z
    .object({
      kind: z.literal('accept'),
      run,
      adjusters: z.array(z.string()),
      others: z.array(z.object({ adjuster: z.string(), setting: z.number().int() })),
    })
    .refine(({ adjusters, others }) => adjusters.length + others.length > 0, 'something that was fitted'),
  /** Something else than proposed was fitted. */
  z.object({ kind: z.literal('fitted') }),
  /** Opens every stroke as a table for a spreadsheet. */
  z.object({ kind: z.literal('open-strokes') }),
  /** Opens the page of the newest take, where work is noted. */
  z.object({ kind: z.literal('show-newest') }),
]);
export type ToHost = z.output<typeof toHostSchema>;

const pinStrokeSchema = z.object({
  timeS: z.number(),
  track: z.number().int(),
  turn: z.number().int(),
  latenessMs: z.number(),
});

const pinInTakeSchema = z.object({
  /** What a request for clips names the take by. */
  take: z.string(),
  name: z.string(),
  recorded: z.string().nullable(),
  meanMs: known,
  ci95Ms: known,
  strokes: z.array(pinStrokeSchema),
});
export type PinInTake = z.output<typeof pinInTakeSchema>;

const channelHistorySchema = z.object({
  channel: z.string(),
  lines: z
    .array(
      z.object({
        take: z.string(),
        recorded: z.string().nullable(),
        latenessMs: known,
        ci95Ms: known,
        repeatabilityMs: known,
        wearMs: known,
        changed: z.array(z.string()).readonly(),
        signal: z.enum(['beyond', 'run']).nullable(),
        levelDb: known,
        againstOthersDb: known,
      }),
    )
    .readonly(),
  chart: z
    .object({
      middle: z.number(),
      lower: z.number(),
      upper: z.number(),
      signals: z.array(z.enum(['beyond', 'run']).nullable()).readonly(),
    })
    .nullable(),
  loudness: z.string().nullable(),
});

export type ChannelInTakes = z.output<typeof channelHistorySchema>;

const tempoPointSchema = z.object({
  timeS: z.number(),
  bpm: z.number(),
  bpmCi95: z.number(),
});

/** What is reached by one opening of the machine, and what to change there, in the order of the work. */
const openingSchema = z.object({
  access: z.string().nullable(),
  minutes: known,
  tasks: z
    .array(
      z.object({
        adjuster: z.string(),
        name: z.string().nullable(),
        unit: z.string(),
        from: z.number().int(),
        to: z.number().int(),
        min: z.number().int(),
        max: z.number().int(),
        what: z.string(),
        why: z.string().nullable(),
      }),
    )
    .readonly(),
});

const toPageSchema = z.discriminatedUnion('kind', [
  z.object({
    kind: z.literal('report'),
    run,
    /** The take folder, kept by the page so that the editor finds it again after a reload. */
    take: z.string(),
    head: reportHeadSchema,
    hits: hitColumnsSchema,
    corrections: z.array(correctionSchema),
    /** How the tempo went over the take; empty where too few strikes of the reference tell. */
    tempoCourse: z.array(tempoPointSchema),
    /** false in a workspace that is not trusted: the page shows and plays, and changes nothing. */
    mayChange: z.boolean(),
    /** false where there is no pattern.csv to show a pin in. */
    patternInText: z.boolean(),
    /** The machine's newest take by name, where that is another one; null where this one is the newest. */
    newest: z.string().nullable(),
    /** How the report stands to what it was made from, where there is something to tell. */
    told: z.string().nullable(),
  }),
  /** What to change on the machine as it is now, from all takes; of the newest take alone. null: it cannot be worked out. */
  z.object({
    kind: z.literal('advice'),
    run,
    advice: adviceSchema.nullable(),
    openings: z.array(openingSchema).readonly(),
    /** Where and how long to record next. */
    record: z.array(z.string()).readonly(),
  }),
  /** What was to be noted as fitted is written, or nothing is. `message`: what to tell; null where the editor has told. */
  z.object({ kind: z.literal('noted'), done: z.boolean(), message: z.string().nullable() }),
  /** Leads through the work, one change after another. */
  z.object({ kind: z.literal('at-machine') }),
  z.object({
    kind: z.literal('clips'),
    run,
    request,
    /** In the order asked for; null where there is no sound. */
    clips: z.array(clipSchema.nullable()),
    /** One line where sound is missing, else null. */
    why: z.string().nullable(),
  }),
  z.object({ kind: z.literal('pin'), run, request, takes: z.array(pinInTakeSchema) }),
  z.object({ kind: z.literal('history'), run, request, channels: z.array(channelHistorySchema) }),
  /** `stage` null: nothing is running. */
  z.object({ kind: z.literal('progress'), stage: z.string().nullable(), fraction: z.number() }),
  z.object({ kind: z.literal('notice'), message: z.string() }),
  z.object({ kind: z.literal('problem'), message: z.string() }),
]);
export type TempoPoint = z.output<typeof tempoPointSchema>;
export type ToPage = z.output<typeof toPageSchema>;
export type AdviceMessage = Extract<ToPage, { kind: 'advice' }>;
export type ReportMessage = Extract<ToPage, { kind: 'report' }>;

/** The message, or null where it is none: frames get messages of others too. */
export function readToHost(message: unknown): ToHost | null {
  return toHostSchema.safeParse(message).data ?? null;
}

/** The message, or null where it is none. */
export function readToPage(message: unknown): ToPage | null {
  return toPageSchema.safeParse(message).data ?? null;
}
