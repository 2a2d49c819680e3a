/**
 * What an analysis says: report.json and the values in it. One schema gives the types and the check at the door
 * where a report is read back. Times in seconds, lateness in ms, `ci95Ms` is the half-width of a 95 % interval,
 * a number that is not known is null. Keys may be added; none is renamed or reused.
 */
import { z } from 'zod';
import { unmovedSchema, unnotedSchema } from './doubted-settings.ts';
import { findingKinds } from './catalogue.ts';
import { count, known, knownSize, number, size, stepNumber, target } from './numbers.ts';
import { levelSchema, loudnessSchema } from './loudness.ts';
import { outcomeSchema } from './outcome.ts';
import {
  settingSchema,
  stockSchema,
  experimentSchema,
  settlingSchema,
  tempiSchema,
  tunesSchema,
  workSchema,
} from './work.ts';

/** A file of the take or of its machine: what a report from elsewhere names is looked for, so it must not lead out. */
const fileWithin = z
  .string()
  .refine(staysWithin, 'a path that leads out of the folder stands where a file of it belongs');

/** Not absolute, no drive, no share of a network, and no step upwards. */
export function staysWithin(path: string): boolean {
  return !/^([/\\]|[A-Za-z]:[/\\])/.test(path) && !path.includes('\0') && !path.split(/[/\\]/).includes('..');
}

const channel = z.string();
const sector = z.string();

export const hitSchema = z.object({
  timeS: number().describe('From the files’ common start, at the microphone'),
  track: count().nullable().describe('Index of the take’s track; null where a marker alone names the hit'),
  channel: channel.nullable(),
  turn: count().nullable(),
  step: stepNumber().nullable(),
  sector: sector.nullable(),
  latenessMs: known,
  timeSdS: knownSize,
  levelDb: known
    .optional()
    .describe(
      'Of its channel’s sound at the gain that was fitted, dB re full scale; null where a marker alone names it',
    ),
  state: z.enum(['used', 'set-aside']),
  why: z.string().optional(),
});

const variancePartsSchema = z.object({
  chance: number().describe('Of a strike, from turn to turn'),
  hearing: number().describe('Of the strikes’ times as they were heard'),
  rotation: number().describe('Of the barrel’s course between the strikes that tell it'),
  referencePins: number().describe('Of the reference’s own pins, the same every turn'),
  onset: number().describe('Of where the channel’s sound begins, one error a take and channel'),
  resolution: number().describe('Of markers whose times are rounded'),
  clock: number()
    .optional()
    .describe('Of when the channel’s file began beside the reference’s, one error a take and file'),
});

export const droppedSchema = z
  .object({
    counts: z.array(z.object({ channel: channel.nullable(), why: z.string(), count: z.number().int() })),
    moments: z
      .array(
        z.object({
          timeS: z.number(),
          track: z.number().int(),
          channel: channel.nullable().describe('The one it would have been; null where nothing tells'),
          why: z.string(),
        }),
      )
      .describe(
        'At most 500: of more, first those that would have been a channel’s, then those beside a missing stroke, then others evenly over the take',
      ),
  })
  .describe('What started to sound on a track and is no hit, and why');

export const groupSchema = z.object({
  channel,
  sector: sector.nullable().describe('null: the whole channel'),
  count: count().min(0).describe('Strokes used'),
  targetMs: target.describe('Lateness that is meant, which meanMs is against'),
  meanMs: known,
  medianMs: known,
  sdMs: knownSize.describe('Robust spread of all its strokes'),
  ci95Ms: knownSize.describe('For the mean of the pins now fitted'),
  pinSdMs: knownSize.describe('Scatter from pin to pin, chance taken off'),
  repeatabilityMs: knownSize.describe('Spread of one pin from turn to turn, pooled over its pins'),
  standardErrorMs: knownSize.optional().describe('Of meanMs; all parts of its variance in it'),
  degreesOfFreedom: z
    .number()
    .min(0)
    .nullable()
    .optional()
    .describe('Of standardErrorMs (Welch–Satterthwaite)'),
  varianceMs2: variancePartsSchema.optional().describe('Parts of standardErrorMs squared'),
  level: levelSchema.optional(),
  doubt: z
    .string()
    .optional()
    .describe(
      'Why the mean and its interval cannot be relied on; advice and learning leave such a group out',
    ),
});

export const pinSchema = z.object({
  channel,
  step: stepNumber(),
  targetMs: target,
  count: count().min(0),
  meanMs: known,
  ci95Ms: knownSize,
  repeatabilityMs: knownSize,
  standardErrorMs: knownSize.optional(),
  degreesOfFreedom: z.number().min(0).nullable().optional(),
  varianceMs2: variancePartsSchema.optional(),
});

export const findingSchema = z.object({
  kind: z
    .union([z.enum(findingKinds), z.templateLiteral([z.string().min(1), ':', z.string().min(1)])])
    .describe('Of the catalogue; those of checks that others add have a colon: "theirs:felt-worn"'),
  severity: z.enum(['note', 'warning', 'error']),
  channel: channel.optional(),
  sector: sector.optional(),
  step: stepNumber().optional(),
  foundStep: stepNumber().optional(),
  turn: count().optional(),
  adjuster: z.string().optional(),
  file: fileWithin.optional(),
  place: z.string().optional(),
  message: z.string(),
  mend: z.string().optional(),
});

export const adviceSchema = z.object({
  settings: z.array(settingSchema).describe('Only adjusters whose setting changes'),
  predicted: z.array(
    z.object({
      channel,
      sector,
      beforeMs: known.describe('As the take measured it, with its own settings'),
      afterMs: known,
      ci95Ms: knownSize,
      toleranceMs: size().optional(),
    }),
  ),
  effects: z
    .array(
      z.object({
        adjuster: z.string(),
        msPerUnit: known,
        sdMs: knownSize,
        from: z.enum(['geometry', 'takes']),
        geometryMsPerUnit: known.optional(),
        verdict: z
          .enum(['wrong-way', 'no-effect'])
          .optional()
          .describe('What the takes say against the machine file; such an adjuster is left alone'),
      }),
    )
    .optional(),
  step: z
    .enum(['good-enough', 'not-resolvable', 'change', 'out-of-reach'])
    .optional()
    .describe('What is next: stop, record more turns, change settings, or mend what settings cannot'),
  turnsToResolve: count()
    .nullable()
    .optional()
    .describe(
      'Turns that a take must hold so that every interval lies within tolerance; null: turns alone will not do',
    ),
  scattered: z
    .array(z.object({ channel, sector, pinSdMs: size(), toleranceMs: size() }))
    .optional()
    .describe('Groups whose pins scatter by more than anything that moves them all alike can mend'),
  doubts: z
    .array(
      z.object({
        kind: z.enum(findingKinds),
        since: z.string().nullable().describe('The first take that shows it; null: all takes do'),
        adjusters: z.array(z.string()).describe('Left alone until it is settled; none of a movement'),
        channels: z
          .array(channel)
          .describe('What moved, or what an adjuster moves beside what the file says'),
        sectors: z.array(sector).describe('Where; none: everywhere'),
        size: known.describe('ms, ms a take of a drift, a share of a coupling; null where it says nothing'),
        sizeCi95: knownSize,
        readings: z.array(z.string()).describe('What it may be, the likeliest first'),
        test: z
          .object({
            adjuster: z.string(),
            from: z.number().int(),
            to: z.number().int(),
            turns: z.number().int().describe('To record after it'),
          })
          .nullable()
          .describe('The smallest change that would tell; null where none is needed'),
        message: z.string(),
      }),
    )
    .optional()
    .describe('What happened beside what is noted, as the takes tell it'),
  unheard: z
    .array(z.object({ channel, why: z.string() }))
    .optional()
    .describe('Channels with pins of which the take measured nothing that can be relied on'),
  unmeasured: z
    .array(z.object({ channel, sector, why: z.string() }))
    .optional()
    .describe('Groups with pins of which nothing can be relied on, in channels of which others can'),
  copies: z
    .array(z.object({ take: z.string(), of: z.string() }))
    .optional()
    .describe('Takes that hold the recording of another; nothing is learnt from them'),
  newest: z
    .object({ take: z.string(), why: z.string() })
    .optional()
    .describe('The take that is acted on, and why it is the newest'),
  unnoted: unnotedSchema.optional(),
  unmoved: unmovedSchema.optional(),
  setAside: z
    .array(z.object({ channel, sector, message: z.string() }))
    .optional()
    .describe(
      'Groups that no setting brings within tolerance with the rest; all else is tuned as if they were not there',
    ),
  tunes: tunesSchema.optional().describe('Of a machine with several tunes: settings are for all together'),
  tempi: tempiSchema.optional().describe('Of a machine that is to be right at several tempi'),
  work: workSchema.optional().describe('The changes in the order of the work'),
  loudness: loudnessSchema.optional().describe('Of a machine that keeps the level of channels'),
  stock: stockSchema.optional().describe('Of a machine that says what lies in its drawer'),
  experiment: experimentSchema
    .optional()
    .describe('Where what adjusters do is not known well enough: the change that teaches most of it'),
  settling: settlingSchema
    .optional()
    .describe('Where what adjusters do is not known well enough: what a take after all changes settles'),
  /** One plain sentence: nothing to do, do this, or out of reach and why. */
  summary: z.string(),
  worstBeforeMs: known.describe(
    'Largest mean lateness: of the newest take, and of other tunes as they stand',
  ),
  worstAfterMs: known.describe('The same with the settings proposed, over all tunes'),
  proven: z.boolean().describe('true where the solver proved the proposal optimal'),
  gap: z
    .number()
    .nullable()
    .optional()
    .describe('Relative gap to the solver’s bound: 0 when proven, null when unknown'),
  obstacles: z
    .array(
      z.object({
        channel,
        sector,
        tune: z.string().optional().describe('Of a machine with several tunes: of which'),
        message: z.string(),
      }),
    )
    .optional()
    .describe('Groups that no allowed setting brings within tolerance, and what stands in the way'),
});

export const sectionSchema = z
  .object({
    id: z.string(),
    title: z.string(),
    sentences: z.array(z.string()),
    table: z.object({ columns: z.array(z.string()), rows: z.array(z.array(z.string())) }).optional(),
    plot: z
      .object({
        xLabel: z.string(),
        yLabel: z.string(),
        scale: z.enum(['linear', 'logarithmic']).optional().describe('Of both axes; absent: linear'),
        rules: z
          .array(z.object({ axis: z.enum(['x', 'y']), at: z.number(), name: z.string() }))
          .optional()
          .describe('Lines across the plot at one value of an axis: limits, shafts, joints'),
        series: z.array(
          z.object({
            name: z.string(),
            line: z.boolean().optional().describe('true: points are joined'),
            points: z.array(z.tuple([z.number().nullable(), z.number().nullable()])),
            ci95: z
              .array(z.number().nullable())
              .optional()
              .describe('Half-width of the 95 % interval of y, one a point'),
          }),
        ),
      })
      .optional(),
  })
  .describe('What one check measured, found or not');

const sha256 = z.string().regex(/^[0-9a-f]{64}$/);

export const inputsSchema = z
  .object({
    files: z
      .array(
        z.object({
          file: fileWithin,
          sizeBytes: count().min(0),
          sha256,
          kind: z.enum(['audio', 'markers', 'other']),
        }),
      )
      .describe('Of the take’s folder: recordings, take.jsonc, corrections.csv'),
    machine: sha256.describe('Of what in machine.jsonc decides how a take is measured'),
    pattern: sha256.describe('Of the pins'),
    voices: z.array(z.object({ file: fileWithin, sha256 })).describe('Saved voices'),
  })
  .describe('SHA-256 of what the report was made from; of texts with their line ends as git keeps them');

export const reportSchema = z.object({
  schema: z.literal(1),
  machine: z.string(),
  take: z.string(),
  files: z
    .array(
      z.object({
        file: fileWithin,
        startS: number().describe('Of its first sample, by the first file’s clock, s'),
        startCi95Ms: knownSize.describe('Half-width of its 95 % interval; null where nothing tells'),
        clockPpm: z
          .number()
          .describe('How much slower its clock ran than the first one’s, parts per million'),
        clockCi95Ppm: knownSize,
        how: z.enum(['first', 'in-step', 'found', 'said', 'unknown']),
      }),
    )
    .optional()
    .describe('Of a take of several files: when each began; all times count by the first one’s clock'),
  /** What the machine was when it was measured, so that a report can be read without machine.jsonc. */
  channels: z
    .array(
      z.object({
        id: channel,
        name: z.string().optional(),
        toleranceMs: size(),
        reference: z.boolean(),
        onBarrel: z.boolean(),
      }),
    )
    .optional()
    .describe('In the machine’s order'),
  barrel: z
    .object({
      steps: count().min(0),
      stepsPerBeat: size(),
      sectors: z.array(z.object({ id: sector, from: count() })),
    })
    .optional(),
  tune: z.string().optional().describe('Of a machine with several: which tune the take is of'),
  tempo: z.object({ bpm: known, bpmCi95: knownSize, secondsPerTurn: known }),
  recorded: z.string().nullable(),
  settings: z.record(z.string(), count()),
  setpoint: known.optional().describe('Motor set-point while recording, as take.jsonc tells it'),
  tracks: z.array(z.object({ file: z.string(), track: count(), sampleRate: size(), noiseDb: known })),
  markerFiles: z
    .array(
      z.object({
        file: z.string(),
        format: z.string(),
        count: count().min(0),
        time: z.string().optional(),
        unit: z.enum(['s', 'ms', 'samples']).optional(),
        end: z.string().nullable().optional(),
        label: z.string().nullable().optional(),
      }),
    )
    .optional()
    .describe('Marker files, how each was read; of a table: its columns’ names and the unit of bare numbers'),
  inputs: inputsSchema.optional(),
  worked: z
    .array(z.string())
    .optional()
    .describe('What take.jsonc says was worked on before it: channels, adjusters, sector:ID'),
  hits: z.array(hitSchema),
  dropped: droppedSchema.optional(),
  groups: z.array(groupSchema),
  pins: z.array(pinSchema),
  findings: z.array(findingSchema),
  sections: z.array(sectionSchema).optional(),
  advice: adviceSchema,
  outcome: outcomeSchema.optional(),
});

export type HitRow = z.output<typeof hitSchema>;
export type Group = z.output<typeof groupSchema>;
export type PinNumbers = z.output<typeof pinSchema>;
export type Finding = z.output<typeof findingSchema>;
export type Section = z.output<typeof sectionSchema>;
export type SectionPlot = NonNullable<Section['plot']>;
export type Advice = z.output<typeof adviceSchema>;
export type Outcome = z.output<typeof outcomeSchema>;
export type Inputs = z.output<typeof inputsSchema>;
export type Report = z.output<typeof reportSchema>;
/** What later takes need to know of an earlier one: its report without the strokes. */
export type EarlierReport = Omit<Report, 'hits'>;
/** How a take stands. */
export type ReportHead = Omit<Report, 'hits' | 'pins' | 'sections'>;
