/** Which zones at the edges of sectors are surely off: zones of every reach tried, the surest first. */
import { sectorOf } from '../machine/effects.ts';
import { ci95, combine, studentTCdf } from '../numbers/inference.ts';
import { slopesWithin } from '../numbers/regression.ts';
import { grouped } from '../numbers/grouped.ts';
import { modulo } from '../numbers/modulo.ts';
import type { Machine } from '../machine/machine.ts';
import type { Study } from './check.ts';
import type { Zone } from './pattern-shift.ts';
import { groupKey, pinContrast } from './pin-means.ts';
import { placedPins, sectorWidths, type PlacedPin } from './placed-pins.ts';

/** Chance of one false edge in a take. */
const falseAlarm = 0.008;
/** Fewer pins in the zone are pins, not an edge. */
const leastPins = 4;
/** Reaches tried, steps: fewer tries make each a surer find, and those between differ by a pin or two. */
const reaches = [1, 2, 3, 4, 6, 8, 12, 16];
/** What is left without any one of its pins must still speak for an edge. */
const withoutOnePin = 0.01;
/** An edge reaches in at most this share of its sector. */
const widestShare = 0.25;
export interface Edge extends Zone {
  readonly pins: number;
  readonly offMs: number;
  readonly ci95Ms: number;
  /** Corrected for every zone tried. */
  readonly p: number;
}

/** Edges that are surely off: all sectors alike where that explains it, else single ones; at most one for each side of a sector. */
export function sectorEdges(study: Study): Edge[] {
  const pins = placedPins(study);
  const { sectors } = study.machine.description.barrel;
  const widths = sectorWidths(study.machine);
  const widest = Math.max(1, Math.floor(widestShare * Math.min(...widths)));
  const tries: Zone[] = [];
  for (const side of ['first', 'last'] as const)
    for (const steps of reaches.filter((reach) => reach <= widest))
      for (const sector of [null, ...sectors.keys()]) tries.push({ side, sector, steps });
  const groups = [...grouped(pins.keys(), (i) => groupKey(pins[i])).values()].filter((own) => own.length > 1);
  const found = tries.flatMap((tried) => {
    const edge =
      tried.sector === null && sectors.length === 1 ? null : judged(study, pins, groups, tried, tries.length);
    return edge === null ? [] : [edge];
  });
  return (['first', 'last'] as const).flatMap((side) => {
    const own = found.filter((edge) => edge.side === side && edge.p < falseAlarm);
    const best = own.toSorted((a, b) => a.p - b.p)[0] as Edge | undefined;
    if (best === undefined) return [];
    if (best.sector === null) return [best];
    // Single sectors: the surest zone of each.
    const single = own.filter(({ sector }) => sector !== null).toSorted((a, b) => a.p - b.p);
    return [...grouped(single, ({ sector }) => sector).values()].map(([surest]) => surest);
  });
}

/** Whether a pin on the barrel stands in the zone. */
export function standsIn(machine: Machine, { side, sector, steps }: Zone, step: number): boolean {
  const own = sectorOf(machine.description, step);
  if (sector !== null && sector !== own) return false;
  const { barrel } = machine.description;
  const fromFirst = modulo(step - barrel.sectors[own].from, barrel.steps);
  return (side === 'first' ? fromFirst : sectorWidths(machine)[own] - 1 - fromFirst) < steps;
}

/** Half-width of the 95 % interval of what one zone is off, ms, whether it is or not; null where that cannot be told. */
export function sectorEdgeInterval(study: Study, zone: Zone): number | null {
  const pins = placedPins(study);
  const groups = [...grouped(pins.keys(), (i) => groupKey(pins[i])).values()].filter((own) => own.length > 1);
  return judged(study, pins, groups, zone, 1)?.ci95Ms ?? null;
}

/** null where the zone cannot be judged, or where one pin alone, or pins after a rest, would explain it. */
function judged(
  study: Study,
  pins: readonly PlacedPin[],
  groups: readonly (readonly number[])[],
  tried: Zone,
  tries: number,
): Edge | null {
  const inZone = (pin: PlacedPin) =>
    (tried.sector === null || pin.sector === tried.sector) &&
    (tried.side === 'first' ? pin.fromFirst : pin.fromLast) < tried.steps;
  // Groups that lie wholly inside or outside the zone say nothing of it, but of the spread.
  const zone = groups.flat().filter((i) => inZone(pins[i]));
  if (zone.length < leastPins) return null;
  const y = pins.map(({ meanMs }) => meanMs);
  const inside = pins.map((pin) => (inZone(pin) ? 1 : 0));
  const rested = pins.map((pin) => (pin.afterRest ? 1 : 0));
  const fit = (without: number | null) => {
    const kept = without === null ? groups : groups.map((own) => own.filter((i) => i !== without));
    const plain = slopesWithin(kept, y, [inside]);
    // Where rests and the zone are the same pins there is no telling which it is: then nothing is said.
    if (!rested.some((value, i) => value === 1 && groups.some((own) => own.includes(i)))) return plain;
    return slopesWithin(kept, y, [inside, rested]) ?? (sameThroughout(kept, rested) ? plain : null);
  };
  const all = fit(null);
  if (all === null) return null;
  // What pins share comes on top of what they scatter by; where they scatter too much anyway it need not be asked.
  const suspect = tries === 1 || probability(all, null) * tries < falseAlarm;
  const shared = suspect ? sharedError(study, pins, all) : null;
  const p = Math.min(1, probability(all, shared) * tries);
  // One ill-seated pin makes no edge. What is not sure anyway need not be looked at.
  const alone =
    p < falseAlarm &&
    zone.some((i) => {
      const rest = fit(i);
      return (
        rest === null ||
        Math.sign(rest.slopes[0]) !== Math.sign(all.slopes[0]) ||
        probability(rest, shared) > withoutOnePin
      );
    });
  return {
    ...tried,
    pins: zone.length,
    offMs: all.slopes[0],
    ci95Ms: halfWidthOf(all, shared),
    p: alone ? 1 : p,
  };
}

function sameThroughout(groups: readonly (readonly number[])[], values: readonly number[]): boolean {
  return groups.every((own) => own.every((i) => values[i] === values[own[0]]));
}

type Fit = NonNullable<ReturnType<typeof slopesWithin>>;
interface Variance {
  readonly variance: number;
  readonly degreesOfFreedom: number;
}

/** What the rotation and the reference's pins bring into the zone's slope: neighbouring pins share it. */
function sharedError(study: Study, pins: readonly PlacedPin[], { weights: [ofZone] }: Fit): Variance | null {
  const own = [...ofZone.keys()];
  const error = pinContrast(
    study,
    own.map((i) => pins[i]),
    own.map((i) => ofZone.get(i)!),
  );
  if (error === null) return null;
  const { rotation, referencePins } = error.varianceMs2;
  return { variance: rotation + referencePins, degreesOfFreedom: error.degreesOfFreedom };
}

function errorOf({ standardErrors, degreesOfFreedom }: Fit, shared: Variance | null) {
  const own = { variance: standardErrors[0] ** 2, degreesOfFreedom };
  return combine(shared === null ? [own] : [own, shared]);
}

function probability(fit: Fit, shared: Variance | null): number {
  const { standardError, degreesOfFreedom } = errorOf(fit, shared);
  return 2 * studentTCdf(-Math.abs(fit.slopes[0] / standardError), degreesOfFreedom);
}

function halfWidthOf(fit: Fit, shared: Variance | null): number {
  const { standardError, degreesOfFreedom } = errorOf(fit, shared);
  return ci95(standardError, degreesOfFreedom);
}
