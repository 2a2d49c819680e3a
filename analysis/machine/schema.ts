/**
 * machine.jsonc: one schema gives the types, the run-time check and the JSON Schema that editors complete from.
 * Only the shape is checked here; what needs more than one field at once is checked in read.ts.
 */
import { defaultToleranceMs } from './tolerance.ts';
import { z } from 'zod';

/** An id: what files, labels and command lines refer to. No spaces, so that it can be typed and quoted safely. */
const id = z
  .string()
  .regex(
    /^[\p{L}\p{N}][\p{L}\p{N}_.-]{0,63}$/u,
    '1 to 64 letters, digits, "-", "_" or ".", the first a letter or digit',
  )
  .describe('Short name without spaces');

/**
 * Several times the largest machine that we heard of: every channel is told by every sector, and each adjuster is weighed
 * against all of those. A machine of so many of each, with a pin of every channel in every sector, is analysed within a minute.
 */
const mostChannels = 200;
const mostSectors = 200;
/** Of adjusters, the limits on them, what lies before them and what is fitted to them. */
const mostAdjusters = 300;

/** A barrel that shifts for each has no room for more; common practice, no source. */
const mostTunes = 40;

const step = z.number().int().min(0).describe('Position on the barrel, 0 to steps − 1');

/**
 * The search for the barrel's turn looks for hits within 60 ms of their pins (rotation/guess.ts), and channels lie up to some
 * 40 ms off as built: what is meant must leave room for that. Larger displacements are places on the barrel: decimal steps.
 */
export const mostTargetMs = 40;

const target = z.number().min(-mostTargetMs).max(mostTargetMs).optional();

const sector = z
  .strictObject({
    id,
    from: step.describe('First step of the sector; it reaches to the next sector’s first'),
    name: z.string().optional(),
    targetMs: target.describe(
      'Lateness that is meant for all that is on the barrel here, beside each channel’s own, ms; absent: 0',
    ),
  })
  .describe('A separately bolted part of the barrel');

const barrel = z.strictObject({
  steps: z.number().int().min(2).max(100_000).describe('Pin positions in one turn of the barrel'),
  stepsPerBeat: z.number().positive().describe('Pin positions in one beat'),
  diameterMm: z.number().positive().describe('Diameter of the pin circle, mm'),
  sectors: z
    .array(sector)
    .min(1)
    .max(mostSectors)
    .describe('In order of their first steps; the first is the anchor'),
});

const keepLevel = z
  .strictObject({
    withinDb: z
      .number()
      .positive()
      .max(40)
      .describe('How far advice may change its level, dB: 1.5; what is just heard is about 1 dB'),
    dropHeightMm: z
      .number()
      .positive()
      .optional()
      .describe('Drop height whose level is meant, mm; needed where an adjuster changes its drop height'),
  })
  .optional()
  .describe(
    'Advice keeps its level so, and leaves drop heights alone where a lever does as well; absent: no bound',
  );

const channel = z.strictObject({
  id,
  name: z.string().optional().describe('As people call it'),
  onBarrel: z
    .boolean()
    .default(true)
    .describe('false: on a shaft of its own, geared to the barrel; sectors do not move it'),
  toleranceMs: z
    .number()
    .positive()
    .default(defaultToleranceMs)
    .describe('Largest lateness that is good enough, ms'),
  microphoneMm: z.number().min(0).optional().describe('Distance from striker to microphone, mm'),
  targetMs: target.describe(
    'Lateness that is meant against the reference, ms: 8 is laid back by 8 ms; absent: 0',
  ),
  keepLevel,
});

const shifts = z
  .strictObject({
    sectors: z.array(z.string()).min(1).optional().describe('Sectors it moves; absent: all'),
    channels: z.array(z.string()).min(1).optional().describe('Channels it moves; absent: all'),
  })
  .default({})
  .describe('What it moves: sectors, channels, or where both meet; absent: everything');

const effect = z.number().refine((value) => value !== 0, 'a unit of 0 moves nothing');

const perUnit = z
  .union(
    [
      z.strictObject({
        mm: effect.describe('Shift along the pin circle for one unit, mm; positive is later'),
        leverRatio: z
          .number()
          .positive()
          .default(1)
          .describe('Movement at the strike for one mm at the adjuster'),
        atDiameterMm: z.number().positive().optional().describe('Where it acts; absent: the pin circle'),
      }),
      z.strictObject({
        degrees: effect.describe('Turn for one unit, degrees; positive is later'),
        turnsPerBarrelTurn: z
          .number()
          .positive()
          .default(1)
          .describe('Turns of that shaft in one turn of the barrel'),
      }),
      z.strictObject({
        dropMm: effect.describe('Change of the drop height for one unit, mm; positive is higher and later'),
        dropHeightMm: z.number().positive().describe('Drop height at setting 0, mm'),
      }),
      z.strictObject({
        ms: effect.describe('Lateness for one unit at every tempo, ms'),
      }),
    ],
    'give exactly one of "mm", "degrees", "ms", or "dropMm" with "dropHeightMm"',
  )
  .describe('What one unit of it does; a positive value makes what it shifts later');

const alsoShifts = z
  .array(
    z.strictObject({
      sectors: z.array(z.string()).min(1).optional().describe('Sectors it moves; absent: all'),
      channels: z.array(z.string()).min(1).optional().describe('Channels it moves; absent: all'),
      share: z
        .number()
        .min(-2)
        .max(2)
        .refine((value) => value !== 0, 'a share of 0 moves nothing')
        .describe('How much of its own shift they take: 0.3 is 30 %'),
    }),
  )
  .min(1)
  .optional()
  .describe('What it moves too, by a share of its own shift: a neighbour on the same shaft');

const refit = z.number().min(0).optional();

/** More pieces than any drawer or stack holds. */
const maxPieces = 1000;

/** Pieces are told apart to a thousandth of a mm. */
const millimetres = z.number().min(0.001).max(1000);

const adjuster = z.strictObject({
  id,
  unit: z.string().min(1).max(40).describe('What is counted: shim, notch, mm …'),
  perUnit,
  shifts,
  alsoShifts,
  installed: z.number().int().describe('Setting now, whole units'),
  min: z.number().int().describe('Least setting'),
  max: z.number().int().describe('Greatest setting'),
  name: z.string().optional(),
  locked: z.boolean().optional().describe('true: advice leaves it as it is'),
  cost: z
    .number()
    .positive()
    .optional()
    .describe('How hard it is to reach, against 1 for the others; absent: 1'),
  refitMs: refit.describe('As the machine’s refitMs, for this adjuster'),
  access: z.string().optional().describe('What has to be opened to reach it: an id of the machine’s access'),
  stack: z
    .array(millimetres)
    .max(maxPieces)
    .optional()
    .describe('Thicknesses of the pieces now fitted, mm; absent: each unit is a piece of its own'),
});

const access = z.strictObject({
  id: z.string().min(1).max(64).describe('What is opened: "east cheek"'),
  openMinutes: z.number().min(0).describe('Minutes to open and close it, once a session'),
  changeMinutes: z
    .number()
    .min(0)
    .describe('Minutes to change one adjuster behind it; one of cost 3 takes three times as long'),
});

const pieces = z.strictObject({
  unit: z.string().min(1).max(40).default('shim').describe('For adjusters counted in this unit'),
  mm: millimetres.describe('Thickness of one piece, mm'),
  count: z.number().int().min(0).max(maxPieces).describe('How many lie in the drawer'),
});

const limit = z.strictObject({
  adjusters: z.array(z.string()).min(1).describe('Whose settings are summed'),
  sumMin: z.number().optional().describe('Least sum of their settings'),
  sumMax: z.number().optional().describe('Greatest sum of their settings'),
  why: z.string().optional().describe('Shown where the limit stands in the way'),
});

const drive = z.strictObject({
  beatsPerOutputTurn: z.number().positive().describe('Beats in one turn of the last stage’s output'),
  stages: z
    .array(
      z.strictObject({
        name: z.string(),
        ratio: z.number().positive().describe('Input turns for one output turn'),
      }),
    )
    .describe('From the motor outwards'),
  maxSetpoint: z.number().positive().optional().describe('Largest set-point of the motor'),
});

export const machineSchema = z
  .strictObject({
    $schema: z.string().optional(),
    name: z.string().min(1).describe('What the machine is called'),
    barrel,
    pattern: z
      .string()
      .min(1)
      .default('pattern.csv')
      .describe('The pins: a .csv or .mid file beside this one'),
    patterns: z
      .record(id, z.string().min(1))
      .refine((patterns) => Object.keys(patterns).length > 0, 'name a tune: "march": "march.csv"')
      .refine((patterns) => Object.keys(patterns).length <= mostTunes, `at most ${mostTunes} tunes`)
      .optional()
      .describe(
        'In place of "pattern", of a barrel that shifts sideways: tune → its pins, a .csv or .mid file; a take says which it is of ("tune")',
      ),
    reference: z.string().describe('Channel against which all others are timed'),
    onset: z
      .enum(['physical', 'perceived'])
      .default('physical')
      .describe('Which instant of a strike counts: its first arrival, or where its attack is heard to begin'),
    channels: z.array(channel).min(1).max(mostChannels).describe('Its strikers'),
    adjusters: z.array(adjuster).max(mostAdjusters).default([]).describe('What a person can change on it'),
    refitMs: refit.describe(
      'Standard deviation of where a part comes to rest when it is taken off and put back, ms; absent: 0, or learned from the takes',
    ),
    tempi: z
      .array(z.number().min(1).max(300))
      .min(1)
      .max(20)
      .optional()
      .describe('Beats a minute at which it is to be right: advice makes the worst over all of them least'),
    access: z
      .array(access)
      .max(mostAdjusters)
      .optional()
      .describe('What has to be opened to reach adjusters, and how long that takes'),
    stock: z
      .array(pieces)
      .max(mostAdjusters)
      .optional()
      .describe('Pieces that lie in the drawer: advice asks for no others'),
    limits: z.array(limit).max(mostAdjusters).default([]).describe('Bounds on sums of settings'),
    drive: drive.optional(),
    together: z
      .array(z.array(z.string()).min(2))
      .optional()
      .describe('Sets of channels that should sound as one: two strikers on one drum'),
    click: z
      .string()
      .optional()
      .describe('A channel that is no striker but a recorded click: what the tempo is checked against'),
    notes: z
      .record(
        z.string().regex(/^(\d|[1-9]\d|1[01]\d|12[0-7])$/, 'a MIDI note number, "0" to "127"'),
        z.string(),
      )
      .optional()
      .describe('MIDI note number → channel, where the pattern is a MIDI file'),
  })
  .describe('A mechanical music machine');

export type MachineDescription = z.output<typeof machineSchema>;
export type Channel = MachineDescription['channels'][number];
export type Adjuster = MachineDescription['adjusters'][number];
export type Limit = MachineDescription['limits'][number];
