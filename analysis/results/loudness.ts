/** Loudness: how loud the strokes of a group are, and what advice does to it. */
import { z } from 'zod';
import { count, known, knownSize, size } from './numbers.ts';

export const levelSchema = z
  .object({
    track: count()
      .min(0)
      .describe('Index of the track on which they were heard; levels of others are not compared with them'),
    count: count().min(0).describe('Strokes whose level is known'),
    meanDb: known.describe('dB re full scale'),
    ci95Db: knownSize.describe('For the mean of the pins now fitted, with this microphone and recorder'),
    sdDb: knownSize.describe('Robust spread of all its strokes'),
  })
  .describe('How loud its strokes are; absent where no sound tells, or the recording is cut off');

export const loudnessSchema = z.object({
  rows: z
    .array(
      z.object({
        channel: z.string(),
        adjuster: z.string().describe('What may change its level'),
        withinDb: size().describe('As the machine says'),
        beforeDb: known.describe(
          'Level by its drop height as installed against that of the height that is meant',
        ),
        afterDb: known.describe('The same with the settings proposed; null: not known'),
      }),
    )
    .describe('Channels whose level is kept, by adjuster'),
  withoutBoundMs: size().optional().describe('Largest mean lateness if no level were kept'),
});
