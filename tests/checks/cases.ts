/** Machines drawn by chance for the rates of right and false findings: sound ones, to which a test adds one fault. */
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import type { Performance, Truth } from '../../samples/play.ts';
import { seededRandom, type Random } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';

export interface Case {
  readonly machine: Machine;
  /** Channels and sectors late or early, strikes that scatter: what any machine has, and no finding speaks of. */
  readonly truth: Truth;
  readonly how: Performance;
  readonly random: Random;
}

/** Beats that one turn of each drive shaft takes, none a whole fraction of a beat, so that none hides. */
const shafts = { beatsPerOutputTurn: 7.3, ratios: [3.7, 2.6] };

export function soundCase(seed: number): Case {
  const random = seededRandom(seed).split('case');
  const count = 3 + random.integer(4);
  const ids = ['reference', ...Array.from({ length: count }, (_, i) => `striker-${i + 1}`)];
  const steps = random.pick([96, 128, 192]);
  const drawn = rigMachine({ channels: ids, steps, sectors: random.pick([3, 4]), density: 0.14, seed });
  const description = machineSchema.parse({
    ...drawn.description,
    together: [[ids[1], ids[2]]],
    drive: {
      beatsPerOutputTurn: shafts.beatsPerOutputTurn,
      stages: shafts.ratios.map((ratio, i) => ({ name: `stage ${i + 1}`, ratio })),
    },
  });
  const within = (ms: number) => ms * (2 * random.uniform() - 1);
  return {
    machine: { ...drawn, description },
    truth: {
      channelMs: Object.fromEntries(ids.slice(1).map((id, i) => [id, i < 2 ? within(0.7) : within(6)])),
      sectorMs: Object.fromEntries(description.barrel.sectors.slice(1).map(({ id }) => [id, within(3)])),
      repeatabilityMs: Object.fromEntries(
        ids.map((id, i) => [id, i === 0 ? random.between(0.05, 0.2) : random.between(0.1, 0.8)]),
      ),
    },
    how: {
      bpm: random.between(70, 140),
      startPosition: random.uniform() * steps,
      turns: random.between(3.2, 6.5),
    },
    random,
  };
}
