/** take.jsonc: what a person says about a take. Every key is optional. */
import { z } from 'zod';

export const takeSchema = z
  .strictObject({
    $schema: z.string().optional(),
    recorded: z
      .string()
      .regex(
        /^\d{4}-\d\d-\d\d([T ]\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:?\d\d)?)?$/,
        'an ISO 8601 date or time',
      )
      .optional()
      .describe('When it was recorded, ISO 8601'),
    tempo: z.number().positive().optional().describe('Tempo aimed at, beats a minute'),
    tune: z
      .string()
      .optional()
      .describe('Which tune was recorded, of a machine with several ("patterns" in machine.jsonc)'),
    tracks: z
      .array(
        z.strictObject({
          file: z.string().describe('Audio file in this folder'),
          track: z.number().int().min(0).default(0).describe('Track within the file, the first is 0'),
          channels: z
            .array(z.string())
            .min(1)
            .describe('Channels heard on it; several are told apart by sound'),
        }),
      )
      .optional(),
    labels: z
      .record(z.string(), z.string())
      .optional()
      .describe('Marker text, or the time of a strike ("12.34 s") → channel, or sector:ID'),
    settings: z
      .record(z.string(), z.number().int())
      .optional()
      .describe('Adjuster → setting while recording'),
    startStep: z.number().int().min(0).optional().describe('Step at which the recording starts'),
    setpoint: z.number().positive().optional().describe('Motor set-point while recording'),
    airCelsius: z.number().min(-40).max(60).optional().describe('Air temperature, °C'),
    worked: z
      .array(z.string())
      .optional()
      .describe(
        'What was mended, worn out or set before this take beside "settings": channels, adjusters, sector:ID, or "machine"',
      ),
    note: z.string().optional(),
  })
  .describe('A take: one recording session of a machine');

export type TakeDescription = z.output<typeof takeSchema>;
