/**
 * The lateness that is meant. A channel, a sector and a pin may each be meant late or early against the reference; they
 * add up. It is taken off in one place, where a stroke's lateness is taken against its due time (strokes/match.ts), so
 * that everything after speaks of what is meant.
 */
import { InputProblem } from '../input/problem.ts';
import { sectorOf } from './effects.ts';
import type { Machine, Pin } from './machine.ts';
import { mostTargetMs, type MachineDescription } from './schema.ts';

/**
 * The pins of a pattern, each with all that is meant of it.
 *
 * @param pins with what the pattern's file says of each alone
 * @throws InputProblem where the three together are more than the search for the barrel's turn allows
 */
export function withTargets(pins: readonly Pin[], description: MachineDescription, file: string): Pin[] {
  const { channels, barrel } = description;
  return pins.map((pin): Pin => {
    const { targetMs: ofPin = 0, ...bare } = pin;
    const { id, onBarrel, targetMs: ofChannel = 0 } = channels[pin.channel];
    const ofSector = onBarrel ? (barrel.sectors[sectorOf(description, pin.step)].targetMs ?? 0) : 0;
    const targetMs = ofChannel + ofSector + ofPin;
    if (Math.abs(targetMs) > mostTargetMs) {
      const place = pin.line === null ? `step ${pin.step}` : `line ${pin.line}`;
      const what = `"${id}" is meant ${targetMs} ms off in all, more than ±${mostTargetMs} ms`;
      throw new InputProblem(file, place, what, 'give the pin a decimal step instead, such as 16.5');
    }
    return targetMs === 0 ? bare : { ...bare, targetMs };
  });
}

/** What is meant of a channel in a sector (null: in all), ms: the mean of its pins'; 0 where it has none. */
export function meantMs(machine: Machine, channel: number, sector: number | null): number {
  const { description } = machine;
  const own = machine.pins.filter(
    (pin) => pin.channel === channel && (sector === null || sectorOf(description, pin.step) === sector),
  );
  return own.reduce((sum, { targetMs = 0 }) => sum + targetMs, 0) / Math.max(1, own.length);
}
