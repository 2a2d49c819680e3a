/** The files that a builder has: machine.jsonc and pattern.csv as written, and a take's markers as a recorder exports them. */
import type { Strike } from './physics.ts';
import type { World } from './world.ts';

export function machineText(world: World): string {
  const { strikers, writtenFrom, parts, limits } = world;
  return JSON.stringify({
    name: 'Workshop',
    barrel: {
      steps: world.steps,
      stepsPerBeat: 4,
      diameterMm: world.diameterMm,
      sectors: writtenFrom.map((from, s) => ({ id: String.fromCharCode(65 + s), from })),
    },
    reference: 'block',
    channels: strikers.map(({ id, onBarrel, toleranceMs }) => ({ id, onBarrel, toleranceMs })),
    adjusters: parts.map(({ id, unit, perUnit, shifts, alsoShifts, written, min, max }) => ({
      id,
      unit,
      perUnit,
      shifts,
      ...(alsoShifts === undefined ? {} : { alsoShifts }),
      installed: written,
      min,
      max,
    })),
    limits,
  });
}

export function patternText({ pins, strikers }: World): string {
  return `step,channel\n${pins.map(({ writtenStep, striker }) => `${writtenStep},${strikers[striker].id}`).join('\n')}\n`;
}

export interface Recorder {
  /** Times are rounded to this, s; 0: as exactly as they are written, a microsecond. */
  readonly roundsToS: number;
  /** What the recorder writes for a striker; null: it does not hear it. */
  readonly label: (id: string) => string | null;
  readonly dated: boolean;
}

export const usualRecorder: Recorder = { roundsToS: 0, label: (id) => id, dated: true };

export function markerText(strikes: readonly Strike[], world: World, { roundsToS, label }: Recorder): string {
  const rows = strikes.flatMap(({ timeS, striker }) => {
    const name = label(world.strikers[striker].id);
    const time = roundsToS === 0 ? timeS : Math.round(timeS / roundsToS) * roundsToS;
    return name === null ? [] : [`${time.toFixed(6)},${name}`];
  });
  return `time,label\n${rows.join('\n')}\n`;
}

/** A day between takes; the tempo aimed at as people write it. */
export function takeText(world: World, number: number, { dated }: Recorder): string {
  const day = String(1 + number).padStart(2, '0');
  return JSON.stringify({ ...(dated ? { recorded: `2026-03-${day}T10:00` } : {}), tempo: world.bpm });
}
