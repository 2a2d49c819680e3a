/**
 * What an adjuster does, by geometry and free fall alone. Settings are whole units, lateness is ms and positive is
 * later; `secondsPerTurn` is the barrel's turn. What takes taught about an adjuster is added in advice/.
 */
import type { Machine } from './machine.ts';
import type { Adjuster, MachineDescription } from './schema.ts';

/** m/s², exact by definition: standard gravity, 3rd CGPM (1901), in NIST SP 330 (cited from memory). */
export const standardGravity = 9.80665;

/** Seconds in one turn of the barrel at `bpm` beats a minute. */
export function secondsPerTurnAt(bpm: number, { barrel }: MachineDescription): number {
  return ((barrel.steps / barrel.stepsPerBeat) * 60) / bpm;
}

/** A barrel of sectors, of a machine or as a report has it. */
export interface Sectored {
  readonly barrel: { readonly sectors: readonly { readonly from: number }[] };
}

/** The steps of each sector, from the first up to but without the last; the last sector's run on past the barrel's last step. */
export function sectorSpans<S extends { readonly from: number }>({
  sectors,
  steps,
}: {
  readonly sectors: readonly S[];
  readonly steps: number;
}): (S & { readonly to: number })[] {
  return sectors.map((sector, i) => ({ ...sector, to: sectors[i + 1]?.from ?? steps + sectors[0].from }));
}

/**
 * Index of the sector that holds a step (0 to steps − 1). Where the first sector starts later than step 0, the steps
 * before it belong to the last sector, which runs on through the barrel's zero.
 */
export function sectorOf({ barrel }: Sectored, step: number): number {
  const index = barrel.sectors.findLastIndex((sector) => sector.from <= step);
  return index === -1 ? barrel.sectors.length - 1 : index;
}

/** Free fall from rest through `heightMm`, in ms: √(2h/g). NaN where there is nothing to fall through (≤ 0 mm). */
export function fallMs(heightMm: number): number {
  // √(2·(h/1000)/g) s in ms
  return heightMm > 0 ? 1000 * Math.sqrt((2 * heightMm) / 1000 / standardGravity) : NaN;
}

/** Speed after a free fall from rest through `heightMm`, m/s: √(2gh). NaN where there is nothing to fall through. */
export function impactSpeed(heightMm: number): number {
  return heightMm > 0 ? Math.sqrt((2 * standardGravity * heightMm) / 1000) : NaN;
}

/**
 * By how many dB a strike is louder after a fall through `toMm` instead of `fromMm`: 20·log10 of the speeds' ratio, since the
 * peak of the sound is proportional to the speed of the blow. Measured on piano hammers (Palmer & Brown 1991, JASA 90:60,
 * doi 10.1121/1.401249); for other strikers common practice, no source.
 */
export function dropLevelDb(fromMm: number, toMm: number): number {
  return 20 * Math.log10(impactSpeed(toMm) / impactSpeed(fromMm));
}

/** The drop height that a setting leaves, mm; NaN of an adjuster that is no drop height. */
export function dropHeightMm({ perUnit }: Adjuster, setting: number): number {
  return 'dropMm' in perUnit ? perUnit.dropHeightMm + setting * perUnit.dropMm : NaN;
}

/**
 * Ms by which an adjuster shifts what it moves when its setting goes `from` → `to`; positive is later. NaN where a
 * setting leaves a drop height of 0 mm or less, since such a striker does not strike: callers leave that setting out.
 */
export function shiftMs(
  adjuster: Adjuster,
  from: number,
  to: number,
  { barrel }: MachineDescription,
  secondsPerTurn: number,
): number {
  const { perUnit } = adjuster;
  if ('dropMm' in perUnit) return fallMs(dropHeightMm(adjuster, to)) - fallMs(dropHeightMm(adjuster, from));
  const units = to - from;
  if ('ms' in perUnit) return units * perUnit.ms;
  if ('degrees' in perUnit) {
    const shaftTurns = perUnit.degrees / 360;
    return units * shaftTurns * ((1000 * secondsPerTurn) / perUnit.turnsPerBarrelTurn);
  }
  const circumferenceMm = Math.PI * (perUnit.atDiameterMm ?? barrel.diameterMm);
  return (units * perUnit.mm * perUnit.leverRatio * 1000 * secondsPerTurn) / circumferenceMm;
}

/**
 * Whether an adjuster moves a channel (index) in a sector (index); with null for the sector, whether it moves the
 * channel in any sector. Where it names sectors and channels it moves where both meet; a channel that is not on the
 * barrel is not moved by an adjuster that names sectors.
 */
export function moves(machine: Machine, adjuster: Adjuster, channel: number, sector: number | null): boolean {
  const { channels, barrel } = machine.description;
  const { shifts } = adjuster;
  if (shifts.channels && !shifts.channels.includes(channels[channel].id)) return false;
  if (!shifts.sectors) return true;
  if (!channels[channel].onBarrel) return false;
  return sector === null || shifts.sectors.includes(barrel.sectors[sector].id);
}

export type Coupling = NonNullable<Adjuster['alsoShifts']>[number];

/** Whether a coupling names a channel in a sector (indices); sectors move no channel that is not on the barrel. */
export function coupled({ description }: Machine, to: Coupling, channel: number, sector: number): boolean {
  const { channels, barrel } = description;
  if (to.channels && !to.channels.includes(channels[channel].id)) return false;
  return !to.sectors || (channels[channel].onBarrel && to.sectors.includes(barrel.sectors[sector].id));
}

/** How much of an adjuster's own shift a channel in a sector takes: 1 where `shifts` names it, and the share of each coupling that does. */
export function shareMoved(machine: Machine, adjuster: Adjuster, channel: number, sector: number): number {
  const own = moves(machine, adjuster, channel, sector) ? 1 : 0;
  return (adjuster.alsoShifts ?? []).reduce(
    (sum, to) => sum + (coupled(machine, to, channel, sector) ? to.share : 0),
    own,
  );
}

/** Mean share that an adjuster moves the reference's pins by, 0 to 1 without couplings; the whole of `latenessChangeMs` rests on it. */
export function shareOfReference(machine: Machine, adjuster: Adjuster): number {
  const sectors = machine.pins
    .filter((pin) => pin.channel === machine.reference)
    .map((pin) => sectorOf(machine.description, pin.step));
  const moved = sectors.map((sector) => shareMoved(machine, adjuster, machine.reference, sector));
  return moved.reduce((sum, share) => sum + share, 0) / sectors.length;
}

/**
 * What a change of one adjuster does to lateness as it is measured, in ms: one number for each channel × sector at
 * `channel · sectors + sector`. Lateness counts from the reference's own mean, so the mean shift of the reference's
 * pins is taken off all of them, the reference's own groups included. NaN as for `shiftMs`.
 */
export function latenessChangeMs(
  machine: Machine,
  adjuster: Adjuster,
  from: number,
  to: number,
  secondsPerTurn: number,
): Float64Array {
  const { channels, barrel } = machine.description;
  const shift = shiftMs(adjuster, from, to, machine.description, secondsPerTurn);
  const ofReference = shift * shareOfReference(machine, adjuster);
  const sectors = barrel.sectors.length;
  return Float64Array.from({ length: channels.length * sectors }, (_, group) => {
    const moved = shareMoved(machine, adjuster, Math.floor(group / sectors), group % sectors);
    return moved * shift - ofReference;
  });
}
