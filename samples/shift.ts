/**
 * What an adjuster truly does to one channel in one sector, by the formulas of physics and written apart from
 * analysis/ on purpose: a mistake there must not hide behind the same mistake here.
 */
import type { Adjuster } from '../analysis/machine/schema.ts';
import type { Machine } from '../analysis/machine/machine.ts';

/** 3rd CGPM 1901, NIST SP 330 (from memory). */
const gravityMS2 = 9.80665;

/** ms by which the channel's strikes in the sector come later when the adjuster goes from one setting to another. */
export function adjusterMs(
  machine: Machine,
  adjuster: Adjuster,
  from: number,
  to: number,
  turnS: number,
  channel: number,
  sector: number,
): number {
  const { channels, barrel } = machine.description;
  const { id, onBarrel } = channels[channel];
  const { shifts, perUnit } = adjuster;
  if (shifts.channels && !shifts.channels.includes(id)) return 0;
  if (shifts.sectors && (!onBarrel || !shifts.sectors.includes(barrel.sectors[sector].id))) return 0;
  const units = to - from;
  if ('mm' in perUnit) {
    const rimMmPerS = (Math.PI * (perUnit.atDiameterMm ?? barrel.diameterMm)) / turnS;
    return (1000 * units * perUnit.mm * perUnit.leverRatio) / rimMmPerS;
  }
  if ('degrees' in perUnit)
    return (1000 * units * perUnit.degrees * turnS) / (360 * perUnit.turnsPerBarrelTurn);
  if ('dropMm' in perUnit) {
    const fallMs = (setting: number) =>
      1000 * Math.sqrt((2 * (perUnit.dropHeightMm + setting * perUnit.dropMm)) / 1000 / gravityMS2);
    return fallMs(to) - fallMs(from);
  }
  return units * perUnit.ms;
}
