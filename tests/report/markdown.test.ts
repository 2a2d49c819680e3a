import fc from 'fast-check';
import MarkdownIt from 'markdown-it';
import { describe, expect, test } from 'vitest';
import { InputProblem } from '../../analysis/input/problem.ts';
import { renderEntry } from '../../analysis/report/entry.ts';
import { markdownText, oneLine } from '../../analysis/report/markdown-text.ts';
import { renderReport } from '../../analysis/report/markdown.ts';
import { exampleReport, exampleWithOutcome, hostileWords, namedWith } from './example.ts';

/** A reader of Markdown that lets through all it can: HTML, bare addresses, tables. */
const reader = new MarkdownIt({ html: true, linkify: true });

interface Node {
  readonly type: string;
  readonly content: string;
  readonly children: readonly Node[] | null;
}

/** Everything in a page that is not plain text. */
function marks(markdown: string): string[] {
  const all = (nodes: readonly Node[]): string[] =>
    nodes.flatMap((node) => [node.type, ...all(node.children ?? [])]);
  return all(reader.parse(markdown, {})).filter((type) => !['inline', 'text', 'text_special'].includes(type));
}

/** The text a person sees. */
function visible(markdown: string): string {
  return reader
    .render(markdown)
    .replace(/<[^>]*>/g, '')
    .replaceAll('&lt;', '<')
    .replaceAll('&gt;', '>')
    .replaceAll('&quot;', '"')
    .replaceAll('\u2060', '')
    .replaceAll('&amp;', '&')
    .trim();
}

describe('markdownText', () => {
  test.each(hostileWords)('%j stays text, in a paragraph, a heading, a list and a table', (word) => {
    const safe = markdownText(word);
    expect(marks(safe)).toEqual(marks('word'));
    expect(marks(`## ${safe}`)).toEqual(marks('## word'));
    expect(marks(`- ${safe}`)).toEqual(marks('- word'));
    expect(marks(`| a | b |\n| --- | --- |\n| ${safe} | c |`)).toEqual(
      marks('| a | b |\n| --- | --- |\n| word | c |'),
    );
    expect(visible(safe)).toBe(oneLine(word));
  });

  test('whatever the text, a reader sees it and nothing else', () => {
    const piece = fc.oneof(
      fc.constantFrom(...hostileWords, ...'\\`*_{}[]()#+-.!|~<>&"\'=:@$^ \n\t12ab'),
      fc.string({ unit: 'binary' }),
    );
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 8 }), (pieces) => {
        const word = pieces.join('');
        const safe = markdownText(word);
        fc.pre(oneLine(word) !== '');
        expect(marks(safe)).toEqual(marks('word'));
        expect(marks(`| ${safe} |\n| --- |\n| ${safe} |`)).toEqual(marks('| a |\n| --- |\n| a |'));
      }),
      { seed: 3, numRuns: 2000 },
    );
  });

  test('ordinary names are left as they are', () => {
    for (const name of [
      'gong-a',
      'Gong, near mallet',
      '2026-05-02T21:40',
      'close.wav',
      'Trommel für B',
      '3.5 mm',
    ]) {
      expect(markdownText(name)).toBe(name);
    }
  });
});

describe('renderReport', () => {
  const report = renderReport(exampleReport());

  test('the verdict stands first, then the advice, then the numbers', () => {
    expect(report).toMatch(
      /^# Mill Lane attic barrel: take second-round\n\n\*\*Out of tolerance: 2 of 5 groups/,
    );
    const heads = [...report.matchAll(/^## (.*)$/gm)].map(([, head]) => head);
    expect(heads).toEqual([
      'What to change',
      'Lateness',
      'Findings',
      'Tempo',
      'Settings while recording',
      'What was heard',
      'How to read the numbers',
    ]);
    expect(report).toContain('](report.svg)');
  });

  test('what became of the last change stands before the next one, with the groups that did not follow', () => {
    const text = renderReport(exampleWithOutcome());
    const [, part] = /[^\n]\n\n## Did it work\?\n\n([^]*?)\n\n## What to change\n/.exec(text)!;
    expect(part.split('\n\n')).toEqual([
      'Since take first-round: take second-round: worst mean 7.0 → 4.3 ms, 1 of 2 groups as predicted; lever-gong 5 → 2 did as expected (−2.9 ms, expected −3.0).',
      'Not as predicted:',
      [
        '| channel | sector | predicted, ms | measured, ms |',
        '| --- | --- | ---: | ---: |',
        '| Gong | B | +0.20 ± 0.60 | −3.40 ± 0.30 |',
      ].join('\n'),
    ]);
    const followed = exampleWithOutcome();
    followed.outcome!.groups.pop();
    expect(renderReport(followed)).not.toContain('Not as predicted');
    expect(report).not.toContain('Did it work');
  });

  test('late and early read at a glance in plain text', () => {
    expect(report).toContain('| Gong | A | +4.30 ± 0.30 | `····[··¦>>]>>··` | LATE |');
    expect(report).toContain('| Gong | B | −3.40 ± 0.30 | `···<[<<¦··]····` | EARLY |');
    expect(report).toContain('| drum | A | +2.80 ± 0.30 | `····[··¦>>]····` | maybe late |');
    expect(report).toContain('| drum | B | – | `····[··?··]····` | not measured |');
  });

  test('every row of every table has its table’s columns', () => {
    for (const table of report.split('\n\n').filter((block) => block.startsWith('|'))) {
      const widths = table.split('\n').map((row) => row.replaceAll('\\|', '').split('|').length);
      expect(new Set(widths).size).toBe(1);
    }
    expect(marks(report).filter((type) => type === 'table_open')).toHaveLength(5);
  });

  test('the warning comes before the first setting to change', () => {
    const warning = report.indexOf('stop the drive, isolate it and lock it out');
    expect(warning).toBeGreaterThan(0);
    expect(warning).toBeLessThan(report.indexOf('| joint-AB | 3 | 5 |'));
    expect(report).toContain('licensed electricians come before anything printed here');
    const entry = renderEntry(exampleReport());
    expect(entry.indexOf('stop the drive')).toBeGreaterThan(0);
    expect(entry.indexOf('stop the drive')).toBeLessThan(entry.indexOf('joint-AB 3 → 5'));
  });

  test('effects are shown with where they are known from', () => {
    const learned = exampleReport();
    learned.advice.effects = [
      { adjuster: 'joint-AB', msPerUnit: 0.87, sdMs: 0.05, from: 'takes' },
      { adjuster: 'lever-gong', msPerUnit: null, sdMs: null, from: 'geometry' },
    ];
    expect(renderReport(learned)).toContain(
      '| joint-AB | +0.87 | 0.05 | earlier takes |\n| lever-gong | – | – | geometry |',
    );
  });

  test('how each marker file was read stands with what was heard', () => {
    const marked = exampleReport();
    marked.markerFiles = [
      {
        file: 'a.csv',
        format: 'delimited text',
        count: 24,
        time: 'Anfang',
        unit: 's',
        end: 'Ende',
        label: 'Name',
      },
      { file: 'b.mid', format: 'MIDI', count: 1 },
    ];
    const [, heard] = renderReport(marked).split('## What was heard');
    expect(heard).toContain(
      'Markers from a.csv: 24 markers, delimited text, times from “Anfang” in s, ends from “Ende”, labels from “Name”.',
    );
    expect(heard).toContain('Markers from b.mid: 1 marker, MIDI.');
    expect(report).not.toContain('Markers from');
  });

  test('nothing to change: no table of settings', () => {
    const calm = exampleReport();
    calm.advice = { ...calm.advice, settings: [], predicted: [], summary: 'Nothing to change.' };
    expect(renderReport(calm)).toContain('Nothing to change.');
    expect(renderReport(calm)).not.toContain('stop the drive');
  });

  test.each(hostileWords)('%j in every name and note changes nothing of the page but its words', (word) => {
    const shape = (text: string) => marks(text).join(' ');
    expect(shape(renderReport(namedWith(word)))).toBe(shape(renderReport(namedWith('word'))));
    expect(shape(renderEntry(namedWith(word)))).toBe(shape(renderEntry(namedWith('word'))));
  });
});

describe('a person’s own template', () => {
  const file = 'templates/report.md.hbs';
  const withOwn = (text: string, report = exampleReport()) => renderReport(report, { file, text });

  test('takes the place of the built-in one', () => {
    expect(withOwn('{{take}}: {{#each groups}}{{name}} {{mean}};{{/each}}')).toMatch(
      /^second-round: Wood block \+0\.05 ± 0\.05;/,
    );
  });

  test('cannot let a label in as markup, not even with three braces', () => {
    const word = '<b>x</b>|y';
    expect(withOwn('{{machine}} {{{machine}}}', namedWith(word))).toBe(
      '&lt;b&gt;x&lt;/b&gt;\\|y &lt;b&gt;x&lt;/b&gt;\\|y',
    );
  });

  test.each([
    ['one\n{{nope}}', 'line 2', '"nope"'],
    ['{{#if take}}\n\n', 'line', 'not closed'],
    ['a\nb\n{{#each groups}}\n{{/if}}', 'line 3', "each doesn't match if"],
    ['\n{{shout take}}', 'line 2', '"shout"'],
    ['{{> other}}', 'line 1', 'cannot be taken in'],
    ['{{#*inline "a"}}{{> a}}{{/inline}}{{> a}}', '', 'never ends'],
    ['{{take.constructor}}', 'line 1', '"constructor"'],
    ['{{__proto__.polluted}}', 'line 1', ''],
    ['{{lookup}}{{#each}}', 'line 1', ''],
  ])('%j is one line that names the template', (text, place, what) => {
    try {
      withOwn(text);
    } catch (error) {
      expect(error).toBeInstanceOf(InputProblem);
      const { message } = error as InputProblem;
      expect(message.startsWith(`${file}: `)).toBe(true);
      expect(message).toContain(place);
      expect(message).toContain(what);
      expect(message).not.toContain('\n');
      return;
    }
    throw new Error('the template was taken');
  });

  test('reaches no prototype', () => {
    expect(
      withOwn('{{lookup this "constructor"}}{{#with (lookup take "constructor")}}reached{{/with}}'),
    ).toBe('');
  });
});
