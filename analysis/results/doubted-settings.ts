/** Settings that advice goes by and that the log or the takes speak against. */
import { z } from 'zod';
import { known } from './numbers.ts';

export const unnotedSchema = z
  .array(
    z.object({
      adjuster: z.string(),
      installed: z.number().int().describe('As machine.jsonc has it, and as all here is reckoned'),
      noted: z.number().int().describe('As it was noted last'),
      by: z.enum(['log', 'take']).describe('Where: in CALIBRATION.md, or as the setting of the newest take'),
    }),
  )
  .describe('Settings in machine.jsonc that nobody noted: all holds only if they are fitted');

export const unmovedSchema = z
  .array(
    z.object({
      adjuster: z.string(),
      from: z.number().int(),
      to: z.number().int().describe('As was noted, and as all here is reckoned'),
      since: z.string().describe('The take before the change'),
      expectedMs: known,
      measuredMs: known.describe('What the two takes by themselves show of it'),
    }),
  )
  .describe('Changes that were noted and show next to nothing: all holds only if they were made');
