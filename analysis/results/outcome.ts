/** Did it work: what a round of changes was foretold to do, and what the take after it shows. */
import { z } from 'zod';
import { count, known, knownSize } from './numbers.ts';

const channel = z.string();
const sector = z.string();

export const outcomeSchema = z
  .object({
    since: z.string().describe('The take that was acted on'),
    groups: z.array(
      z.object({
        channel,
        sector,
        beforeMs: known,
        predictedMs: known,
        predictedCi95Ms: knownSize.describe('Half-width of the prediction’s 95 % interval'),
        measuredMs: known,
        measuredCi95Ms: knownSize,
        p: known.describe(
          'Two-sided, Welch’s test of measured against predicted, Holm’s correction over groups',
        ),
        asPredicted: z.boolean(),
      }),
    ),
    adjusters: z
      .array(
        z.object({
          adjuster: z.string(),
          from: count(),
          to: count(),
          expectedMs: known,
          seenMs: known.describe('What it did, of its own shift'),
          seenCi95Ms: knownSize,
          measuredMs: known
            .optional()
            .describe('Between the two takes alone, where that surely contradicts what was expected'),
          did: z.enum(['as-expected', 'more', 'less', 'nothing', 'the-opposite', 'cannot-tell']),
        }),
      )
      .describe('Each adjuster that was changed between the two takes'),
    worstBeforeMs: known,
    worstAfterMs: known,
    line: z.string().describe('One line for the changelog entry of the round that is judged'),
  })
  .describe('Did it work? This take against what the takes before it predicted');
