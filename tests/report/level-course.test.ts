import { describe, expect, test } from 'vitest';
import { fadingFindings, levelCourses, levelWords } from '../../analysis/report/level-course.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Finding, Report } from '../../analysis/results/results.ts';
import { seededRandom } from '../../samples/random.ts';
import { exampleReport, group } from './example.ts';

const ids = ['block', 'gong', 'bell', 'drum'];
const machine: Machine = {
  description: machineSchema.parse({
    name: 'Mill Lane attic barrel',
    barrel: { steps: 96, stepsPerBeat: 4, diameterMm: 800, sectors: [{ id: 'A', from: 0 }] },
    reference: 'block',
    channels: ids.map((id) => ({ id })),
    adjusters: [
      {
        id: 'drop-gong',
        unit: 'mm',
        perUnit: { dropMm: 1, dropHeightMm: 100 },
        shifts: { channels: ['gong'] },
        installed: 0,
        min: -90,
        max: 200,
      },
    ],
  }),
  file: 'machine.jsonc',
  patternFile: 'pattern.csv',
  reference: 0,
  pins: ids.map((_, channel) => ({ step: 6 * channel, channel, line: null })),
};

interface Scene {
  /** Added to a channel's level in a take, dB. */
  readonly plusDb?: (channel: number, take: number) => number;
  readonly takes?: number;
  /** Index of each channel's track. */
  readonly track?: (channel: number) => number;
  readonly details?: (take: number) => Partial<Report>;
  readonly everyDays?: number;
}

/** Takes a month apart; the recorder is set anew each time. */
function reports({
  plusDb = () => 0,
  takes = 8,
  track = () => 0,
  details = () => ({}),
  everyDays = 30,
}: Scene) {
  const random = seededRandom(11);
  return Array.from({ length: takes }, (_, take): Report => {
    const recorder = random.between(-6, 6);
    const day = new Date(Date.UTC(2026, 0, 1 + everyDays * take)).toISOString().slice(0, 10);
    return {
      ...exampleReport(),
      take: `take-${take}`,
      recorded: day,
      findings: [],
      tracks: [0, 1, 2, 3].map((t) => ({ file: `${t}.wav`, track: 0, sampleRate: 48_000, noiseDb: -70 })),
      settings: { 'drop-gong': 0 },
      groups: ids.map((id, c) => ({
        ...group(id, null, 0),
        level: {
          track: track(c),
          count: 40,
          meanDb: -20 - c + recorder + plusDb(c, take) + 0.2 * random.normal(),
          ci95Db: 0.2,
          sdDb: 1,
        },
      })),
      ...details(take),
    };
  });
}

const fades = (scene: Scene) => fadingFindings(machine, reports(scene));
/** The gong loses half a dB a take. */
const gongFades = (channel: number, take: number) => (channel === 1 ? -0.5 * take : 0);

describe('a striker that fades', () => {
  test('is told with its size, whatever the recorder was set to', () => {
    const found = fades({ plusDb: gongFades });
    expect(found).toMatchObject([{ kind: 'fades', channel: 'gong' }]);
    const [, fall, ci] = /fades: ([\d.]+) ± ([\d.]+) dB/.exec(found[0].message)!;
    expect(Math.abs(Number(fall) - 3.5)).toBeLessThan(Number(ci));
    expect(found[0].message).toContain(
      'over 8 takes since 2026-01-01, against block, bell, drum on its track',
    );
  });

  test('is nobody where all channels of the track move alike, where little moves, or within some days', () => {
    expect(fades({ plusDb: (_, take) => -0.8 * take })).toEqual([]);
    expect(fades({})).toEqual([]);
    expect(fades({ plusDb: (channel, take) => 0.4 * gongFades(channel, take) })).toEqual([]);
    expect(fades({ plusDb: gongFades, everyDays: 1 })).toEqual([]);
  });

  test('is not one that changed at once: a microphone was moved, or a part', () => {
    expect(fades({ plusDb: (channel, take) => (channel === 1 && take >= 4 ? -4 : 0) })).toEqual([]);
  });

  test('cannot be told where fewer than two others are on its track, and the history says so', () => {
    const alone = { plusDb: gongFades, track: (channel: number) => channel };
    expect(fades(alone)).toEqual([]);
    expect(fades({ ...alone, track: (channel) => channel >> 1 })).toEqual([]);
    const [, gong] = levelCourses(machine, reports(alone));
    expect(levelWords(machine, gong)).toContain('cannot be compared');
    expect(gong.lines.every(({ againstOthersDb }) => againstOthersDb === null)).toBe(true);
  });

  test('cannot be told from takes whose recorder set its gain, or that are cut off', () => {
    for (const kind of ['recorder-gain', 'clipped'] as const) {
      const doubt: Finding = { kind, severity: 'note', message: '', file: '0.wav' };
      expect(fades({ plusDb: gongFades, details: () => ({ findings: [doubt] }) })).toEqual([]);
    }
  });

  test('is not one whose drop height was lowered, and counts anew from when it was worked on', () => {
    // 100 mm to 60 mm: 10·log10(0.6) = −2.2 dB.
    const lowered: Scene = {
      plusDb: (channel, take) => (channel === 1 ? 10 * Math.log10((100 - 6 * take) / 100) : 0),
      details: (take) => ({ settings: { 'drop-gong': -6 * take } }),
    };
    expect(fades({ ...lowered, details: () => ({}) })).toHaveLength(1);
    expect(fades(lowered)).toEqual([]);
    const mended = (take: number) => (take === 6 ? { worked: ['gong'] } : {});
    expect(fades({ plusDb: gongFades, details: mended })).toEqual([]);
  });
});
