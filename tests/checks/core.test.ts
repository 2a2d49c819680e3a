/** The core checks, each on the smallest study that raises it, and on one that does not. */
import { describe, expect, test } from 'vitest';
import type { Study } from '../../analysis/checks/check.ts';
import { checks, runChecks } from '../../analysis/checks/index.ts';
import { findingKinds } from '../../analysis/results/catalogue.ts';
import type { Hits, TrackHearing } from '../../analysis/hits/hits.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import { summarisePins } from '../../analysis/strokes/pins.ts';
import type { Take, Track } from '../../analysis/take/take.ts';
import { machineOf } from '../machine/machine.ts';
import { hitsOf, takeOf } from '../strokes/laid.ts';

/** Eight steps of half a second; the block on every even step, a bell and a drum between. */
const machine = machineOf(
  {
    name: 'Eight',
    barrel: {
      steps: 8,
      stepsPerBeat: 1,
      diameterMm: 100,
      sectors: [
        { id: 'A', from: 0 },
        { id: 'B', from: 4 },
      ],
    },
    reference: 'block',
    channels: [{ id: 'block', onBarrel: false }, { id: 'bell', name: 'Hand bell' }, { id: 'drum' }],
    adjusters: [
      {
        id: 'joint',
        unit: 'shim',
        perUnit: { mm: 0.1 },
        shifts: { sectors: ['B'] },
        installed: 2,
        min: 0,
        max: 4,
      },
      {
        id: 'lever',
        unit: 'shim',
        perUnit: { mm: 0.1 },
        shifts: { channels: ['bell'] },
        installed: 2,
        min: 0,
        max: 4,
      },
    ],
    limits: [{ adjusters: ['joint', 'lever'], sumMax: 5, why: 'the screw is short' }],
  },
  [
    [0, 0],
    [0, 2],
    [1, 1],
    [2, 0],
    [3, 2],
    [4, 0],
    [4, 2],
    [6, 0],
    [7, 1],
  ],
);

interface Blow {
  readonly timeS: number;
  readonly channel: number;
  readonly step: number;
  readonly turn: number;
}
const played: readonly Blow[] = Array.from({ length: 4 }, (_, turn) =>
  machine.pins.map(({ step, channel }) => ({ channel, step, turn, timeS: (turn * 8 + step) * 0.5 })),
).flat();

function studyOf(
  blows: readonly Pick<Blow, 'timeS' | 'channel'>[],
  also: { take?: Partial<Take>; hits?: Partial<Hits>; tracks?: readonly TrackHearing[] } = {},
): Study {
  const sorted = [...blows].sort((a, b) => a.timeS - b.timeS);
  const hearing = {
    hits: { ...hitsOf(sorted), track: new Int32Array(sorted.length).fill(-1), ...also.hits },
    tracks: also.tracks ?? [],
  };
  const take: Take = { ...takeOf({ tempo: 120 }), settings: { joint: 2, lever: 2 }, ...also.take };
  const strokes = layOnBarrel(hearing, machine, take);
  return {
    machine,
    take,
    hearing,
    strokes,
    groups: summariseGroups(strokes, machine),
    pins: summarisePins(strokes, machine),
  };
}

function raised(study: Study, kind: string) {
  return runChecks(study).filter((finding) => finding.kind === kind);
}

function track(file: string, assigned = true): Track {
  return {
    file,
    track: 0,
    sampleRate: 48_000,
    length: 48_000,
    channels: [1],
    assigned,
    read: () => Promise.resolve(new Float32Array(0)),
  };
}
const quiet: TrackHearing = { noiseDb: -70, clippedSamples: 0, badSamples: 0 };

test('a sound take raises nothing', () => {
  expect(runChecks(studyOf(played))).toEqual([]);
});

test('ids are stable names, and no two alike', () => {
  const ids = checks.map(({ id }) => id);
  expect(new Set(ids).size).toBe(ids.length);
  for (const id of ids) expect(id).toMatch(/^[a-z]+(-[a-z]+)*$/);
});

test('checks that others registered run last', () => {
  const extra = {
    id: 'own',
    looksFor: 'Nothing.',
    run: () => [{ kind: findingKinds[0], severity: 'note' as const, message: 'own' }],
  };
  expect(runChecks(studyOf(played), [extra]).at(-1)?.message).toBe('own');
});

describe('pins and hits', () => {
  test('misplaced-pin: one finding a pin, the pattern’s step and where it is heard', () => {
    const moved = played.map((b) => (b.step === 1 ? { ...b, timeS: b.timeS + 0.5 } : b));
    expect(raised(studyOf(moved), 'misplaced-pin')).toMatchObject([
      { channel: 'bell', step: 1, foundStep: 2 },
    ]);
    expect(raised(studyOf(moved), 'missing-hit')).toEqual([]);
  });
  test('missing-hit: one finding a pin however often it missed', () => {
    const gone = played.filter((b) => !(b.step === 3 && (b.turn === 1 || b.turn === 2)));
    const found = raised(studyOf(gone), 'missing-hit');
    expect(found).toMatchObject([{ channel: 'drum', step: 3, turn: 1 }]);
    expect(found[0].message).toContain('2 strokes of drum at step 3 not heard');
  });
  test('extra-hit: one finding a channel, by its name', () => {
    const more = [...played, { channel: 1, timeS: 2.75 }, { channel: 1, timeS: 9.25 }];
    const found = raised(studyOf(more), 'extra-hit');
    expect(found).toMatchObject([{ channel: 'bell' }]);
    expect(found[0].message).toContain('2 hits of Hand bell (bell)');
  });
  test('too-few-hits: a group of two; a channel never heard is said once', () => {
    const two = studyOf(played.filter((b) => b.turn < 2));
    expect(raised(two, 'too-few-hits').map(({ channel, sector }) => [channel, sector])).toEqual([
      ['bell', 'A'],
      ['bell', 'B'],
      ['drum', 'B'],
    ]);
    const none = studyOf(played.filter((b) => b.channel !== 2));
    expect(raised(none, 'too-few-hits').map(({ channel, sector }) => [channel, sector])).toEqual([
      ['drum', undefined],
    ]);
    expect(raised(none, 'too-few-hits')[0].message).toBe('only 0 strokes of drum: too few for a mean');
  });
  test('a striker without a pin in this tune is neither thin nor silent', () => {
    const study = studyOf(played.filter((b) => b.channel !== 2));
    const tune = { ...machine, pins: machine.pins.filter(({ channel }) => channel !== 2) };
    expect(raised(study, 'too-few-hits')).toHaveLength(1);
    expect(raised({ ...study, machine: tune }, 'too-few-hits')).toEqual([]);
    const track = { file: 't0.wav', track: 0, assigned: true, channels: [2] } as unknown as Track;
    const quiet = { noiseDb: -70, soundsStarted: 0, clippedSamples: 0, badSamples: 0 } as TrackHearing;
    const recorded = {
      ...study,
      take: { ...study.take, tracks: [track] },
      hearing: { ...study.hearing, tracks: [quiet] },
    };
    expect(raised(recorded, 'silent-track')).toHaveLength(1);
    expect(raised({ ...recorded, machine: tune }, 'silent-track')).toEqual([]);
  });
  test('unknown-sound: hits of nobody’s', () => {
    const more = [...played, { channel: -1, timeS: 2.75 }];
    expect(raised(studyOf(more), 'unknown-sound')[0].message).toContain('1 hit on the markers');
  });
  test('unrepeatable: two spreads beyond tolerance', () => {
    const many = Array.from({ length: 3 }, (_, k) =>
      played.map((b) => ({ ...b, turn: b.turn + 4 * k, timeS: b.timeS + 16 * k })),
    ).flat();
    const loose = many.map((b) =>
      b.channel === 1 ? { ...b, timeS: b.timeS + (b.turn % 2 ? 0.003 : -0.003) } : b,
    );
    expect(raised(studyOf(many), 'unrepeatable')).toEqual([]);
    expect(raised(studyOf(loose), 'unrepeatable')).toMatchObject([{ channel: 'bell' }]);
  });
});

describe('rotation', () => {
  test('no-rotation: hits that fit nowhere; none where nothing was heard', () => {
    const noise = [0.13, 1.02, 1.31, 3.33, 5.78].map((timeS) => ({ timeS, channel: 1 }));
    expect(raised(studyOf(noise), 'no-rotation')).toHaveLength(1);
    expect(raised(studyOf([]), 'no-rotation')).toEqual([]);
  });
  test('ambiguous-rotation: only the block, which strikes alike from every even step', () => {
    const block = played.filter((b) => b.channel === 0);
    expect(raised(studyOf(block), 'ambiguous-rotation')).toHaveLength(1);
    expect(
      raised(studyOf(block, { take: { description: { tempo: 120, startStep: 2 } } }), 'ambiguous-rotation'),
    ).toEqual([]);
  });
  test('unidentifiable-sectors: an interval wider than tolerance', () => {
    const study = studyOf(played);
    const sectors = (ci95Ms: number): Study => ({
      ...study,
      strokes: {
        ...study.strokes,
        rotation: { ...study.strokes.rotation, referenceSectors: [{ sector: 0, stepMs: 1, ci95Ms }] },
      },
    });
    expect(raised(sectors(1.9), 'unidentifiable-sectors')).toEqual([]);
    expect(raised(sectors(2.1), 'unidentifiable-sectors')).toMatchObject([{ channel: 'block' }]);
    expect(raised(sectors(NaN), 'unidentifiable-sectors')).toHaveLength(1);
  });
});

describe('recording and settings', () => {
  const onTrack = (tracks: readonly TrackHearing[], level = -12) =>
    studyOf(played, {
      take: { tracks: tracks.map((_, i) => track(`t${i}.wav`)) },
      hits: { track: new Int32Array(played.length), levelDb: new Float32Array(played.length).fill(level) },
      tracks,
    });

  test('clipped and bad samples, by file', () => {
    const study = onTrack([{ ...quiet, clippedSamples: 12, badSamples: 1 }]);
    expect(raised(study, 'clipped')).toMatchObject([{ file: 't0.wav', place: 'track 0' }]);
    expect(raised(study, 'bad-samples')[0].message).toBe('1 sample of t0.wav track 0 is not a number');
    expect(raised(onTrack([quiet]), 'clipped')).toEqual([]);
  });
  test('noisy: strikes less than 20 dB above the background, channel by channel', () => {
    expect(raised(onTrack([quiet], -51), 'noisy').map(({ channel }) => channel)).toEqual([
      'block',
      'bell',
      'drum',
    ]);
    expect(raised(onTrack([quiet], -49), 'noisy')).toEqual([]);
  });
  test('silent-track: one on which a channel was expected', () => {
    expect(raised(onTrack([quiet, quiet]), 'silent-track')).toMatchObject([{ file: 't1.wav' }]);
  });
  describe('tracks of a take without any hit', () => {
    const silent = (assigned: boolean, ...tracks: readonly TrackHearing[]) =>
      runChecks(
        studyOf([], { take: { tracks: tracks.map((_, i) => track(`t${i}.wav`, assigned)) }, tracks }),
      ).flatMap(({ kind, message }) => (kind === 'too-few-hits' ? [] : [[kind, message]]));
    test('silence under dither is told, on each track, though nothing says what was expected there', () => {
      expect(silent(false, quiet, { ...quiet, soundsStarted: 0 })).toEqual([
        ['silent-track', 'no strike heard on t0.wav track 0'],
        ['silent-track', 'no strike heard on t1.wav track 0'],
      ]);
    });
    test('what was heard and is nobody’s is not called silence', () => {
      expect(silent(false, { ...quiet, soundsStarted: 1 })).toEqual([
        ['unknown-sound', '1 sound heard on t0.wav track 0 could be given to no channel'],
      ]);
      expect(silent(true, { ...quiet, soundsStarted: 3 })).toEqual([
        [
          'silent-track',
          'no strike of bell heard: 3 sounds heard on t0.wav track 0 could be given to no channel',
        ],
      ]);
    });
    test('nor is a sound that is asked about already', () => {
      const study = onTrack([quiet, { ...quiet, soundsStarted: 9 }]);
      const unknown = [{ track: 1, timeS: 1, count: 9, pitchHz: null }];
      const asked = { ...study, hearing: { ...study.hearing, unknown } };
      expect(raised(study, 'silent-track')).toHaveLength(1);
      expect(raised(asked, 'silent-track')).toEqual([]);
    });
  });
  test('what a reader noticed is told in its own words', () => {
    const notice = {
      kind: 'unused-file',
      file: 'a.txt',
      place: '',
      message: 'a.txt is no marker file',
    } as const;
    expect(runChecks(studyOf(played, { take: { notices: [notice] } }))).toMatchObject([
      { kind: 'unused-file', message: notice.message, severity: 'note' },
    ]);
  });
  test('out-of-range: a setting beyond its range, and a sum beyond its limit with its reason', () => {
    const study = studyOf(played, { take: { settings: { joint: 5, lever: 2 } } });
    const found = raised(study, 'out-of-range');
    expect(found.map(({ adjuster }) => adjuster)).toEqual(['joint', 'joint']);
    expect(found[1].message).toBe('joint + lever stood at 7 together, more than 5 (the screw is short)');
  });
});
