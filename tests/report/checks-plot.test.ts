import { DOMParser } from '@xmldom/xmldom';
import { parseHTML } from 'linkedom';
import { describe, expect, test } from 'vitest';
import { drawChecks } from '../../analysis/report/checks-plot.ts';
import { renderReport } from '../../analysis/report/markdown.ts';
import type { Report, SectionPlot } from '../../analysis/results/results.ts';
import { exampleReport, hostileWords } from './example.ts';

const { document } = parseHTML('<!doctype html><html><body></body></html>');

const withPlot = (plot: Partial<SectionPlot>, title = 'Shafts'): Report => ({
  ...exampleReport(),
  sections: [
    {
      id: 'one',
      title,
      sentences: ['Nothing wobbles.'],
      plot: { xLabel: 'beats', yLabel: 'ms', series: [], ...plot },
    },
  ],
});

/** The picture as a strict reader of XML has it; it throws on anything that is not well formed. */
function read(report: Report) {
  const svg = drawChecks(report, document);
  const root = new DOMParser({
    onError: (level, message) => {
      if (!message.startsWith('Unicode replacement character')) throw new Error(`${level}: ${message}`);
    },
  }).parseFromString(svg, 'image/svg+xml').documentElement!;
  const all = (name: string) => Array.from(root.getElementsByTagName(name));
  return { svg, all, texts: all('text').map(({ textContent }) => textContent ?? '') };
}

describe('checks.svg', () => {
  test('has each check’s title, axes, rules, and every point once', () => {
    const points: [number | null, number | null][] = [
      [1, 2],
      [2, 4],
      [3, null],
      [null, 1],
    ];
    const { all, texts } = read(
      withPlot({
        rules: [
          { axis: 'x', at: 2, name: 'output' },
          { axis: 'y', at: 3, name: 'heard as two' },
        ],
        series: [{ name: 'block', points, ci95: [0.5, null, 1, 1] }],
      }),
    );
    for (const words of ['Shafts', 'beats', 'ms', 'output', 'heard as two']) expect(texts).toContain(words);
    expect(all('desc')[0].textContent).toBe('Shafts: Nothing wobbles.');
    const dots = all('g').filter((g) => g.getAttribute('class') === 'points');
    // Two points are known. One name needs no key.
    expect(dots.flatMap((g) => Array.from(g.getElementsByTagName('*'))).length).toBe(2);
    expect(texts).not.toContain('block');
  });

  test('two series have a key, told apart by shape', () => {
    const { texts } = read(
      withPlot({
        series: [
          { name: 'near', points: [[1, 1]] },
          { name: 'far', points: [[2, 1]] },
        ],
      }),
    );
    expect(texts).toEqual(expect.arrayContaining(['near', 'far']));
  });

  test.each([
    ['one point', [[1, 1]]],
    ['none', []],
    ['unknown alone', [[null, null]]],
    ['zero on a logarithmic scale', [[0, 0]]],
    [
      'all of one value',
      [
        [1, 5],
        [2, 5],
      ],
    ],
  ] as [string, [number | null, number | null][]][])(
    'draws %s without a number that is none',
    (_, points) => {
      for (const scale of ['linear', 'logarithmic'] as const)
        for (const line of [true, false])
          expect(read(withPlot({ scale, series: [{ name: 'a', line, points }] })).svg).not.toMatch(
            /NaN|Infinity|undefined/,
          );
    },
  );

  test('a report whose checks had nothing to draw says so', () => {
    expect(read({ ...exampleReport(), sections: [] }).texts).toContain('No check had anything to draw.');
  });

  test.each(hostileWords)('%j in every name is text', (word) => {
    const { all, svg } = read(
      withPlot(
        {
          xLabel: word,
          yLabel: word,
          rules: [{ axis: 'x', at: 1, name: word }],
          series: [
            { name: word, points: [[1, 1]] },
            { name: `other ${word}`, line: true, points: [[2, 1]] },
          ],
        },
        word,
      ),
    );
    for (const name of ['script', 'style', 'image', 'use', 'a', 'foreignObject'])
      expect(all(name)).toHaveLength(0);
    expect(svg).not.toMatch(/[\u0000-\u0008\u001b\u202a-\u202e]/);
  });

  test('the same report gives the same bytes, and the document stays as it was', () => {
    const report = withPlot({
      series: [
        {
          name: 'a',
          line: true,
          points: [
            [1, 1],
            [2, 3.14159],
          ],
        },
      ],
    });
    const before = document.documentElement.outerHTML;
    expect(drawChecks(report, document)).toBe(drawChecks(report, document));
    expect(document.documentElement.outerHTML).toBe(before);
  });

  test('report.md shows it above the checks’ sentences', () => {
    const text = renderReport(withPlot({ series: [{ name: 'a', points: [[1, 1]] }] }));
    expect(text.indexOf('![What the checks measured: Shafts](checks.svg)')).toBeGreaterThan(0);
    expect(text.indexOf('### Shafts')).toBeGreaterThan(text.indexOf('](checks.svg)'));
    expect(renderReport({ ...exampleReport(), sections: [] })).not.toContain('checks.svg');
  });
});
