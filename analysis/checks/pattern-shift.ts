/** Which turn of the whole pattern on the barrel puts the fewest and least important pins into a bad zone. */
import { sectorOf } from '../machine/effects.ts';
import type { Machine, Pin } from '../machine/machine.ts';

export interface Zone {
  readonly side: 'first' | 'last';
  /** Index of the sector; null: every sector. */
  readonly sector: number | null;
  /** Steps in from the edge. */
  readonly steps: number;
}

export interface PatternShift {
  /** Steps by which every pin moves; positive is later on the barrel. 0: as it is. */
  readonly steps: number;
  /** Pins in the zone, as it is and moved. */
  readonly before: number;
  readonly after: number;
}

/**
 * Pins weigh by how tight their channel's tolerance is. The music stays in time with what is not on the barrel: only
 * shifts that bring those channels' pins onto themselves are tried.
 *
 * @returns null where there is no pin on the barrel
 */
export function awayFromEdges(machine: Machine, zone: Zone): PatternShift | null {
  const { channels, barrel } = machine.description;
  const moving = machine.pins.filter(({ channel }) => channels[channel].onBarrel);
  if (moving.length === 0) return null;
  const fixed = new Set(
    machine.pins
      .filter(({ channel }) => !channels[channel].onBarrel)
      .map((pin) => `${pin.channel} ${pin.step}`),
  );
  const bad = Uint8Array.from({ length: barrel.steps }, (_, step) => (isIn(machine, zone, step) ? 1 : 0));
  const inZone = (pins: readonly Pin[], by: number) =>
    pins.filter(({ step }) => bad[Math.floor(step + by + barrel.steps) % barrel.steps] === 1);
  const weight = (pins: readonly Pin[]) =>
    pins.reduce((sum, { channel }) => sum + 1 / channels[channel].toleranceMs, 0);
  const fits = (by: number) =>
    [...fixed].every((key) => {
      const [channel, step] = key.split(' ').map(Number);
      return fixed.has(`${channel} ${(step + by + barrel.steps) % barrel.steps}`);
    });
  let best = 0;
  let least = weight(inZone(moving, 0));
  const half = Math.floor(barrel.steps / 2);
  for (let far = 1; far <= half; far++)
    for (const by of [far, -far]) {
      const now = weight(inZone(moving, by));
      if (now < least - 1e-9 && fits(by)) [best, least] = [by, now];
    }
  return { steps: best, before: inZone(moving, 0).length, after: inZone(moving, best).length };
}

function isIn({ description }: Machine, { side, sector, steps }: Zone, step: number): boolean {
  const { sectors, steps: all } = description.barrel;
  const own = sectorOf(description, step);
  if (sector !== null && sector !== own) return false;
  const next = sectors[(own + 1) % sectors.length].from;
  const far = side === 'first' ? (step - sectors[own].from + all) % all : (next - 1 - step + all) % all;
  return far < steps;
}
