/** Advice as work: what is opened, what is done there, and with which pieces. */
import { z } from 'zod';
import { count, knownSize, number, size } from './numbers.ts';

const piecesSchema = z.object({ mm: size(), count: count().min(0) });
const unitPiecesSchema = piecesSchema.extend({ unit: z.string() });
export const settingSchema = z.object({
  adjuster: z.string(),
  unit: z.string(),
  installed: count(),
  proposed: count(),
});

export const workSchema = z.object({
  minutes: knownSize.describe('null where the machine does not say how long its changes take'),
  steps: z
    .array(
      z.object({
        access: z.string().nullable().describe('What is opened; null: nothing has to be'),
        openMinutes: size(),
        changes: z.array(
          z.object({
            adjuster: z.string(),
            from: count(),
            to: count(),
            minutes: knownSize,
            holds: z.array(piecesSchema).optional().describe('Pieces of its stack afterwards'),
            takes: z.array(piecesSchema).optional().describe('Of those, what goes in'),
            givesBack: z.array(piecesSchema).optional().describe('What comes out'),
            stackUnknown: z
              .boolean()
              .optional()
              .describe('Its "stack" does not come to its setting: all that is there comes out first'),
          }),
        ),
      }),
    )
    .describe('In the order of the work'),
  atHand: z
    .array(piecesSchema.extend({ unit: z.string() }))
    .optional()
    .describe(
      'Pieces that a step takes before a later one gives them back, in any order and with any stacks of as few pieces: to have at hand',
    ),
  atHandUnsure: z
    .boolean()
    .optional()
    .describe('Not all such orders and stacks could be tried: perhaps nothing need be at hand'),
  session: z
    .object({
      minutes: size().describe('As asked'),
      wholeMinutes: knownSize.describe('Of all that would help'),
      outBefore: count().optional().describe('Means out of tolerance as the machine stands'),
      outAfter: count().optional().describe('And once this work is done'),
      next: z
        .object({
          minutes: knownSize,
          settings: z.array(settingSchema),
          worstBeforeMs: size().optional().describe('Largest mean lateness once this work is done'),
          worstAfterMs: size(),
          outBefore: count().optional().describe('Means out of tolerance once this work is done'),
          outAfter: count().optional().describe('And after the next session'),
        })
        .nullable()
        .describe('What as many minutes more would bring; null: nothing is left to do'),
    })
    .optional()
    .describe('Where the time was given'),
});

export const stockSchema = z.object({
  left: z.array(unitPiecesSchema).describe('In the drawer once the work is done'),
  buy: z.array(unitPiecesSchema).optional().describe('A few pieces that would do much'),
  worstWithMs: size().optional().describe('Largest mean lateness with them'),
});

export const settlingSchema = z.object({
  turns: count().nullable().describe('The shortest take that settles the groups it can settle'),
  settled: count().describe('Groups that it settles'),
  unsure: count().describe('Of so many that are too unsure to promise'),
});

export const experimentSchema = z.object({
  adjuster: z.string(),
  unit: z.string(),
  from: count(),
  to: count(),
  msPerUnit: size().describe('What a unit is taken to do, its sign left out'),
  ci95Ms: size().describe('Half-width of what a unit does, as known now'),
  thenCi95Ms: size().describe('The same, expected after the take'),
  turns: count()
    .nullable()
    .describe(
      'The shortest take that settles the groups it can settle, in nine takes of ten; null: none does, or the newest take does not tell its chance',
    ),
  groups: z
    .array(
      z.object({
        channel: z.string(),
        sector: z.string(),
        ci95Ms: size().describe('Half-width of its lateness as planned, as known now'),
        thenCi95Ms: size().describe('The same, expected after the take'),
        wanderMs: size()
          .optional()
          .describe('By which it may wander from take to take, in nine machines of ten'),
        neededMs: size().describe('Half-width at which the plan can be promised'),
        settled: z.boolean(),
      }),
    )
    .describe('That the adjuster moves or the take settles, of those too unsure to promise'),
  whole: settlingSchema
    .extend({
      teachesLess: z.boolean().describe('Than the single change: what moves together is not told apart'),
    })
    .describe('Of all proposed changes at once, and a take after them'),
  message: z.string(),
});

const groupOfTune = z.object({ channel: z.string(), sector: z.string(), tune: z.string() });

export const tunesSchema = z.object({
  rows: z
    .array(
      z.object({
        tune: z.string(),
        take: z.string().describe('Its newest'),
        worstBeforeMs: size().describe('Largest mean lateness of its pins’ groups as the machine stands'),
        worstAfterMs: size().describe('With the settings proposed for all tunes together'),
        aloneMs: size().describe('The least that this tune alone could have'),
        unsure: z.array(z.string()).describe('Channels of which too little is known since that take'),
      }),
    )
    .describe('The tune of the newest take first'),
  missing: z.array(z.string()).describe('Tunes of which no take was measured'),
  conflicts: z
    .array(
      groupOfTune.extend({
        afterMs: number().describe('Its mean lateness with the settings proposed for all tunes together'),
        aloneMs: number().describe('With those that its tune alone would have'),
        against: groupOfTune
          .extend({ meanMs: number().describe('With those settings') })
          .describe(
            'What they would leave out of tolerance in another tune, and no setting brings in together with it',
          ),
      }),
    )
    .optional()
    .describe('Groups that stay out because tunes ask for different settings'),
});

export const tempiSchema = z.object({
  rows: z
    .array(
      z.object({
        bpm: size(),
        secondsPerTurn: size(),
        worstBeforeMs: knownSize.describe(
          'Largest mean lateness there as the machine stands; null: not known',
        ),
        worstAfterMs: knownSize.describe('With the settings proposed for all tempi together'),
        aloneMs: knownSize.describe('The least that this tempo alone could have'),
        unsure: z.array(z.string()).describe('Channels of which the takes do not tell enough there'),
      }),
    )
    .describe('In the order of the machine’s "tempi"'),
  forbids: z
    .array(
      z.object({
        channel: z.string(),
        delayMs: number().describe('By how much its fall takes longer than the reference’s'),
        ci95Ms: size(),
        allowedMs: size().describe('What its tolerance allows over these tempi'),
        message: z.string(),
      }),
    )
    .describe('Channels that no setting keeps within tolerance at all tempi'),
});
