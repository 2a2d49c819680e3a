import { describe, expect, test } from 'vitest';
import { InputProblem } from '../../analysis/input/problem.ts';
import { fill } from '../../analysis/report/template.ts';

const file = 'templates/report.md.hbs';
const groups = Array.from({ length: 200 }, (_, i) => ({ name: `c${i}`, sectors: [1, 2, 3] }));
const view = { machine: 'Tide Lane', groups };
const filled = (text: string) => fill({ file, text }, view);

describe('a template’s time and length are bounded, and the line says so', () => {
  const inLoops = (depth: number, inner: string) =>
    '{{#each @root.groups}}'.repeat(depth) + inner + '{{/each}}'.repeat(depth);
  const doubling = Array.from(
    { length: 60 },
    (_, i) => `{{#*inline "p${i}"}}{{> p${i + 1}}}{{> p${i + 1}}}{{/inline}}`,
  );

  test.each([
    ['loops within loops', inLoops(6, '{{name}}')],
    ['loops within loops that write nothing', inLoops(6, '')],
    [
      'loops that hide in a block of a name',
      '{{#groups}}{{#@root.groups}}{{#@root.groups}}{{#@root.groups}}x{{/@root.groups}}{{/@root.groups}}{{/@root.groups}}{{/groups}}',
    ],
    ['parts that take in two others each', `${doubling.join('')}{{#*inline "p60"}}x{{/inline}}{{> p0}}`],
    ['long text in loops', inLoops(3, 'x'.repeat(50_000))],
    ['many lookups in loops', inLoops(3, '{{name}}'.repeat(7000))],
    ['an endless template', 'x'.repeat(300_000)],
    ['names by the thousand in one tag', `{{a ${'b '.repeat(20_000)}}}`],
    ['blocks that are nested by the thousand', '{{#if machine}}'.repeat(5000) + '{{/if}}'.repeat(5000)],
    ['blocks that are never closed', '{{#if machine}}'.repeat(4000)],
    ['lookups in lookups', `{{${'lookup (lookup '.repeat(2000)}`],
    ['a part that takes itself in', '{{#*inline "a"}}{{> a}}{{/inline}}{{> a}}'],
    ['a counter that is turned back', `${inLoops(5, '{{[] work] -1000000}}')}`],
  ])('%s', (_, text) => {
    // The processor's own time: a busy machine keeps a process waiting for as long as it likes.
    const start = process.cpuUsage();
    expect(() => filled(text)).toThrow(InputProblem);
    const { user, system } = process.cpuUsage(start);
    expect((user + system) / 1000).toBeLessThan(4000);
  });

  test('what a report needs is far within it', () => {
    const text = '{{#each groups}}| {{name}} |{{#each sectors}} {{this}} |{{/each}}\n{{/each}}';
    expect(fill({ file, text }, { groups: Array.from({ length: 15_000 }, () => groups[0]) })).toHaveLength(
      15_000 * 19,
    );
  });
});

describe('nothing but the view’s own values is reached', () => {
  test.each([
    '{{constructor}}',
    '{{machine.constructor}}',
    '{{__proto__}}',
    '{{groups.__proto__}}',
    '{{#with constructor}}{{prototype}}{{/with}}',
    '{{__defineGetter__ "a" "b"}}',
    '{{toString}}',
    '{{helperMissing}}',
    '{{blockHelperMissing "x"}}',
    '{{@root.constructor}}',
    '{{#each (lookup this "constructor")}}reached{{/each}}{{nope}}',
    '{{eval "1"}}',
    '{{process.env}}',
  ])('%s', (text) => {
    let out = '';
    try {
      out = filled(text);
    } catch (error) {
      expect(error).toBeInstanceOf(InputProblem);
    }
    expect(out).toMatch(/^(|\[object Object\])$/);
  });

  test('a lookup by a name that the template makes up reaches nothing', () => {
    for (const name of ['constructor', '__proto__', 'toString', 'valueOf', '__lookupGetter__'])
      expect(
        filled(
          `{{#with (lookup this "${name}")}}reached{{/with}}{{#with (lookup machine "${name}")}}reached{{/with}}`,
        ),
      ).toBe('');
    expect(({} as { polluted?: unknown }).polluted).toBeUndefined();
  });
});
