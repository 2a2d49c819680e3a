/** Small machines and reports for tests of advice: only what advice reads is filled in. */
import { latenessChangeMs } from '../../analysis/machine/effects.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import type { Report } from '../../analysis/results/results.ts';

/** One pin a sector for every channel; the pin circle is such that 1 mm is 10 ms at the tests' 10 s a turn. */
export const SECONDS_PER_TURN = 10;
export const DIAMETER_MM = 1000 / Math.PI;

/** The reference, on a shaft of its own. */
export const block = { id: 'block', onBarrel: false };

/** An adjuster of which a unit is 1 ms on these machines. */
export const shim = (id: string, shifts: object, extra: object = {}) => ({
  id,
  unit: 'shim',
  perUnit: { mm: 0.1 },
  shifts,
  installed: 3,
  min: 0,
  max: 8,
  ...extra,
});

/** A drop height; 100 mm fall 142.8 ms, and a mm is 0.71 ms. */
export const drop = (id: string, shifts: object, extra: object = {}) => ({
  id,
  unit: 'mm',
  perUnit: { dropMm: 1, dropHeightMm: 100 },
  shifts,
  installed: 0,
  min: -60,
  max: 60,
  ...extra,
});

type Adjusters = readonly object[];

export function machineOf(
  channels: readonly { id: string; onBarrel?: boolean; toleranceMs?: number }[],
  sectors: readonly string[],
  adjusters: Adjusters,
  limits: readonly object[] = [],
): Machine {
  const description = machineSchema.parse({
    name: 'Small',
    barrel: {
      steps: sectors.length * 10,
      stepsPerBeat: 4,
      diameterMm: DIAMETER_MM,
      sectors: sectors.map((id, i) => ({ id, from: i * 10 })),
    },
    reference: channels[0].id,
    channels,
    adjusters,
    limits,
  });
  const pins = sectors.flatMap((_, s) =>
    channels.map((_, channel) => ({ step: s * 10, channel, line: null })),
  );
  return { description, file: 'machine.jsonc', patternFile: 'pattern.csv', pins, reference: 0 };
}

/** @param lateness channel id → mean by sector, null where unknown; the reference is at 0 */
export function reportOf(
  machine: Machine,
  lateness: Readonly<Record<string, readonly (number | null)[]>>,
  ci95Ms: number | Readonly<Record<string, number>> = 0.2,
  settings: Readonly<Record<string, number>> = {},
): Report {
  const { channels, barrel, adjusters } = machine.description;
  const groups = channels.flatMap(({ id }) =>
    barrel.sectors.map((sector, s) => {
      const meanMs = id in lateness ? lateness[id][s] : 0;
      return {
        channel: id,
        sector: sector.id,
        count: meanMs === null ? 2 : 10,
        meanMs,
        medianMs: meanMs,
        sdMs: meanMs === null ? null : 0.3,
        ci95Ms: meanMs === null ? null : typeof ci95Ms === 'number' ? ci95Ms : (ci95Ms[id] ?? 0.2),
        pinSdMs: null,
        repeatabilityMs: meanMs === null ? null : 0.3,
      };
    }),
  );
  return {
    schema: 1,
    machine: machine.description.name,
    take: 'take',
    tempo: { bpm: 120, bpmCi95: 0.01, secondsPerTurn: SECONDS_PER_TURN },
    recorded: null,
    settings: Object.fromEntries(adjusters.map(({ id, installed }) => [id, settings[id] ?? installed])),
    tracks: [],
    hits: [],
    groups,
    pins: [],
    findings: [],
    advice: {
      settings: [],
      predicted: [],
      summary: '',
      worstBeforeMs: null,
      worstAfterMs: null,
      proven: true,
    },
  };
}

/** Every allowed combination of settings, by adjuster index: from min to max, limits kept, staying always allowed. */
export function* allSettings(machine: Machine): Generator<number[]> {
  const { adjusters, limits } = machine.description;
  function* from(a: number): Generator<number[]> {
    if (a === adjusters.length) {
      yield [];
      return;
    }
    const { min, max, installed } = adjusters[a];
    const own = new Set([installed]);
    for (let setting = min; setting <= max; setting++) own.add(setting);
    for (const setting of own) for (const rest of from(a + 1)) yield [setting, ...rest];
  }
  for (const settings of from(0)) {
    const kept = limits.every(({ adjusters: ids, sumMin = -Infinity, sumMax = Infinity }) => {
      const sum = ids.reduce((total, id) => total + settings[adjusters.findIndex((a) => a.id === id)], 0);
      return sum >= sumMin && sum <= sumMax;
    });
    if (kept) yield settings;
  }
}

/** Lateness of every channel × sector with these settings, at channel · sectors + sector; from the physics alone. */
export function latenessWith(machine: Machine, report: Report, settings: readonly number[]): number[] {
  const { adjusters, channels, barrel } = machine.description;
  const lateness = channels.flatMap(({ id }) =>
    barrel.sectors.map((sector) => {
      const group = report.groups.find((g) => g.channel === id && g.sector === sector.id);
      return group?.meanMs ?? NaN;
    }),
  );
  adjusters.forEach((adjuster, a) => {
    latenessChangeMs(
      machine,
      adjuster,
      report.settings[adjuster.id],
      settings[a],
      report.tempo.secondsPerTurn!,
    ).forEach((change, g) => (lateness[g] += change));
  });
  return lateness;
}
