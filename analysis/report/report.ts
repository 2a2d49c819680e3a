/**
 * report/: what an analysis says, as a value (this file), as a picture (plot.ts), as Markdown (markdown.ts), as a
 * table in a terminal (table.ts), as entries in the changelog (changelog.ts), and beside another (compare.ts).
 */
import { NORMAL_95 } from '../numbers/normal.ts';
import { sectorOf } from '../machine/effects.ts';
import type { Study } from '../checks/check.ts';
import { droppedRows } from './dropped.ts';
import type { Machine } from '../machine/machine.ts';
import type { FileClock } from '../take/clock.ts';
import {
  type Advice,
  type Finding,
  type HitRow,
  hitSchema,
  type Report,
  reportSchema,
  staysWithin,
} from '../results/results.ts';

export { parseReport } from './parse.ts';

/** Where there is nothing to go on yet: advice that proposes nothing. */
export const noAdvice: Advice = {
  settings: [],
  predicted: [],
  summary: 'No advice was worked out.',
  worstBeforeMs: null,
  worstAfterMs: null,
  proven: false,
};

/**
 * The report of one take.
 *
 * @param study    everything known of the take
 * @param findings what the checks noticed
 * @param advice   proposed settings; where it is worked out later, `noAdvice`
 */
export function buildReport(study: Study, findings: readonly Finding[], advice: Advice = noAdvice): Report {
  const { machine, take, hearing, groups, pins } = study;
  const { name, barrel, channels, adjusters } = machine.description;
  const rest: Omit<Report, 'hits'> = {
    schema: 1,
    machine: name,
    take: take.name,
    channels: channels.map((channel, i) => ({
      id: channel.id,
      ...(channel.name === undefined ? {} : { name: channel.name }),
      toleranceMs: channel.toleranceMs,
      reference: i === machine.reference,
      onBarrel: channel.onBarrel,
    })),
    barrel: {
      steps: barrel.steps,
      stepsPerBeat: barrel.stepsPerBeat,
      sectors: barrel.sectors.map(({ id, from }) => ({ id, from })),
    },
    ...(machine.tune === undefined ? {} : { tune: machine.tune }),
    tempo: tempoOf(study),
    recorded: take.recorded,
    settings: Object.fromEntries(
      adjusters.flatMap(({ id }) => (Object.hasOwn(take.settings, id) ? [[id, take.settings[id]]] : [])),
    ),
    ...(take.description.setpoint === undefined ? {} : { setpoint: take.description.setpoint }),
    ...(take.description.worked === undefined ? {} : { worked: take.description.worked }),
    tracks: take.tracks.map(({ file, track, sampleRate }, i) => ({
      file,
      track,
      sampleRate,
      noiseDb: hearing.tracks[i]?.noiseDb ?? null,
    })),
    ...(take.markerFiles ? { markerFiles: [...take.markerFiles] } : {}),
    ...(hearing.dropped === undefined
      ? {}
      : {
          dropped: droppedRows(
            hearing.dropped,
            machine,
            study.strokes.missing.map(({ dueS }) => dueS),
          ),
        }),
    ...(take.clocks === undefined ? {} : { files: take.clocks.map(fileRow) }),
    groups: [...groups],
    pins: [...pins],
    findings: [...findings],
    advice,
  };
  return { ...rounded(rest), hits: hitRows(study) };
}

function fileRow({ file, startS, startSdS, drift, driftSd, how }: FileClock) {
  return {
    file,
    startS,
    startCi95Ms: 1000 * NORMAL_95 * startSdS,
    clockPpm: 1e6 * drift,
    clockCi95Ppm: 1e6 * NORMAL_95 * driftSd,
    how,
  };
}

/** Tempo in beats a minute from the rotation; its interval has the same relative width as the rotation's. */
function tempoOf({ machine, strokes }: Study): Report['tempo'] {
  const { found, secondsPerTurn, secondsPerTurnCi95 } = strokes.rotation;
  if (!found) return { bpm: null, bpmCi95: null, secondsPerTurn: null };
  const { steps, stepsPerBeat } = machine.description.barrel;
  const bpm = (60 * steps) / stepsPerBeat / secondsPerTurn;
  return { bpm, bpmCi95: (bpm * secondsPerTurnCi95) / secondsPerTurn, secondsPerTurn };
}

function hitRows({ machine, strokes }: Study): HitRow[] {
  const { hits } = strokes;
  const { channels } = machine.description;
  const rows = Array.from({ length: hits.count }, (_, i): HitRow => {
    const channel = hits.channel[i] < 0 ? null : channels[hits.channel[i]].id;
    const placed = strokes.step[i] >= 0;
    const why = strokes.why[i] ?? hits.why[i] ?? (placed && channel !== null ? null : 'no pin here');
    return rounded<HitRow>({
      timeS: (hits.heardS ?? hits.timeS)[i],
      track: hits.track[i] < 0 ? null : hits.track[i],
      channel,
      turn: placed ? strokes.turn[i] : null,
      step: placed ? strokes.step[i] : null,
      sector: placed ? sectorOfStep(machine, strokes.step[i]) : null,
      latenessMs: strokes.latenessMs[i],
      timeSdS: hits.timeSdS[i],
      levelDb: hits.levelDb[i],
      ...(why === null ? { state: 'used' as const } : { state: 'set-aside' as const, why }),
    });
  });
  return hits.heardS ? rows.sort((a, b) => a.timeS - b.timeS) : rows;
}

/** Id of the sector that carries a step. */
function sectorOfStep({ description }: Machine, step: number): string {
  return description.barrel.sectors[sectorOf(description, step)].id;
}

/**
 * Digits kept after the point, by the unit at the end of a key. Each is a tenth or less of what any recording can
 * resolve: a nanosecond of time, a tenth of a microsecond of lateness, a millionth of a beat a minute.
 */
const digits: readonly (readonly [RegExp, number])[] = [
  [/Ms$|^msPerUnit$/, 4],
  [/S$/, 9],
  [/^bpm|^secondsPerTurn/, 6],
  [/Db$/, 2],
];
const digitsOfKey = new Map<string, number | null>();

/** A number as reports carry it: rounded by its key's unit, null where it is not finite. */
function figure(key: string, value: number): number | null {
  if (!Number.isFinite(value)) return null;
  let kept = digitsOfKey.get(key);
  if (kept === undefined) digitsOfKey.set(key, (kept = digits.find(([unit]) => unit.test(key))?.[1] ?? null));
  if (kept === null) return value;
  const scale = 10 ** kept;
  return Math.round(value * scale) / scale + 0; // + 0: no negative zero
}

/** The same value with every number as reports carry it. */
function rounded<T>(value: T, key = ''): T {
  if (typeof value === 'number') return figure(key, value) as T;
  if (Array.isArray(value)) return value.map((item) => rounded<unknown>(item, key)) as T;
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([k, item]) => [k, rounded<unknown>(item, k)])) as T;
}

const hitKeys = Object.keys(hitSchema.shape);

/**
 * The text of report.json: keys in the schema's order, one row (hit, group, pin, finding …) a line, so that a line of
 * a git diff is a thing that changed. The same report gives the same bytes.
 */
export function stringifyReport({ hits, ...rest }: Report): string {
  // Of the many hits no second copy is made: they were rounded as they were built.
  const ordered = {
    ...reportSchema.parse(rounded({ ...rest, findings: rest.findings.map(within), hits: [] })),
    hits,
  };
  const parts = Object.entries(ordered)
    .filter(([, value]) => value !== undefined)
    .map(
      ([key, value]) => `  ${JSON.stringify(key)}: ${lines(value, '  ', value === hits ? hitKeys : null)}`,
    );
  return `{\n${parts.join(',\n')}\n}\n`;
}

/** A file may have a name that elsewhere would be a path; its finding then stands without it. */
function within({ file, ...finding }: Finding): Finding {
  return file === undefined || !staysWithin(file) ? finding : { ...finding, file };
}

/** @param keys a row's, in their order; null: all of them as they are */
function lines(value: unknown, indent: string, keys: string[] | null = null): string {
  const inner = `${indent}  `;
  if (Array.isArray(value) && value.length > 0) {
    return `[\n${value.map((row) => inner + JSON.stringify(row, keys)).join(',\n')}\n${indent}]`;
  }
  if (typeof value !== 'object' || value === null || !Object.values(value).some(Array.isArray)) {
    return JSON.stringify(value);
  }
  const parts = Object.entries(value).map(
    ([key, item]) => `${inner}${JSON.stringify(key)}: ${lines(item, inner)}`,
  );
  return `{\n${parts.join(',\n')}\n${indent}}`;
}
