import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { machineJsonSchema, takeJsonSchema } from '../../extension/schemas/json-schema.ts';
import { readJsonc } from '../../analysis/input/jsonc.ts';
import { insteadOf, nearest } from '../../analysis/input/nearest.ts';
import { takeSchema } from '../../analysis/take/schema.ts';

describe('JSON with comments', () => {
  const schema = z.strictObject({
    size: z.number().max(9).default(3),
    kind: z.enum(['bell', 'drum']).optional(),
  });
  const messageOf = (text: string) => {
    try {
      readJsonc('a.jsonc', text, schema);
    } catch (error) {
      return (error as Error).message;
    }
    return 'nothing wrong';
  };
  it('gives the checked value, defaults filled in', () =>
    expect(readJsonc('a', '/* none */ { "kind": "drum", }', schema).value).toEqual({
      size: 3,
      kind: 'drum',
    }));
  it('makes later problems with the place, or the nearest part that is there', () => {
    const { problem } = readJsonc('a.jsonc', '{\n  "size": 4 }', schema);
    expect(problem(['size'], 'no', 'mend').message).toBe('a.jsonc: 2:11 size: no; mend');
    expect(problem(['kind', 3, 'x y'], 'no', 'mend').message).toBe('a.jsonc: 1:1 kind[3]["x y"]: no; mend');
  });
  it.each([
    ['{ "kind": "gong" }', 'a.jsonc: 1:11 kind: "gong" is not known here; use one of "bell", "drum"'],
    ['{ "kind": "bel" }', 'a.jsonc: 1:11 kind: "bel" is not known here; write "bell"'],
    ['{ "size": 10 }', 'a.jsonc: 1:11 size: 10 is too large; write 9 or less'],
    ['{ "size": null }', 'a.jsonc: 1:11 size: null stands where a number belongs; write a number'],
    ['{ "kind": 4,\r\n"size": "x" }', 'a.jsonc: 1:11 kind: 4 is not known here; use one of "bell", "drum"'],
    ['{ "a": 1,\r\n"b": 2 }', 'a.jsonc: 1:3 a: the key "a" is not known here; use one of "size", "kind"'],
    [
      '{ "size": 4 } }',
      'a.jsonc: 1:15: the file goes on after its end; remove this, or the bracket too many before it',
    ],
    ['{ "size": 4', 'a.jsonc: 1:12: a "}" is missing; close the object'],
    ['{ "size": .4 }', 'a.jsonc: 1:11: this word is not JSON; put text in double quotes'],
    ['{ /* }', 'a.jsonc: 1:3: a comment is not closed; end it with */'],
  ])('%j', (text, message) => expect(messageOf(text)).toBe(message));
  it('of a take explains its own fields', () => {
    expect(() => readJsonc('take.jsonc', '{ "recorded": "yesterday" }', takeSchema)).toThrow(
      'take.jsonc: 1:15 recorded: "yesterday" cannot be used here; write an ISO 8601 date or time',
    );
    expect(() => readJsonc('take.jsonc', '{ "tracks": { "file": "a.wav" } }', takeSchema)).toThrow(
      'take.jsonc: 1:13 tracks: {"file":"a.wav"} stands where a list [ ] belongs; write a list [ ]',
    );
  });
});

describe('the name that was meant', () => {
  it.each([
    ['gong-a', ['gong-a', 'gong-b'], 'gong-a'],
    ['gonga', ['block', 'gong-a'], 'gong-a'],
    ['Gong-A', ['gong-b', 'gong-a'], 'gong-a'],
    ['chanels', ['channels', 'adjusters'], 'channels'],
    ['tuba', ['gong', 'bell'], null],
    ['', ['A'], null],
    ['D', ['A', 'B'], null],
    ['b', ['A', 'B'], 'B'],
    ['x', [], null],
  ])('of %j among %j', (word, names, meant) => expect(nearest(word, names)).toBe(meant));
  it('is said as a mend', () => {
    expect(insteadOf('gon', ['gong'])).toBe('write "gong"');
    expect(insteadOf('tuba', ['gong', 'bell'])).toBe('use one of "gong", "bell"');
    expect(insteadOf('tuba', [])).toBe('remove it');
    expect(insteadOf('?', [...'abcdefghij'])).toBe('use one of "a", "b", "c", "d", "e", "f", "g", "h" …');
  });
});

describe('the schemas for editors', () => {
  it('name every field and refuse others', () => {
    const machine = machineJsonSchema() as {
      properties: Record<string, unknown>;
      required: string[];
      additionalProperties: boolean;
    };
    expect(Object.keys(machine.properties)).toEqual(
      expect.arrayContaining(['barrel', 'channels', 'adjusters', 'limits', 'drive']),
    );
    // what has a default may be left out
    expect(machine.required.toSorted()).toEqual(['barrel', 'channels', 'name', 'reference']);
    expect(machine.additionalProperties).toBe(false);
    const take = takeJsonSchema() as { required?: string[] };
    expect(take.required ?? []).toEqual([]);
  });
});
