/** A machine for takes of the rig: as many channels as are asked for and a pattern drawn by chance. */
import type { Machine, Pin } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { seededRandom } from '../../samples/random.ts';

export interface RigMachine {
  /** Ids; the first is the reference and not on the barrel. */
  readonly channels: readonly string[];
  readonly steps?: number;
  readonly stepsPerBeat?: number;
  /** Equal sectors, A, B, C … */
  readonly sectors?: number;
  /** Share of steps at which a channel that is not the reference has a pin. */
  readonly density?: number;
  /** Chance that a pin stays where another channel has one at the same step; 1 leaves chance alone. */
  readonly together?: number;
  readonly seed: number;
}

/** The reference strikes every beat; the others where chance puts them, never twice within two steps. */
export function rigMachine(options: RigMachine): Machine {
  const { channels, steps = 96, stepsPerBeat = 4, sectors = 3, density = 0.15, together = 1, seed } = options;
  const random = seededRandom(seed);
  const pins: Pin[] = [];
  channels.forEach((_, channel) => {
    let last = -Infinity;
    for (let step = 0; step < steps; step++) {
      const drawn = channel === 0 ? step % stepsPerBeat === 0 : random.uniform() < density && step - last > 2;
      if (!drawn) continue;
      if (together < 1 && pins.some((pin) => pin.step === step) && random.uniform() >= together) continue;
      last = step;
      pins.push({ step, channel, line: null });
    }
  });
  pins.sort((a, b) => a.step - b.step || a.channel - b.channel);
  const description = machineSchema.parse({
    name: 'Rig',
    barrel: {
      steps,
      stepsPerBeat,
      diameterMm: 800,
      sectors: Array.from({ length: sectors }, (_, i) => ({
        id: String.fromCharCode(65 + i),
        from: Math.round((i * steps) / sectors),
      })),
    },
    reference: channels[0],
    channels: channels.map((id, i) => ({ id, onBarrel: i > 0 })),
  });
  return { description, file: 'machine.jsonc', patternFile: 'pattern.csv', reference: 0, pins };
}
