import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { addEntry, appendOutcome, fittedInLog } from '../../analysis/report/changelog.ts';
import { digest, entryId, renderApplied, renderEntry } from '../../analysis/report/entry.ts';
import { exampleReport, hostileWords, namedWith } from './example.ts';

const entry = renderEntry(exampleReport());
const id = entryId(exampleReport());

function later(take = 'third-round') {
  return renderEntry({ ...exampleReport(), take, recorded: '2026-06-01' });
}

/** true where `whole` is `own` with one block put in somewhere: what they share at both ends covers all of `own`. */
function isUntouched(own: string, whole: string): boolean {
  let start = 0;
  while (start < own.length && own[start] === whole[start]) start++;
  let end = 0;
  while (end < own.length && own[own.length - 1 - end] === whole[whole.length - 1 - end]) end++;
  return whole.length >= own.length && start + end >= own.length;
}

describe('addEntry', () => {
  test('starts a file with a heading', () => {
    expect(addEntry(null, entry)).toMatch(
      /^# Calibration log\n\n[^\n]+\n\n<!-- shimwright entry second%2Dround [0-9a-f]{16} -->\n## 2026-05-02: take second-round\n/,
    );
    expect(addEntry('', entry)).toBe(addEntry(null, entry));
  });

  test('puts the newest first, below the file’s own heading and introduction', () => {
    const own = '# Our log\n\nKept since 2019.\n\n## 2025-11-03: by hand\n\nMoved the gong.\n';
    const once = addEntry(own, entry);
    const twice = addEntry(once, later());
    const heads = [...twice.matchAll(/^##? .*$/gm)].map(([head]) => head);
    expect(heads).toEqual([
      '# Our log',
      '## 2026-06-01: take third-round',
      '## 2026-05-02: take second-round',
      '## 2025-11-03: by hand',
    ]);
    expect(once.replace(`${entry}\n`, '')).toBe(own);
  });

  test('the same take with the same content is added once, whatever a person did to the entry since', () => {
    const once = addEntry(null, entry);
    expect(addEntry(once, entry)).toBe(once);
    const signed = once
      .replace('- Done by:', '- Done by: the two of us')
      .replace('## 2026-05-02', '## The second of May');
    expect(addEntry(signed, entry)).toBe(signed);
  });

  test('the same take with another result gets another entry, and the earlier one stays', () => {
    const changed = exampleReport();
    changed.groups[4] = { ...changed.groups[4], meanMs: 4.31 };
    const both = addEntry(addEntry(null, entry), renderEntry(changed));
    expect(both).toContain(entry);
    expect(both.match(/<!-- shimwright entry/g)).toHaveLength(2);
  });

  test('keeps the file’s line ends, its byte-order mark and a last line without an end', () => {
    const own = '\uFEFF# Log\r\n\r\nNotes without an end';
    const whole = addEntry(own, entry);
    expect(whole.startsWith(own)).toBe(true);
    expect(whole.replaceAll('\r\n', '')).not.toMatch(/[\r\n]/);
    expect(whole).toContain('an end\r\n\r\n<!-- shimwright entry');
  });

  test('front matter, code and comments are not taken for headings', () => {
    const own =
      '---\ntitle: log\n## no heading\n---\n# Log\n\n```\n## in code\n```\n\n<!--\n## in a comment\n-->\n\nText\n';
    expect(addEntry(own, entry)).toBe(`${own}\n${entry}`);
  });

  test('an underlined heading is one; the line above it stays with it', () => {
    expect(addEntry('Log\n===\n\nMay\n---\n\nNotes\n', entry)).toBe(
      `Log\n===\n\n${entry}\nMay\n---\n\nNotes\n`,
    );
  });

  test('a fence or comment that is never closed does not swallow the entry', () => {
    expect(addEntry('# Log\n\n```\ncode\n', entry)).toBe(`# Log\n\n${entry}\n\`\`\`\ncode\n`);
    expect(addEntry('# Log\n\n<!-- note\n', entry)).toBe(`# Log\n\n${entry}\n<!-- note\n`);
  });

  const line = fc.oneof(
    fc.constantFrom(
      '',
      '# A',
      '## B',
      '### C',
      '---',
      '===',
      '```',
      '~~~',
      '<!--',
      '-->',
      '<!-- x -->',
      '- Done by:',
      '| a |',
      '    code',
    ),
    fc.constantFrom(`<!-- shimwright entry second%2Dround 0123456789abcdef -->`, ...hostileWords),
    fc.string({ unit: 'binary', maxLength: 12 }),
  );
  const page = fc
    .tuple(
      fc.boolean(),
      fc.array(fc.tuple(line, fc.constantFrom('\n', '\r\n', '\r')), { maxLength: 14 }),
      line,
    )
    .map(
      ([mark, lines, last]) => (mark ? '\uFEFF' : '') + lines.map((parts) => parts.join('')).join('') + last,
    );

  test('whatever a person wrote, it is there afterwards, character for character', () => {
    fc.assert(
      fc.property(page, (own) => {
        const whole = addEntry(own, entry);
        expect(isUntouched(own, whole)).toBe(true);
        expect(whole.replaceAll('\r\n', '\n')).toContain(entry.trimEnd());
        expect(addEntry(whole, entry)).toBe(whole);
        const outcome = appendOutcome(whole, id, 'joint-AB did what was expected.');
        expect(isUntouched(whole, outcome)).toBe(true);
        expect(outcome).toContain('**Outcome:** joint-AB did');
      }),
      { seed: 11, numRuns: 600 },
    );
  });

  test('takes of any name have entries that are told apart and found again', () => {
    fc.assert(
      fc.property(fc.oneof(fc.constantFrom(...hostileWords), fc.string({ unit: 'binary' })), (take) => {
        const named = later(take);
        const whole = addEntry(addEntry(null, entry), named);
        expect(whole.match(/^<!-- shimwright entry \S+ [0-9a-f]{16} -->$/gm)).toHaveLength(2);
        expect(addEntry(whole, named)).toBe(whole);
      }),
      { seed: 12, numRuns: 300 },
    );
  });
});

test('only a repeat of the newest is a repeat: what was fitted, changed and fitted again is three entries', () => {
  const fitted = (before: number, after: number) =>
    renderApplied({
      date: '2026-05-03',
      take: 'second-round',
      fitted: [{ adjuster: 'joint-NS', unit: 'shim', before, after, proposed: 4 }],
      foreseen: null,
    });
  const rows = (text: string) => [...text.matchAll(/^\| joint-NS .*$/gm)].map(([row]) => row);
  let log = addEntry('# Log\n\nOurs.\n', entry);
  for (const step of [fitted(2, 3), fitted(3, 2), fitted(2, 3), fitted(2, 3)]) log = addEntry(log, step);
  expect(rows(log)).toEqual([
    '| joint-NS | shim | 2 | 3 | 4 (not followed) |',
    '| joint-NS | shim | 3 | 2 | 4 (not followed) |',
    '| joint-NS | shim | 2 | 3 | 4 (not followed) |',
  ]);
  expect(fittedInLog(log, ['joint-NS', 'lever']).get('joint-NS')?.setting).toBe(3);
  // A take measured since does not make the last work a new one.
  const measured = addEntry(log, later());
  expect(addEntry(measured, fitted(2, 3))).toBe(measured);
  // Results that come, go and come back are each told.
  const other = { ...exampleReport(), findings: [] };
  const both = addEntry(addEntry(log, renderEntry(other), true), entry, true);
  expect(both.match(/## 2026-05-02: take second-round/g)).toHaveLength(3);
});

test('what is fitted is read back from the table as people see it, negative settings and odd names too', () => {
  const rows = [
    { adjuster: 'ring_1.de', unit: 'notch', before: 0, after: -12, proposed: null },
    { adjuster: 'joint-AB', unit: 'shim', before: 3, after: 3, proposed: 5 },
  ];
  const text = renderApplied({ date: '2026-05-03', take: null, fitted: rows, foreseen: null });
  expect(text).toContain('Left as they are: joint-AB (3; proposed 5).');
  const log = addEntry('# Log\n\n| ring_1.de | notch | 0 | 7 | – |\n', text);
  const fitted = fittedInLog(log, ['ring_1.de', 'joint-AB']);
  expect([...fitted].map(([id, { setting }]) => [id, setting])).toEqual([['ring_1.de', -12]]);
});

test('a take analysed anew stands above its own earlier entry, not at the top; what is new stands there', () => {
  const log = addEntry(
    addEntry(addEntry(null, entry), renderEntry({ ...exampleReport(), take: 'old' })),
    later(),
  );
  const anew = renderEntry({ ...exampleReport(), findings: [] });
  const heads = (text: string) => [...text.matchAll(/^## .*$/gm)].map(([head]) => head.slice(15));
  expect(heads(addEntry(log, anew, true))).toEqual([
    'take third-round',
    'take old',
    'take second-round',
    'take second-round',
  ]);
  expect(heads(addEntry(log, anew))[0]).toBe('take second-round');
  expect(addEntry(addEntry(log, anew, true), anew, true)).toBe(addEntry(log, anew, true));
});

describe('the entry', () => {
  test('is short: verdict, last change, what to change, three worst, pins to move, the way to the report', () => {
    const report = exampleReport();
    const group = (k: number) => ({ ...report.groups[4], channel: 'gong', sector: `S${k}`, meanMs: 5 + k });
    const many = {
      ...report,
      take: 'june [2]',
      barrel: {
        ...report.barrel!,
        sectors: Array.from({ length: 40 }, (_, k) => ({ id: `S${k}`, from: k })),
      },
      groups: Array.from({ length: 40 }, (_, k) => group(k)),
      findings: Array.from({ length: 9 }, (_, k) => ({
        kind: 'misplaced-pin' as const,
        severity: 'warning' as const,
        channel: 'gong',
        step: 10 * k,
        foundStep: 10 * k + 1,
        message: 'm',
      })),
      outcome: {
        since: 'may',
        groups: [],
        adjusters: [
          {
            adjuster: 'joint-AB',
            from: 3,
            to: 4,
            expectedMs: 1,
            seenMs: 1,
            seenCi95Ms: 0.1,
            did: 'as-expected' as const,
          },
        ],
        worstBeforeMs: 2,
        worstAfterMs: 1,
        line: 'joint-AB did what was expected.',
      },
    };
    const text = renderEntry(many);
    expect(text.trimEnd().split('\n').length).toBeLessThanOrEqual(16);
    expect(text).toMatch(
      /Did the last change work\? Fitted since take may: joint-AB 3 → 4\. joint-AB did what/,
    );
    expect(text).toMatch(
      /^- Furthest out: Gong in S39 \+44\.00[^;]*; Gong in S38 [^;]*; Gong in S37 [^;]*\.$/m,
    );
    expect(text).toMatch(/^- Pins to move: Gong from step 1 to 0; Gong from step 11 to 10; /m);
    expect(text).toContain('](takes/june%20%5B2%5D/report.md)');
    expect(text).toMatch(/^- To change: joint-AB 3 → 5 \(add 2 shim\)/m);
    expect(renderEntry(report, undefined, 'elsewhere/a(b)')).toContain('](elsewhere/a%28b%29/report.md)');
  });

  test('leaves lines for the person to sign', () => {
    expect(entry).toMatch(/- Done by:\n- On:\n- Really fitted:\n- Remarks:\n$/);
  });

  test('a person’s own template keeps the mark by which the entry is known', () => {
    const own = renderEntry(exampleReport(), {
      file: 'templates/entry.md.hbs',
      text: '\r\n## {{take}}\r\nshort\r\n',
    });
    expect(own).toBe(`${entry.split('\n')[0]}\n## second-round\nshort\n`);
  });

  test('what was really fitted is recorded beside what was proposed', () => {
    const applied = renderApplied({
      date: '2026-05-03T09:00',
      take: 'second-round',
      fitted: [
        { adjuster: 'joint-AB', unit: 'shim', before: 3, after: 4, proposed: 5 },
        { adjuster: 'lever-gong', unit: 'shim', before: 2, after: 1, proposed: 1 },
      ],
      foreseen: exampleReport(),
    });
    expect(applied).toContain('## 2026-05-03: settings fitted after take second-round');
    expect(applied).toContain('| joint-AB | shim | 3 | 4 | 5 (not followed) |');
    expect(applied).toContain('| lever-gong | shim | 2 | 1 | 1 |');
    expect(applied).toContain('largest mean lateness from 4.30 ms, as measured, to 0.60 ms.');
  });

  test('an id ends no comment and has no spaces of its own', () => {
    for (const word of hostileWords) expect(entryId(namedWith(word))).toMatch(/^[\w%.~]+ [0-9a-f]{16}$/);
  });
});

test('the digest is FNV-1a, 64 bit: values for "", "a" and "foobar" as published with it (from memory)', () => {
  expect(digest('')).toBe('cbf29ce484222325');
  expect(digest('a')).toBe('af63dc4c8601ec8c');
  expect(digest('foobar')).toBe('85944171f73967e8');
});

describe('appendOutcome', () => {
  const both = addEntry(addEntry('# Log\n\n## By hand\n\nNotes\n', entry), later());

  test('stands at the end of its own entry, below what a person wrote there', () => {
    const noted = both.replace('- Remarks:\n\n## By hand', '- Remarks:\n\nIt rang well.\n\n## By hand');
    const text = appendOutcome(noted, id, 'joint-AB did what was expected | 1.9 ms');
    expect(text).toContain(
      'It rang well.\n\n**Outcome:** joint-AB did what was expected \\| 1.9 ms\n\n## By hand',
    );
  });

  test('is added once; a further outcome stands below it; another entry or none is left alone', () => {
    const once = appendOutcome(both, id, 'first');
    expect(appendOutcome(once, id, 'first')).toBe(once);
    expect(appendOutcome(once, id, 'second')).toContain('**Outcome:** first\n\n**Outcome:** second\n');
    expect(appendOutcome(both, 'nobody 0000000000000000', 'first')).toBe(both);
  });
});
