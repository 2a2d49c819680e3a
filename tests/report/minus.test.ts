import { expect, test } from 'vitest';
import { compareReports } from '../../analysis/report/compare.ts';
import { comparisonTable, renderComparison } from '../../analysis/report/comparison-text.ts';
import { renderApplied, renderEntry } from '../../analysis/report/entry.ts';
import { renderReport } from '../../analysis/report/markdown.ts';
import { renderTable } from '../../analysis/report/table.ts';
import { exampleReport } from './example.ts';

/** A hyphen before a digit that is no part of a name, a date, a file or a page. */
const hyphens = (text: string) => text.match(/(?<![\w.-])-\d/g);

test('a setting below 0 is written with the minus sign of print wherever a person reads it', () => {
  const before = exampleReport();
  const after = { ...exampleReport(), take: 'third', settings: { 'joint-AB': -4, 'lever-gong': -2 } };
  after.advice.settings = [
    { adjuster: 'joint-AB', unit: 'shim', installed: -4, proposed: -7 },
    { adjuster: 'lever-gong', unit: 'shim', installed: -2, proposed: 0 },
  ];
  const comparison = compareReports(before, after);
  const fitted = [{ adjuster: 'joint-AB', unit: 'shim', before: -4, after: -6, proposed: -7 }];
  const texts = {
    table: renderTable(after),
    report: renderReport(after),
    entry: renderEntry(after),
    applied: renderApplied({ date: '2026-05-02', take: 'third', fitted, foreseen: null }),
    comparison: renderComparison(comparison),
    comparisonTable: comparisonTable(comparison),
  };
  for (const [name, text] of Object.entries(texts)) {
    expect(hyphens(text), name).toBeNull();
    expect(text, name).toMatch(/−4/);
  }
  expect(texts.table).toMatch(/joint-AB +−4 → −7 /);
  expect(texts.report).toContain('| joint-AB | −4 | −7 | take out 3 (shim) |');
  expect(texts.applied).toContain('| joint-AB | shim | −4 | −6 | −7 (not followed) |');
});
