import { describe, expect, test } from 'vitest';
import { compareReports } from '../../analysis/report/compare.ts';
import { comparisonTable, renderComparison } from '../../analysis/report/comparison-text.ts';
import { columnsWide } from '../../analysis/report/terminal-text.ts';
import type { Report } from '../../analysis/results/results.ts';
import { barrelReport } from './barrels.ts';
import { exampleReport, group, hit, hostileWords, namedWith } from './example.ts';

/** One channel in one sector: `count` strokes over `pins` pins, with this mean and interval. */
function single(meanMs: number | null, ci95Ms: number | null, count: number, pins: number): Report {
  const hits = Array.from({ length: count }, (_, i) => hit('gong', 'A', meanMs, { step: i % pins }));
  return { ...exampleReport(), hits, groups: [{ ...group('gong', 'A', meanMs, ci95Ms), count }] };
}

/** The same as reports keep it since they keep the standard error and its degrees of freedom. */
function kept(meanMs: number, ci95Ms: number, standardErrorMs: number, degreesOfFreedom: number): Report {
  const report = single(meanMs, ci95Ms, 9, 4);
  return { ...report, groups: report.groups.map((one) => ({ ...one, standardErrorMs, degreesOfFreedom })) };
}

describe('compareReports', () => {
  test('Welch by hand: 9 strokes on 4 pins twice, both intervals t(5) × 0.1 ms', () => {
    // t(0.975, 5) = 2.571 (NIST/SEMATECH e-Handbook 1.3.6.7.2), so each standard error is 0.1 and the two together
    // √0.02 = 0.1414 with 10 degrees of freedom; t(0.975, 10) = 2.228 from the same table.
    const [row] = compareReports(kept(1, 0.2571, 0.1, 5), kept(1.4, 0.2571, 0.1, 5)).groups;
    expect(row.movedMs).toBeCloseTo(0.4, 10);
    expect(row.movedCi95Ms).toBeCloseTo(2.228 * Math.SQRT2 * 0.1, 3);
    // t = 0.4 / 0.1414 = 2.828, between t(0.99, 10) = 2.764 and t(0.995, 10) = 3.169
    expect(row.p).toBeGreaterThan(0.01);
    expect(row.p).toBeLessThan(0.02);
    expect(row.moreThanChance).toBe(true);
  });

  test('degrees of freedom are the interval’s own: few of them make no sure move of two wide intervals', () => {
    // Three strokes a turn, two turns; the reference's four pins made the interval: t(0.975, 3) × 0.19 = 0.6.
    const [row] = compareReports(kept(1, 0.6, 0.6 / 3.182, 3), kept(1.6, 0.6, 0.6 / 3.182, 3)).groups;
    // t(0.975, 6) = 2.447 (the same table).
    expect(row.movedCi95Ms).toBeCloseTo((2.447 * Math.SQRT2 * 0.6) / 3.182, 3);
    expect(row.moreThanChance).toBe(false);
  });

  test('a report that kept its half-width alone: two of ±0.6 differ by no less than ±0.6·√2', () => {
    const [row] = compareReports(single(1, 0.6, 90, 1), single(1.6, 0.6, 90, 1)).groups;
    expect(row.movedCi95Ms).toBeCloseTo(0.6 * Math.SQRT2, 4);
    expect(row.moreThanChance).toBe(false);
  });

  test('Holm: what alone would count is chance among many', () => {
    const alone = compareReports(single(1, 0.2571, 9, 4), single(1.4, 0.2571, 9, 4)).groups[0].p!;
    const many = (meanMs: number) => {
      const report = single(meanMs, 0.2571, 9, 4);
      const sectors = ['B', 'C', 'D', 'E'].map((id, i) => ({ id, from: 10 * (i + 1) }));
      const others = sectors.map(({ id }) => ({ ...group('gong', id, 0, 0.25), count: 9 }));
      return {
        ...report,
        barrel: { ...report.barrel!, sectors: [{ id: 'A', from: 0 }, ...sectors] },
        groups: [...report.groups, ...others],
      };
    };
    const [row] = compareReports(many(1), many(1.4)).groups;
    expect(row.p).toBeCloseTo(5 * alone, 10);
    expect(row.moreThanChance).toBe(false);
  });

  test('a report beside itself: nothing moved, nothing changed', () => {
    const same = compareReports(barrelReport(4, 3, 3, 3), barrelReport(4, 3, 3, 3));
    expect(
      same.groups.every(({ movedMs, moreThanChance }) => movedMs === 0 && moreThanChance === false),
    ).toBe(true);
    expect([same.settings, same.came, same.went]).toEqual([[], [], []]);
    expect(same.sameMachine).toBe(true);
  });

  test('turned round, what moved changes sign and is as sure', () => {
    const [a, b] = [barrelReport(4, 3, 3, 3, 1), barrelReport(4, 3, 3, 3, 2)];
    const [there, back] = [compareReports(a, b), compareReports(b, a)];
    there.groups.forEach((row, i) => {
      expect(back.groups[i].movedMs).toBeCloseTo(-row.movedMs!, 10);
      expect(back.groups[i].p).toBeCloseTo(row.p!, 10);
    });
  });

  test('not measured in one of the two is null, never 0', () => {
    const [row] = compareReports(single(null, null, 2, 2), single(1, 0.2, 9, 4)).groups;
    expect(row).toMatchObject({
      beforeMs: null,
      movedMs: null,
      movedCi95Ms: null,
      p: null,
      moreThanChance: null,
      judgedBefore: 'unknown',
    });
  });

  test('without any spread, a difference is sure and none is none', () => {
    expect(compareReports(single(1, 0, 9, 3), single(1.1, 0, 9, 3)).groups[0]).toMatchObject({
      p: 0,
      moreThanChance: true,
    });
    expect(compareReports(single(1, 0, 9, 3), single(1, 0, 9, 3)).groups[0]).toMatchObject({
      p: 1,
      moreThanChance: false,
    });
  });

  test('settings that changed, findings that came and went, tempo', () => {
    const after = exampleReport();
    after.settings = { 'joint-AB': 5, 'lever-gong': 2, drop: 1 };
    after.findings = [{ kind: 'noisy', severity: 'warning', message: 'the room is loud' }];
    after.tempo = { bpm: 120.98, bpmCi95: 0.003, secondsPerTurn: 11.9 };
    const { settings, came, went, tempo } = compareReports(exampleReport(), after);
    expect(settings).toEqual([
      { adjuster: 'joint-AB', before: 3, after: 5 },
      { adjuster: 'drop', before: null, after: 1 },
    ]);
    expect(came.map(({ kind }) => kind)).toEqual(['noisy']);
    expect(went.map(({ kind }) => kind)).toEqual(['misplaced-pin']);
    expect(tempo.changeBpm).toBeCloseTo(1, 10);
    expect(tempo.changeCi95Bpm).toBeCloseTo(0.005, 10);
  });

  test('a finding whose sentence alone differs neither came nor went', () => {
    const after = exampleReport();
    after.findings[0] = { ...after.findings[0], message: 'said otherwise' };
    expect(compareReports(exampleReport(), after)).toMatchObject({ came: [], went: [] });
  });
});

describe('a comparison in words', () => {
  const other = { ...exampleReport(), machine: 'Another barrel' };

  test('says so where the machines differ', () => {
    const comparison = compareReports(exampleReport(), other);
    expect(comparison.sameMachine).toBe(false);
    expect(renderComparison(comparison)).toContain(
      'different machines (Mill Lane attic barrel, Another barrel)',
    );
    expect(comparisonTable(comparison)).toContain('different machines');
  });

  test('the Markdown names every group, the table those that moved', () => {
    const after = exampleReport();
    after.groups[4] = { ...after.groups[4], meanMs: 0.3 };
    const comparison = compareReports(exampleReport(), after);
    const markdown = renderComparison(comparison);
    expect(markdown).toContain('| Gong | A | +4.30 ± 0.30 | +0.30 ± 0.30 | −4.00 ± ');
    expect(markdown).toContain('**earlier** | LATE → in tolerance |');
    expect(markdown.match(/no more than chance \|/g)).toHaveLength(4);
    expect(markdown).toContain('| not comparable |');
    const table = comparisonTable(comparison);
    expect(table).toContain(
      '1 of 5 groups moved by more than chance; 1 came into tolerance. 1 group could not',
    );
    expect(table.match(/^(Gong|drum|Wood block)/gm)).toEqual(['Gong']);
  });

  test.each(hostileWords)('%j stays text and within 100 columns', (word) => {
    const comparison = compareReports(exampleReport(), { ...namedWith(word), settings: { [word]: 1 } });
    for (const line of comparisonTable(comparison).split('\n')) {
      expect(columnsWide(line)).toBeLessThanOrEqual(100);
      expect(line).not.toMatch(/[\u0000-\u001f\u007f-\u009f\u202e]/);
    }
    const markdown = renderComparison(comparison);
    expect(markdown).not.toMatch(/<script|<img|<!--|(?<!\\)\]\(javascript|\n# heading\n/);
    const rows = markdown.split('\n').filter((line) => line.startsWith('| joint-AB'));
    expect(rows).toEqual(['| joint-AB | 3 | – |']);
  });
});
