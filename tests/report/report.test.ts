import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Study } from '../../analysis/checks/check.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { buildReport, noAdvice, parseReport, stringifyReport } from '../../analysis/report/report.ts';
import { exampleReport, group } from './example.ts';

/** Five hits on a barrel of 8 steps whose first sector starts at step 2: one on each of three pins, one odd, one unknown. */
function study(): Study {
  const hits = {
    count: 5,
    timeS: Float64Array.of(0.1234567891234, 0.5, 1, 1.5, 2),
    timeSdS: Float64Array.of(4e-6, 4e-6, NaN, 1e-3, 1e-3),
    track: Int32Array.of(0, 0, 0, -1, 0),
    channel: Int32Array.of(0, 1, 1, 1, -1),
    levelDb: Float32Array.of(-6, -6, -6, NaN, -20),
    why: [null, null, 'masked', null, null],
  };
  const strokes = {
    hits,
    turn: Int32Array.of(0, 0, 0, 1, -1),
    step: Int32Array.of(2, 7, 1, 5, -1),
    latenessMs: Float64Array.of(0, 3.14159265, NaN, -0.00001, NaN),
    why: [null, null, 'masked', 'outlier', null],
    rotation: { found: true, secondsPerTurn: 4, secondsPerTurnCi95: 0.002 },
  };
  const track = { file: 'a.wav', track: 0, sampleRate: 48000 };
  return {
    machine: {
      description: {
        name: 'Barn barrel',
        barrel: {
          steps: 8,
          stepsPerBeat: 2,
          diameterMm: 100,
          sectors: [
            { id: 'A', from: 2 },
            { id: 'B', from: 6 },
          ],
        },
        channels: [
          { id: 'block', onBarrel: false, toleranceMs: 2 },
          { id: 'gong', onBarrel: true, toleranceMs: 1.5, name: 'Gong' },
        ],
        adjusters: [{ id: 'b' }, { id: 'a' }],
      },
      reference: 0,
    },
    take: { name: 'one', description: {}, recorded: null, settings: { a: 1, b: 2 }, tracks: [track] },
    hearing: { hits, tracks: [{ noiseDb: -Infinity, clippedSamples: 0, badSamples: 0 }] },
    strokes,
    groups: [group('gong', 'B', 3.14159265)],
    pins: [],
  } as unknown as Study;
}

describe('buildReport', () => {
  const report = buildReport(study(), []);

  test('rounds times to the nanosecond and lateness to a tenth of a microsecond, and has null for what is unknown', () => {
    expect(report.hits[0].timeS).toBe(0.123456789);
    expect(report.hits[1].latenessMs).toBe(3.1416);
    expect(report.groups[0].meanMs).toBe(3.1416);
    expect(report.hits[2].timeSdS).toBeNull();
    expect(report.hits[2].latenessMs).toBeNull();
    expect(Object.is(report.hits[3].latenessMs, 0)).toBe(true);
    expect(report.tracks[0].noiseDb).toBeNull();
  });

  test('finds each stroke’s sector by its step; steps before the first sector belong to the last', () => {
    expect(report.hits.map(({ sector }) => sector)).toEqual(['A', 'B', 'B', 'A', null]);
  });

  test('a hit from a marker has no track, one that nobody could tell no channel, and both say why they are aside', () => {
    expect(report.hits[3]).toMatchObject({ track: null, state: 'set-aside', why: 'outlier' });
    expect(report.hits[4]).toMatchObject({ channel: null, turn: null, step: null, state: 'set-aside' });
    expect(report.hits[2]).toMatchObject({ channel: 'gong', state: 'set-aside', why: 'masked' });
    expect(report.hits[0]).not.toHaveProperty('why');
  });

  test('beats a minute: 8 steps of half a beat in 4 s are 60, and the interval keeps its share', () => {
    expect(report.tempo).toEqual({ bpm: 60, bpmCi95: 0.03, secondsPerTurn: 4 });
  });

  test('settings are in the machine’s order, channels carry their tolerance', () => {
    expect(Object.keys(report.settings)).toEqual(['b', 'a']);
    expect(report.channels?.map(({ toleranceMs, reference }) => [toleranceMs, reference])).toEqual([
      [2, true],
      [1.5, false],
    ]);
  });

  test('without a rotation there is no tempo', () => {
    const still = study();
    const strokes = { ...still.strokes, rotation: { ...still.strokes.rotation, found: false } };
    expect(buildReport({ ...still, strokes }, [], noAdvice).tempo).toEqual({
      bpm: null,
      bpmCi95: null,
      secondsPerTurn: null,
    });
  });

  test('a take without hits makes a report that reads back', () => {
    const empty = study();
    const hits = { ...empty.hearing.hits, count: 0 };
    const report = buildReport({ ...empty, strokes: { ...empty.strokes, hits } }, []);
    expect(report.hits).toEqual([]);
    expect(parseReport('report.json', stringifyReport(report))).toEqual(report);
  });
});

describe('stringifyReport', () => {
  test('reads back as the same report', () => {
    expect(parseReport('report.json', stringifyReport(exampleReport()))).toEqual(exampleReport());
  });

  test('one line a hit, so that one changed hit is one changed line', () => {
    const changed = exampleReport();
    changed.hits[2].latenessMs = 4.3;
    const [a, b] = [exampleReport(), changed].map((report) => stringifyReport(report).split('\n'));
    expect(a.length).toBe(b.length);
    expect(a.filter((line, i) => line !== b[i])).toHaveLength(1);
  });

  test('the same bytes whatever the order of keys', () => {
    const report = exampleReport();
    const turned: Record<string, unknown> = Object.fromEntries(Object.entries(report).reverse());
    turned.hits = report.hits.map((row) => Object.fromEntries(Object.entries(row).reverse()));
    expect(stringifyReport(turned as never)).toBe(stringifyReport(report));
  });

  test('the same bytes when read and written again, for any numbers', () => {
    const number = fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e6, max: 1e6 });
    fc.assert(
      fc.property(number, number, fc.option(number), (timeS, latenessMs, meanMs) => {
        const report = exampleReport();
        report.hits[0] = { ...report.hits[0], timeS, latenessMs };
        report.groups[0] = { ...report.groups[0], meanMs };
        const text = stringifyReport(report);
        expect(stringifyReport(parseReport('report.json', text))).toBe(text);
      }),
      { seed: 20260502 },
    );
  });

  test('numbers that are not finite become null in advice worked out later', () => {
    const report = exampleReport();
    report.advice.worstAfterMs = NaN;
    expect(parseReport('report.json', stringifyReport(report)).advice.worstAfterMs).toBeNull();
  });
});

describe('parseReport', () => {
  const problem = (text: string) => {
    try {
      parseReport('takes/may/report.json', text);
    } catch (error) {
      expect(error).toBeInstanceOf(InputProblem);
      return (error as InputProblem).message;
    }
    throw new Error('it was read');
  };
  const text = stringifyReport(exampleReport());

  test('names the value at fault by its path', () => {
    expect(problem(text.replace('"timeS":0.5', '"timeS":"soon"'))).toMatch(
      /^takes\/may\/report\.json: hits\[0\]\.timeS: .*number/,
    );
    expect(problem(text.replace('"kind":"misplaced-pin"', '"kind":"odd"'))).toContain('findings[0].kind');
  });

  test('a report cut off in the middle names the line', () => {
    const cutOff = text.slice(0, text.length / 2);
    expect(problem(cutOff)).toContain(`line ${cutOff.split('\n').length}: it is not JSON`);
  });

  test('a later schema is told apart from a broken report', () => {
    expect(problem('{"schema": 2, "hits": 7}')).toContain(
      'schema 2, and this version of Shimwright reads schema 1',
    );
  });

  test.each(['', 'null', '[]', '7', '{}', '{"schema":"1"}', '{"schema":0}', '// a comment\n{}'])(
    'refuses %j in one line',
    (bad) => {
      expect(problem(bad)).toMatch(/^takes\/may\/report\.json: [^\n]*; analyse the take again/);
    },
  );

  test('reads a report with a byte-order mark', () => {
    expect(parseReport('report.json', `\uFEFF${text}`)).toEqual(exampleReport());
  });

  test('whatever the text, it is read or refused in one line', () => {
    fc.assert(
      fc.property(fc.nat(text.length - 1), fc.string({ maxLength: 3 }), fc.nat(40), (at, put, cut) => {
        try {
          parseReport('report.json', text.slice(0, at) + put + text.slice(at + cut));
        } catch (error) {
          expect(error).toBeInstanceOf(InputProblem);
          expect((error as Error).message).not.toContain('\n');
        }
      }),
      { seed: 7, numRuns: 500 },
    );
  });
});
