/**
 * What takes long for its size: files made to be slow. Here they have an eighth of the size at which their reader refuses
 * them or that was thought of; FUZZ_SIZE=1 tries that itself.
 */
import { expect, test } from 'vitest';
import { referenceMs } from './effort.ts';
import { readers } from './readers.ts';
import { tryOne } from './trial.ts';

/** Nobody waits longer for one file: some eight seconds of a quiet computer, in pieces of the reference's work. */
const longestAtFullSize = 600;
const least = 75;
const size = Number(process.env.FUZZ_SIZE ?? 1 / 8);
const mib = size * 2 ** 20;

const repeated = (head: string, part: string, bytes: number, tail = '') =>
  head + part.repeat(Math.floor(bytes / part.length)) + tail;
const many = (count: number, item: (i: number) => string) =>
  Array.from({ length: Math.ceil(count * size) }, (_, i) => item(i)).join(',');

test.each<readonly [reader: string, what: string, content: () => string]>([
  ['WebVTT', 'nested voices', () => repeated('WEBVTT\n\n00:00.010 --> 00:00.020\n', '<v>', mib)],
  ['WebVTT', 'names of no character', () => repeated('WEBVTT\n\n00:00.010 --> 00:00.020\n', '&x;', mib)],
  [
    'WebVTT',
    'cues of such names',
    () => repeated('WEBVTT\n\n', `00:00.010 --> 00:00.020\n${'&x;<v>'.repeat(160)}\n\n`, 4 * mib),
  ],
  [
    'WebVTT',
    'endless settings',
    () => `WEBVTT\n\n00:00.010 --> 00:00.020 ${many(100_000, (i) => `a${i}:1`).replaceAll(',', ' ')}\nx\n`,
  ],
  ['delimited text', 'quotes that never close', () => repeated('time,label\n0.1,"', 'a"b,"c\n', 4 * mib)],
  ['delimited text', 'nothing but quotes', () => repeated('time,label\n', '"', 4 * mib)],
  ['delimited text', 'one endless line', () => repeated('0.1', ',0.1', 8 * mib)],
  ['delimited text', 'nothing but spaces', () => repeated('', ' ', 8 * mib)],
  ['delimited text', 'an endless number', () => repeated('time,label\n', '9', 4 * mib, ',x\n')],
  ['corrections.csv', 'nothing but quotes', () => repeated('time,channel,action,note\n', '"', 4 * mib)],
  [
    'corrections.csv',
    'quotes that never close',
    () => repeated('time,channel,action,note\n1,"', 'a"b,"c\n', 4 * mib),
  ],
  ['corrections.csv', 'many rows', () => repeated('time,channel,action,note\n', '1,bell,add,x\n', 4 * mib)],
  ['pattern.csv', 'one pin over and over', () => repeated('step,channel\n', '3,bell\n', 4 * mib)],
  ['pattern.csv', 'an endless channel', () => repeated('step,channel\n3,', 'x', 4 * mib)],
  ['pattern.csv', 'an endless step', () => repeated('step,channel\n', '9', 4 * mib)],
  ['pattern.csv', 'nothing but quotes', () => repeated('step,channel\n3,', '"', 4 * mib)],
  ['take.jsonc', 'deep nesting', () => repeated('{"labels":', '[', mib)],
  ['take.jsonc', 'deep nesting that closes', () => `{"labels":${'['.repeat(200_000)}${']'.repeat(200_000)}}`],
  ['take.jsonc', 'as many unknown keys as fit', () => `{${many(250_000, (i) => `"k${i}":1`)}}`],
  ['take.jsonc', 'as many faulty labels as fit', () => `{"labels":{${many(200_000, (i) => `"k${i}":1`)}}}`],
  ['take.jsonc', 'as many labels as fit', () => `{"labels":{${many(150_000, (i) => `"k${i}":"bell"`)}}}`],
  ['take.jsonc', 'as many faulty tracks as fit', () => `{"tracks":[${many(1_000_000, () => '1')}]}`],
  ['take.jsonc', 'an endless key', () => repeated('{"', 'k', 3 * mib, '":1}')],
  ['take.jsonc', 'comments without end', () => repeated('', '/**/', 3 * mib)],
  ['machine.jsonc', 'deep nesting', () => repeated('{"barrel":', '{"a":', mib)],
  ['machine.jsonc', 'as many unknown keys as fit', () => `{${many(250_000, (i) => `"k${i}":1`)}}`],
  ['machine.jsonc', 'as many faulty channels as fit', () => `{"channels":[${many(1_000_000, () => '1')}]}`],
  [
    'machine.jsonc',
    'as many channels as fit',
    () =>
      `{"name":"x","barrel":{"steps":2,"stepsPerBeat":1,"diameterMm":1,"sectors":[{"id":"A","from":0}]},"reference":"c0","channels":[${many(100_000, (i) => `{"id":"c${i}"}`)}]}`,
  ],
  ['report.json', 'deep nesting', () => repeated('{"hits":', '[', mib)],
  ['report.json', 'deep nesting that closes', () => `{"hits":${'['.repeat(200_000)}${']'.repeat(200_000)}}`],
  ['report.json', 'as many faulty hits as fit', () => `{"schema":1,"hits":[${many(1_000_000, () => '1')}]}`],
  ['voices/*.json', 'deep nesting', () => repeated('{"samples":', '[', mib)],
  ['voices/*.json', 'samples that are none', () => `{"samples":[${many(1_000_000, () => 'null')}]}`],
  ['AIFF', 'lists of markers', () => repeated('FORM\0\0\0\0AIFF', 'MARK\0\0\0\0', mib)],
  ['RIFF, RIFX and RF64', 'as many chunks as fit', () => repeated('RIFF\0\0\0\0WAVE', 'cue \0\0\0\0', mib)],
  ['FLAC', 'empty blocks', () => repeated('fLaC', '\x01\0\0\0', mib)],
  ['report template', 'nothing but blocks', () => repeated('', '{{#if take}}{{/if}}', 60_000)],
  ['report template', 'braces that never close', () => repeated('', '{{', 60_000)],
  ['report template', 'lookups within lookups', () => repeated('{{a ', '(b ', 60_000)],
  ['report template', 'named lookups within lookups', () => repeated('{{a ', 'b=(c ', 60_000)],
  [
    'report template',
    'one condition after another',
    () => repeated('{{#if a}}', '{{else if a}}', 60_000, '{{/if}}'),
  ],
  ['report template', 'nothing but names', () => repeated('', '{{a}}', 60_000)],
  ['report template', 'names in one another’s place', () => repeated('{{a ', 'b ', 60_000, '}}')],
  ['report template', 'an endless text', () => repeated('', 'x', mib)],
])('%s: %s', async (name, _, content) => {
  const reader = readers.find((each) => each.name === name)!;
  const input = new TextEncoder().encode(content());
  // What grows with the square of the size is beyond this at an eighth only where it is far beyond at full size.
  const most = Math.max(least, longestAtFullSize * size);
  // Programs beside this one take its caches away, which only lengthens it: the shortest of three is the reader's own.
  const times: number[] = [];
  while (times.length < 3 && !(times.at(-1)! < most))
    times.push((await tryOne(reader, input)).ms / referenceMs());
  expect(Math.min(...times)).toBeLessThan(most);
});

/** The smallest inputs of defects that the long run found: each made the reader go on for ever, or fail without a word. */
const bytes = (text: string) => Uint8Array.from(text, (c) => c.charCodeAt(0));
test.each([
  // A length of five bytes is negative to the library, which went back and read the same until memory was full.
  ['pattern.mid', bytes('MThd\0\0\0\x06\0\0\0\x01\x01\xe0MTrk\0\0\0\x0a\0\xff\x06\xff\xff\xff\xff\x78xx')],
  ['MIDI markers', bytes('MThd\0\0\0\x06\0\0\0\x01\x01\xe0MTrk\0\0\0\x0a\0\xff\x06\xff\xff\xff\xff\x78xx')],
  // A time before the first became a pin at a step below 0.
  ['pattern.mid', bytes('MThd\0\0\0\x06\0\0\0\x01\x01\xe0MTrk\0\0\0\x08\xff\xff\xf8\xc0\0\x90\x24\x40')],
  // A name that a file holds broke the line that told of it.
  ['machine.jsonc', bytes('{"\\u0000":{}}')],
  ['pattern.csv', bytes(`step,channel\n${'{{#if take}}'.repeat(500)},bell`)],
  ['pattern.csv', bytes('step,channel\n"3\n4",bell')],
  ['pattern.csv', bytes(`step,channel\n3,${'\x02'.repeat(400)}`)],
])('%s: found by chance, refused in one line', async (name, input) => {
  const reader = readers.find((each) => each.name === name)!;
  expect(await tryOne(reader, input)).toMatchObject({ refused: true });
});
