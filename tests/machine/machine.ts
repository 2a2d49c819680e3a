/** A small machine to count on: 12 steps, three sectors of which the last runs through zero, two channels a barrel. */
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema, type MachineDescription } from '../../analysis/machine/schema.ts';
import type { z } from 'zod';

export const smallDescription = {
  name: 'Ferry steps barrel',
  barrel: {
    steps: 12,
    stepsPerBeat: 2,
    diameterMm: 100,
    sectors: [
      { id: 'A', from: 2 },
      { id: 'B', from: 6 },
      { id: 'C', from: 10 },
    ],
  },
  reference: 'clap',
  channels: [{ id: 'clap', onBarrel: false }, { id: 'bell' }, { id: 'drum' }],
} satisfies z.input<typeof machineSchema>;

/** @param pins step and channel index of each pin, in order */
export function machineOf(
  description: z.input<typeof machineSchema> = smallDescription,
  pins: readonly (readonly [step: number, channel: number])[] = [
    [0, 0],
    [3, 1],
    [6, 0],
    [7, 2],
  ],
): Machine {
  const checked: MachineDescription = machineSchema.parse(description);
  return {
    description: checked,
    file: 'machine.jsonc',
    patternFile: 'pattern.csv',
    pins: pins.map(([step, channel]) => ({ step, channel, line: null })),
    reference: checked.channels.findIndex((channel) => channel.id === checked.reference),
  };
}
