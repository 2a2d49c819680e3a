/** Heads of reports say what whole reports say, wherever the rows between are laid out as they are written. */
import { describe, expect, test } from 'vitest';
import { InputProblem } from '../../analysis/input/problem.ts';
import { parseEarlier, parseHead } from '../../analysis/report/parse-part.ts';
import { parseReport } from '../../analysis/report/parse.ts';
import type { Report } from '../../analysis/results/results.ts';
import { stringifyReport } from '../../analysis/report/report.ts';
import { barrelReport } from './barrels.ts';
import { exampleReport, exampleWithOutcome, hostileWords, namedWith } from './example.ts';

const without = (text: string, ...keys: string[]) =>
  Object.fromEntries(Object.entries(parseReport('', text)).filter(([key]) => !keys.includes(key)));

describe.each<[name: string, report: Report]>([
  ['an example', exampleReport()],
  ['what became of the last change in it', exampleWithOutcome()],
  ['nothing in it', { ...exampleReport(), hits: [], pins: [], groups: [], findings: [] }],
  ['forty channels', barrelReport(40, 12, 1, 7)],
  ...hostileWords.map((word) => [JSON.stringify(word), namedWith(word)] as [string, Report]),
  ['a name like the end of the rows', namedWith('\n  ],\n  "pins": [\n')],
])('%s', (_, report) => {
  const text = stringifyReport(report);

  test('is read the same, but for the rows left out', () => {
    expect(parseEarlier('report.json', text)).toEqual(without(text, 'hits'));
    expect(parseHead('report.json', text)).toEqual(without(text, 'hits', 'pins', 'sections'));
  });

  test('in another layout too', () => {
    const short = JSON.stringify(JSON.parse(text));
    expect(parseEarlier('report.json', short)).toEqual(without(text, 'hits'));
    expect(parseHead('report.json', short)).toEqual(without(text, 'hits', 'pins', 'sections'));
  });
});

test('a fault is told at its place in the file as it is', () => {
  const text = stringifyReport(exampleReport());
  const lines = text.split('\n');
  const broken = [...lines.slice(0, -3), '  nonsense', ...lines.slice(-3)].join('\n');
  const fault = (parse: (file: string, text: string) => unknown) => {
    try {
      return parse('report.json', broken);
    } catch (error) {
      return error;
    }
  };
  expect(fault(parseHead)).toBeInstanceOf(InputProblem);
  expect(fault(parseHead)).toEqual(fault(parseReport));
});
