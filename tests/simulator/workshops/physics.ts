/** What a machine does: how late each pin truly is as its parts stand, and the strikes of a take. */
import { course } from './drive.ts';
import type { Chance } from './random.ts';
import { secondsPerTurn, type TruePin, type World } from './world.ts';

/** A pin's lateness against where the pattern has it due, in ms, as two parts: what grows with the turn and what does not. */
function latenessOf(world: World, pin: TruePin): { angularMs: number; fixedMs: number } {
  const { shape, strikers, parts } = world;
  const striker = strikers[pin.striker];
  const at = pin.striker * shape.sectors + pin.trueSector;
  const stepMs = (1000 * secondsPerTurn(world, shape.bpm)) / world.steps;
  let angularMs = striker.angularMs + pin.ms + world.groupMs[at];
  let fixedMs = striker.fixedMs;
  if (striker.onBarrel) angularMs += world.sectorMs[pin.trueSector];
  for (const { stands, built, unitMs, factor, takes, angular } of parts) {
    const shift = (stands - built) * unitMs * factor * takes[at];
    if (angular) angularMs += shift;
    else fixedMs += shift;
  }
  angularMs += stepMs * (pin.trueStep - pin.writtenStep);
  return { angularMs, fixedMs };
}

/** The same at the tempo at which the machine runs now, ms. */
function latenessNow(world: World, pin: TruePin): number {
  const { angularMs, fixedMs } = latenessOf(world, pin);
  return (angularMs * world.shape.bpm) / world.bpm + fixedMs;
}

/** True mean lateness of a channel in a sector, as the builder's files draw both; NaN where no pin is. */
export interface TrueGroup {
  readonly striker: number;
  readonly sector: number;
  readonly ms: number;
  readonly toleranceMs: number;
}

/** Zero is the mean of the reference's pins. */
export function truthOf(world: World): TrueGroup[] {
  const all = world.pins.map((pin) => ({
    pin,
    ms: latenessNow(world, pin),
    sector: writtenSector(world, pin),
  }));
  const mean = (list: typeof all) => list.reduce((sum, { ms }) => sum + ms, 0) / list.length;
  const zero = mean(all.filter(({ pin }) => pin.striker === 0));
  return world.strikers.flatMap(({ toleranceMs }, striker) =>
    world.writtenFrom.flatMap((_, sector) => {
      const own = all.filter(({ pin, sector: s }) => pin.striker === striker && s === sector && !pin.astray);
      return striker === 0 || own.length === 0
        ? []
        : [{ striker, sector, ms: mean(own) - zero, toleranceMs }];
    }),
  );
}

export function writtenSector({ writtenFrom }: World, { writtenStep }: TruePin): number {
  const found = writtenFrom.findLastIndex((from) => from <= writtenStep);
  return found < 0 ? writtenFrom.length - 1 : found;
}

export interface Strike {
  readonly timeS: number;
  readonly striker: number;
}

/** Strikes of one take, ascending. It starts anywhere in the turn. */
export function play(world: World, random: Chance): Strike[] {
  const { strikers, pins, steps, turns } = world;
  const start = random.uniform();
  const turnS = secondsPerTurn(world);
  const timeAt = course(world.drive, turnS, turns + 1.2, random.apart('drive'));
  const strikes: Strike[] = [];
  for (const pin of pins) {
    const striker = strikers[pin.striker];
    const { angularMs, fixedMs } = latenessOf(world, pin);
    const angle = pin.writtenStep / steps + angularMs / 1000 / secondsPerTurn(world, world.shape.bpm);
    for (let turn = -1; turn <= turns + 2; turn++) {
      const turned = angle + turn - start;
      // A tenth of a turn before and after, so that what is late at the start is there.
      if (turned < 0.1 || turned > turns + 0.1) continue;
      if (random.uniform() < striker.misses) continue;
      const ms = fixedMs + striker.strokeMs * random.normal();
      strikes.push({ timeS: timeAt(turned) + ms / 1000, striker: pin.striker });
      if (random.uniform() < striker.extras)
        strikes.push({ timeS: timeAt(turned) + random.between(0.03, 0.8), striker: pin.striker });
    }
  }
  return strikes.sort((a, b) => a.timeS - b.timeS);
}
