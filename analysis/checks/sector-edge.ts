/**
 * Sector edges: are the first or the last pins of sectors late or early against the rest of their sector? A joint that
 * stands proud, or a lever that drops across the gap, does that; a shim under the whole sector does not mend it.
 */
import { finding } from '../results/catalogue.ts';
import { grouped } from '../numbers/grouped.ts';
import { sectorOf } from '../machine/effects.ts';
import { modulo } from '../numbers/modulo.ts';
import { ci95, combine, studentTCdf } from '../numbers/inference.ts';
import { slopesWithin } from '../numbers/regression.ts';
import { median } from '../numbers/statistics.ts';
import type { Machine } from '../machine/machine.ts';
import type { SectionPlot } from '../results/results.ts';
import type { Check, Study } from './check.ts';
import { counted, signedMs } from '../words/names.ts';
import { awayFromEdges, type Zone } from './pattern-shift.ts';
import { pinContrast, pinMeans, groupKey, type PinMean } from './pin-means.ts';
import { thinned } from './plot-points.ts';

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
/** A pin comes after a rest when its channel was still so many times longer than it usually is. */
const restRatio = 1.8;

export interface Edge extends Zone {
  readonly pins: number;
  readonly offMs: number;
  readonly ci95Ms: number;
  /** Corrected for every zone tried. */
  readonly p: number;
}

interface Placed extends PinMean {
  /** Steps from the sector's first step, and to its last. */
  readonly fromFirst: number;
  readonly fromLast: number;
  readonly afterRest: boolean;
}

export const sectorEdge: Check = {
  id: 'sector-edge',
  looksFor: 'First or last pins of sectors that are late or early against the rest of their sector.',
  run: (study) =>
    sectorEdges(study).map((edge) => {
      const { sectors } = study.machine.description.barrel;
      const where = edge.sector === null ? 'every sector' : `sector ${sectors[edge.sector].id}`;
      const which = edge.steps === 1 ? `${edge.side} step` : `${edge.side} ${edge.steps} steps`;
      const message = `pins on the ${which} of ${where} strike ${signedMs(edge.offMs)} ± ${edge.ci95Ms.toFixed(2)} ms against the rest of the sector (${counted(edge.pins, 'pin')}): ${todo(study.machine, edge)}`;
      return finding('sector-edge', message, edge.sector === null ? {} : { sector: sectors[edge.sector].id });
    }),
  section: (study) => {
    const pins = placed(study);
    if (pins.length === 0) return null;
    const { sectors } = study.machine.description.barrel;
    const edges = sectorEdges(study);
    const found =
      edges.length === 0
        ? 'No edge shows in this take.'
        : `Off at the edge: ${edges.map(({ side, sector, steps }) => `the ${side} ${counted(steps, 'step')} of ${sector === null ? 'every sector' : `sector ${sectors[sector].id}`}`).join(', ')}.`;
    return {
      id: 'sector-edge',
      title: 'Edges of sectors',
      sentences: [
        'Every pin against the rest of its channel’s pins in its sector, by how many steps it stands in from the sector’s first step (positive) or last (negative). The first stroke of a take and pins after a rest are told apart from an edge.',
        found,
      ],
      plot: edgePlot(pins, edges),
    };
  },
};

/** Every pin by its place in its sector, and the middle of the pins of one place. */
function edgePlot(pins: readonly Placed[], edges: readonly Edge[]): SectionPlot {
  const off = offCentre(pins);
  const points = pins.map(({ fromFirst, fromLast }, i): [number, number] => [
    fromFirst <= fromLast ? fromFirst + 1 : -fromLast - 1,
    off[i],
  ]);
  const middles = [...grouped(points, ([place]) => place)]
    .map(([place, own]): [number, number] => [place, median(own.map(([, ms]) => ms))])
    .sort(([a], [b]) => a - b);
  const middle = { name: 'middle of the pins of one place', line: true };
  return {
    xLabel: 'steps in from the nearer edge: − from the last, + from the first',
    yLabel: 'ms against the rest of the sector',
    rules: [
      { axis: 'y', at: 0, name: '' },
      { axis: 'x', at: 0, name: 'joint' },
      ...edges.map(({ side, steps }) => ({
        axis: 'x' as const,
        at: side === 'first' ? steps + 0.5 : -steps - 0.5,
        name: 'reaches to here',
      })),
    ],
    series: [
      { name: 'pins', points: thinned(points) },
      { ...middle, points: thinned(middles.filter(([place]) => place < 0)) },
      { ...middle, points: thinned(middles.filter(([place]) => place > 0)) },
    ],
  };
}

function todo(machine: Machine, edge: Edge): string {
  const shift = awayFromEdges(machine, edge);
  if (shift === null || shift.steps === 0)
    return 'check the joint; no other place of the pattern has fewer pins there';
  const { steps, before, after } = shift;
  const way = steps > 0 ? 'later' : 'earlier';
  return `check the joint, or move the whole pattern ${counted(Math.abs(steps), 'step')} ${way} on the barrel, which leaves ${after} of ${before} pins there`;
}

/** Edges that are surely off: all sectors alike where that explains it, else single ones; at most one for each side of a sector. */
export function sectorEdges(study: Study): Edge[] {
  const pins = placed(study);
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
  const pins = placed(study);
  const groups = [...grouped(pins.keys(), (i) => groupKey(pins[i])).values()].filter((own) => own.length > 1);
  return judged(study, pins, groups, zone, 1)?.ci95Ms ?? null;
}

/** null where the zone cannot be judged, or where one pin alone, or pins after a rest, would explain it. */
function judged(
  study: Study,
  pins: readonly Placed[],
  groups: readonly (readonly number[])[],
  tried: Zone,
  tries: number,
): Edge | null {
  const inZone = (pin: Placed) =>
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
function sharedError(study: Study, pins: readonly Placed[], { weights: [ofZone] }: Fit): Variance | null {
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

/** Pins on the barrel with where they stand in their sectors. Each channel's first stroke of the take is left out. */
function placed(study: Study): Placed[] {
  const { machine, strokes } = study;
  const { channels, barrel } = machine.description;
  const first = channels.map(() => -1);
  for (let i = 0; i < strokes.hits.count; i++) {
    const channel = strokes.hits.channel[i];
    if (channel >= 0 && strokes.step[i] >= 0 && first[channel] < 0) first[channel] = i;
  }
  const widths = sectorWidths(machine);
  const rests = pinsAfterRests(machine);
  return pinMeans(study, (i) => first[strokes.hits.channel[i]] !== i)
    .filter(({ channel }) => channels[channel].onBarrel)
    .map((pin) => {
      const fromFirst = modulo(pin.step - barrel.sectors[pin.sector].from, barrel.steps);
      const fromLast = widths[pin.sector] - 1 - fromFirst;
      return { ...pin, fromFirst, fromLast, afterRest: rests.has(`${pin.channel} ${pin.step}`) };
    });
}

function pinsAfterRests({ pins, description }: Machine): Set<string> {
  const after = new Set<string>();
  for (const [channel, own] of grouped(pins, (pin) => pin.channel)) {
    if (own.length < 3) continue;
    const gaps = own.map(({ step }, i) =>
      modulo(step - own[(i + own.length - 1) % own.length].step, description.barrel.steps),
    );
    const usual = median(gaps);
    own.forEach(({ step }, i) => {
      if (gaps[i] > restRatio * usual) after.add(`${channel} ${step}`);
    });
  }
  return after;
}

export function sectorWidths({ description: { barrel } }: Machine): number[] {
  const { sectors, steps } = barrel;
  return sectors.map(({ from }, i) => {
    const next = sectors[(i + 1) % sectors.length].from;
    return sectors.length === 1 ? steps : modulo(next - from, steps);
  });
}

function offCentre(pins: readonly Placed[]): number[] {
  const middles = new Map(
    [...grouped(pins, groupKey)].map(([key, own]) => [key, median(own.map(({ meanMs }) => meanMs))]),
  );
  return pins.map((pin) => pin.meanMs - middles.get(groupKey(pin))!);
}
