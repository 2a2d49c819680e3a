import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { renderApplied, renderEntry } from '../../analysis/report/entry.ts';
import { renderReport } from '../../analysis/report/markdown.ts';
import { bar, judge, signed, verdictOf, withInterval } from '../../analysis/report/reading.ts';
import { renderAdvice, renderTable } from '../../analysis/report/table.ts';
import { columnsWide, fitColumns, wrapped } from '../../analysis/report/terminal-text.ts';
import { barrelReport } from './barrels.ts';
import { exampleReport, group, hostileWords, namedWith } from './example.ts';

const tooWide = (text: string) => text.split('\n').filter((line) => columnsWide(line) > 100);

describe('renderTable', () => {
  const table = renderTable(exampleReport());

  test('verdict, lateness with interval, count and spread, advice behind its warning, findings', () => {
    const order = [
      'Out of tolerance: 2 of 5 groups',
      '+4.30 ± 0.30      12     0.50     0.25 ····[··¦>>]>>·· LATE',
      'stop the drive, isolate it and lock it out',
      'joint-AB                            3 → 5      add 2 (shim)',
      '+0.40 ± 0.50 ····[··¦··]···· in tolerance',
      'warning: the pin of gong at step 20',
    ].map((words) => table.indexOf(words));
    expect(order).toEqual([...order].sort((a, b) => a - b));
    expect(order[0]).toBeGreaterThan(0);
    expect(tooWide(table)).toEqual([]);
  });

  test('what the take measured is called so wherever it stands beside a prediction: work may have been done since', () => {
    expect(table).toMatch(/^predicted, ms +sector +measured +then$/m);
    const report = exampleReport();
    const foreseen = { date: '2026-05-03', take: 'second-round', fitted: [], foreseen: report };
    const [full, entry, applied] = [renderReport(report), renderEntry(report), renderApplied(foreseen)];
    expect(full).toMatch(/^\| channel \| sector \| measured(, ms)? \| predicted(, ms)? \|/m);
    // Entries in the log are short: one line has both, and the table is in the report.
    expect(entry).toMatch(/: 4\.30 ms measured, 0\.60 ms predicted\.$/m);
    expect(applied).toContain('from 4.30 ms, as measured, to 0.60 ms');
    for (const text of [full, entry, applied]) {
      expect(text).not.toMatch(/\b(now|before), ms|ms now/);
    }
  });

  test('40 channels × 12 sectors are a matrix in blocks of 100 columns', () => {
    const report = barrelReport(40, 12, 3, 3);
    report.groups = [...report.groups, ...report.channels!.map(({ id }) => group(id, null, 1))];
    const big = renderTable(report);
    expect(tooWide(big)).toEqual([]);
    expect(big.match(/^by sector/gm)).toHaveLength(2);
    expect(big.match(/^Striker 40 .*$/gm)).toHaveLength(3);
    const written = big.match(/[+−]\d\.\d\d(>>|<<|>\?|<\?| |$)/gm) ?? [];
    expect(written.length).toBeGreaterThanOrEqual(480);
  });

  test('many findings are counted, not all listed', () => {
    const report = exampleReport();
    report.findings = Array.from({ length: 500 }, () => report.findings[0]);
    expect(renderTable(report)).toContain('and 480 more, in the report');
  });

  test('nothing heard: a table all the same', () => {
    const empty = renderTable({ ...exampleReport(), groups: [], findings: [] });
    expect(empty).toContain('Nothing could be measured in this take');
  });

  test.each([...hostileWords, '鐘楼の大太鼓と小太鼓の音の遅れ🥁🥁👩‍👩‍👧', 'é'.normalize('NFD').repeat(120)])(
    '%j keeps to its line and its columns',
    (word) => {
      for (const text of [
        renderTable(namedWith(word)),
        renderAdvice(namedWith(word).advice, namedWith(word)),
      ]) {
        expect(tooWide(text)).toEqual([]);
        expect(text.replaceAll('\n', '')).not.toMatch(
          /[\u0000-\u001f\u007f-\u009f\u202a-\u202e\ud800-\udbff](?![\udc00-\udfff])/,
        );
        expect(text.split('\n').filter((line) => line.includes('LATE'))).toHaveLength(
          text.includes('lateness, ms') ? 1 : 0,
        );
      }
    },
  );
});

test('a tempo’s interval is never written as nothing', () => {
  const heading = (bpmCi95: number | null) =>
    renderTable({ ...exampleReport(), tempo: { bpm: 119.98041, bpmCi95, secondsPerTurn: 12.002 } });
  expect(heading(0.004)).toContain('119.980 ± 0.004 beats');
  expect(heading(0.00023)).toContain('119.9804 ± 0.0002 beats');
  expect(heading(0.6)).toContain('119.98 ± 0.60 beats');
  expect(heading(null)).toContain('119.98 ± ? beats');
});

describe('text in a terminal', () => {
  test('columns: wide characters take two, combining ones none (Unicode Standard Annex 11)', () => {
    expect(columnsWide('gong')).toBe(4);
    expect(columnsWide('大太鼓')).toBe(6);
    expect(columnsWide('e\u0301')).toBe(1);
    expect(columnsWide('🥁')).toBe(2);
    expect(columnsWide('+3.10 ± 0.50 −–·¦')).toBe(17);
  });

  test('fit is exact, whatever the label', () => {
    fc.assert(
      fc.property(
        fc.oneof(fc.string({ unit: 'binary' }), fc.constantFrom('大太鼓と小太鼓', '🥁🥁🥁', ...hostileWords)),
        fc.integer({ min: 2, max: 30 }),
        (label, columns) => {
          expect(columnsWide(fitColumns(label, columns))).toBe(columns);
          expect(columnsWide(fitColumns(label, columns, 'right'))).toBe(columns);
        },
      ),
      { seed: 5, numRuns: 500 },
    );
  });

  test('wrapped keeps every word and every line within 100', () => {
    const long = `${'word '.repeat(60)}${'x'.repeat(250)}`;
    expect(tooWide(wrapped(long, '  '))).toEqual([]);
    expect(wrapped(long, '  ').replace(/\s/g, '')).toBe(long.replace(/\s/g, ''));
  });
});

describe('what the numbers mean', () => {
  test.each([
    [1, 0.5, 2, 'within'],
    [1.5, 0.5, 2, 'within'],
    [1.6, 0.5, 2, 'maybe-late'],
    [-2.4, 0.5, 2, 'maybe-early'],
    [2.6, 0.5, 2, 'late'],
    [-2.6, 0.5, 2, 'early'],
    [3, null, 2, 'maybe-late'],
    [1.2, 1.5, 2, 'maybe-either'],
    [-0.5, 3, 2, 'maybe-either'],
    [2.4, 2.3, 2, 'maybe-late'],
    [1, null, 2, 'within'],
    [null, null, 2, 'unknown'],
  ] as const)('%s ± %s against %s is %s', (mean, ci, tolerance, judgement) => {
    expect(judge(mean, ci, tolerance)).toBe(judgement);
  });

  test('the verdict: in only where every interval is; out where one is beyond doubt', () => {
    const withMeans = (...means: (number | null)[]) => {
      const sectors = ['A', 'B'];
      return verdictOf({
        ...exampleReport(),
        groups: means.map((mean, i) => group('gong', sectors[i], mean)),
      }).state;
    };
    expect(withMeans(0.1, 1.6)).toBe('in-tolerance');
    expect(withMeans(0.1, 1.8)).toBe('unsure');
    expect(withMeans(0.1, -2.4)).toBe('out-of-tolerance');
    expect(withMeans(null, null)).toBe('not-measured');
    expect(withMeans(null, 0.2)).toBe('in-tolerance');
  });

  test('an interval that holds zero and passes tolerance is too unsure to say, late or early by no word', () => {
    const wide = (meanMs: number) => ({ ...group('gong', 'A', meanMs), ci95Ms: 2.5 });
    const said = (...groups: ReturnType<typeof group>[]) => verdictOf({ ...exampleReport(), groups });
    const alone = said(wide(1), { ...group('gong', 'B', 0.1) });
    expect(alone.state).toBe('unsure');
    expect(alone.sentence).toMatch(/^Too unsure to say: the interval of 1 of 2 groups holds zero/);
    expect(alone.sentence).not.toMatch(/late|early/);
    const both = said(wide(1), group('gong', 'B', 1.8));
    expect(both.sentence).toMatch(/^Not decided: the interval of 1 of 2 groups reaches across/);
    expect(both.sentence).toContain('Of 1 group this take is too unsure to say anything.');
  });

  test('bars lean the way of the lateness and end with + past their end', () => {
    expect(bar(0, 2)).toBe('····[··¦··]····');
    expect(bar(2, 2)).toBe('····[··¦>>]····');
    expect(bar(-3, 2)).toBe('···<[<<¦··]····');
    expect(bar(50, 2)).toBe('····[··¦>>]>>>+');
    expect(bar(-50, 2)).toBe('+<<<[<<¦··]····');
    expect(bar(null, 2)).toBe('····[··?··]····');
  });

  test('figures carry their sign, zero none, the unknown a dash', () => {
    expect([signed(3.1), signed(-3.1), signed(-0.001), signed(null)]).toEqual([
      '+3.10',
      '−3.10',
      '0.00',
      '–',
    ]);
    expect([withInterval(1, null), withInterval(null, null)]).toEqual(['+1.00 ± ?', '–']);
  });
});
