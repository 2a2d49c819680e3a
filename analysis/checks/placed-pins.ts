/** Where in its sector each pin stands, and whether its striker rested before it. */
import { modulo } from '../numbers/modulo.ts';
import { grouped } from '../numbers/grouped.ts';
import { median } from '../numbers/statistics.ts';
import type { Machine } from '../machine/machine.ts';
import type { Study } from './check.ts';
import { groupKey, pinMeans, type PinMean } from './pin-means.ts';

/** A pin comes after a rest when its channel was still so many times longer than it usually is. */
const restRatio = 1.8;

export interface PlacedPin extends PinMean {
  /** Steps from the sector's first step, and to its last. */
  readonly fromFirst: number;
  readonly fromLast: number;
  readonly afterRest: boolean;
}

/** Pins on the barrel with where they stand in their sectors. Each channel's first stroke of the take is left out. */
export function placedPins(study: Study): PlacedPin[] {
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

/** Steps of each sector. */
export function sectorWidths({ description: { barrel } }: Machine): number[] {
  const { sectors, steps } = barrel;
  return sectors.map(({ from }, i) => {
    const next = sectors[(i + 1) % sectors.length].from;
    return sectors.length === 1 ? steps : modulo(next - from, steps);
  });
}

/** Each pin's mean less the middle of its channel's in its sector, ms. */
export function offCentre(pins: readonly PlacedPin[]): number[] {
  const middles = new Map(
    [...grouped(pins, groupKey)].map(([key, own]) => [key, median(own.map(({ meanMs }) => meanMs))]),
  );
  return pins.map((pin) => pin.meanMs - middles.get(groupKey(pin))!);
}
