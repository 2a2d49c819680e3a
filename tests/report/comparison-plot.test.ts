/** Two takes over each other: what is drawn of each, and that names stay text. */
import { DOMParser } from '@xmldom/xmldom';
import { expect, test } from 'vitest';
import { compareReports } from '../../analysis/report/compare.ts';
import { channelsInBoth, wordsOf } from '../../analysis/report/comparison-plot.ts';
import type { Report } from '../../analysis/results/results.ts';
import { comparisonPage } from '../../extension/common/comparison-page.ts';
import { exampleReport, group, hostileWords, namedWith } from './example.ts';

/** The gong's mean in sector A 3.9 ms earlier, its strokes with it; one stroke of the drum more is set aside. */
function after(): Report {
  const report = exampleReport();
  return {
    ...report,
    take: 'third-round',
    settings: { ...report.settings, 'lever-gong': 1 },
    groups: report.groups.map((each) =>
      each.channel === 'gong' && each.sector === 'A' ? group('gong', 'A', 0.4) : each,
    ),
    hits: report.hits.map((hit) =>
      hit.channel === 'gong' && hit.sector === 'A' ? { ...hit, latenessMs: hit.latenessMs! - 3.9 } : hit,
    ),
  };
}
const names = ['second-round', 'third-round'] as const;

/** As a strict reader has it; it throws on anything that is not well formed. */
function read(markup: string) {
  const onError = (level: string, message: string) => {
    if (!message.startsWith('Unicode replacement character')) throw new Error(`${level}: ${message}`);
  };
  const root = new DOMParser({ onError }).parseFromString(`<body>${markup}</body>`, 'text/xml');
  const all = (name: string) => Array.from(root.getElementsByTagName(name));
  return { all, text: root.documentElement?.textContent ?? '' };
}

test('each channel has its strokes of both takes, on one scale', () => {
  const [was, is] = [exampleReport(), after()];
  const rows = channelsInBoth(compareReports(was, is), was, is);
  expect(rows.map(({ channel, before, after: now }) => [channel.id, before.length, now.length])).toEqual([
    ['block', 2, 2],
    ['gong', 3, 3],
    ['drum', 1, 1],
  ]);
  expect(rows[1].limitMs).toBeGreaterThanOrEqual(4.4);
  expect(wordsOf(rows[1])).toBe(
    'Gong: sector A +4.30 ± 0.30 → +0.40 ± 0.30 ms, moved; sector B −3.40 ± 0.30 → −3.40 ± 0.30 ms',
  );
});

test('strokes of the take before are held against what is meant in the later one, as the means are', () => {
  const was = exampleReport();
  const is = after();
  const meant = (report: Report, targetMs: number): Report => ({
    ...report,
    groups: report.groups.map((each) => (each.channel === 'gong' ? { ...each, targetMs } : each)),
    pins: report.pins.map((pin) => ({ ...pin, targetMs })),
  });
  const [, gong] = channelsInBoth(compareReports(was, meant(is, 2)), was, meant(is, 2));
  expect(gong.before.map(({ latenessMs }) => +latenessMs!.toFixed(6))).toEqual([2.2, 2.4, -5.4]);
  expect(gong.groups.map(({ beforeMs }) => +beforeMs!.toFixed(6))).toEqual([2.3, -5.4]);
});

test('the page: the outcome first, rings before dots, an arrow where it moved, and the same as a table', () => {
  const { all, text } = read(comparisonPage(exampleReport(), after(), names));
  expect(all('h1')[0].textContent).toMatch(
    /^1 of \d groups moved by more than chance; 1 came into tolerance/,
  );
  const parts = (kind: string) => all('g').filter((each) => each.getAttribute('class') === kind);
  const dots = (kind: string) =>
    parts(kind).reduce((sum, each) => sum + each.getElementsByTagName('circle').length, 0);
  expect([dots('before'), dots('after')]).toEqual([6, 6]);
  expect(parts('before').every((each) => each.getAttribute('fill') === 'none')).toBe(true);
  expect(all('path').filter((each) => each.getAttribute('class') === 'moved')).toHaveLength(1);
  for (const words of ['lever-gong21', 'earlier', 'LATE → in tolerance', 'moved −3.90 ±'])
    expect(text).toContain(words);
});

test('takes of different tunes have no plot, and it says so', () => {
  const tuned = (report: Report, tune: string) => ({ ...report, tune });
  const { all } = read(comparisonPage(tuned(exampleReport(), 'march'), tuned(after(), 'waltz'), names));
  expect(all('svg')).toHaveLength(0);
  expect(all('h1')[0].textContent).toContain('different tunes (march, waltz)');
});

test('a report from before reports said what the barrel was is drawn too', () => {
  const bare = (report: Report): Report => ({ ...report, barrel: undefined, channels: undefined });
  const { all } = read(comparisonPage(bare(exampleReport()), bare(after()), names));
  expect(all('svg')).toHaveLength(3);
});

test.each(hostileWords)('%j stays text', (word) => {
  const markup = comparisonPage(namedWith(word), namedWith(word), [word, word]);
  const { all } = read(markup);
  for (const name of ['script', 'style', 'img', 'a', 'iframe', 'foreignObject', 'b'])
    expect(all(name)).toHaveLength(0);
  for (const each of all('*')) expect(each.getAttribute('style')).toBeNull();
});
