/**
 * Spoilt files for every reader: what a bad card, a broken program or somebody who means harm does to a file that was
 * whole. spoil.ts spoils, readers.ts lists the readers with whole files of theirs, trial.ts tries one, fuzz.test.ts
 * tries a few of each, and run.ts ("npm run fuzz") tries them for as long as asked.
 */
import type { Random } from '../../samples/random.ts';

/** No spoilt file becomes longer: the readers' bounds on size have tests of their own (bounds.test.ts). */
const longestBytes = 2 ** 17;

type Spoiling = (bytes: number[], random: Random) => number[];

const encode = (text: string) => [...new TextEncoder().encode(text)];

const marks = [
  [0xef, 0xbb, 0xbf],
  [0xff, 0xfe],
  [0xfe, 0xff],
];
/** A lone surrogate as some programs write it in UTF-8, an overlong slash, a character cut off. */
const badUtf8 = [
  [0xed, 0xa0, 0x80],
  [0xc0, 0xaf],
  [0xf0, 0x9f],
];
const words = [
  ...['1e999', '-1e999', '9'.repeat(400), '1e308', '-0', '0x10', 'NaN', 'Infinity', '0.1.2', '4294967296'],
  ...['null', 'true', '""', '{}', '[]', '"__proto__"', '"constructor"', '"\\ud800"', '\\u0000', '../../x'],
  ...['\r', '\r\n', '\n', '\u2028', '\0', '\t', '"', "'", ',', ';', '=1+1', '--option', '/*', '//', '#'],
  ...['-->', '<b>', '&amp;', '{{', '}}', '{{#each groups}}', '{{/each}}', '{{> x}}', '../', '@root.', '{{{'],
].map(encode);
const brackets = ['[', '{"a":', '(', '{{#if take}}', '<b>', '"', '{{lookup (lookup '].map(encode);

/** Each a way in which files are spoilt; `at` is anywhere in the file, its end included. */
const spoilings: readonly Spoiling[] = [
  // a flipped bit
  (bytes, random) => {
    if (bytes.length > 0) bytes[random.integer(bytes.length)] ^= 1 << random.integer(8);
    return bytes;
  },
  // a byte that is anything
  (bytes, random) => {
    if (bytes.length > 0) bytes[random.integer(bytes.length)] = random.integer(256);
    return bytes;
  },
  // cut off, at either end
  (bytes, random) => bytes.slice(0, random.integer(bytes.length + 1)),
  (bytes, random) => bytes.slice(random.integer(Math.min(40, bytes.length + 1))),
  // a part put in elsewhere, or left out
  (bytes, random) => {
    const from = random.integer(bytes.length + 1);
    const part = bytes.slice(from, from + random.integer(60));
    const at = random.integer(bytes.length + 1);
    return [...bytes.slice(0, at), ...part, ...bytes.slice(at + random.integer(8))];
  },
  // a length that lies: two, four or eight bytes of one kind, or any number of either byte order
  (bytes, random) => {
    const at = random.integer(bytes.length + 1);
    return bytes.fill(random.pick([0, 1, 0x7f, 0x80, 0xff]), at, at + random.pick([2, 4, 8]));
  },
  (bytes, random) => {
    const at = random.integer(bytes.length + 1);
    const size = Math.floor(2 ** random.between(0, 32));
    const four = [24, 16, 8, 0].map((down) => (size >>> down) & 0xff);
    return [
      ...bytes.slice(0, at),
      ...(random.uniform() < 0.5 ? four : four.reverse()),
      ...bytes.slice(at + 4),
    ];
  },
  // byte order marks, bytes that are no UTF-8, words that mean something to somebody
  (bytes, random) => [...random.pick(marks), ...bytes],
  (bytes, random) => put(bytes, random.pick(badUtf8), random),
  (bytes, random) => put(bytes, random.pick(words), random),
  // a number or a word in place of another
  (bytes, random) => replaced(bytes, /-?\d+(\.\d+)?/g, random),
  (bytes, random) => replaced(bytes, /"[^"\n]*"/g, random),
  // nested deeply, or the same over and over
  (bytes, random) => {
    const one = random.pick(brackets);
    return put(bytes, Array.from({ length: 2 ** random.integer(13) }, () => one).flat(), random);
  },
  (bytes, random) => {
    const from = random.integer(bytes.length + 1);
    const part = bytes.slice(from, from + random.integer(30));
    return put(bytes, Array.from({ length: 2 ** random.integer(10) }, () => part).flat(), random);
  },
  // line ends of another kind, some of them
  (bytes, random) =>
    bytes.flatMap((byte) =>
      byte === 10 && random.uniform() < 0.3 ? random.pick([[13], [13, 10], [10, 10]]) : [byte],
    ),
];

function put(bytes: readonly number[], part: readonly number[], random: Random): number[] {
  const at = random.integer(bytes.length + 1);
  return [...bytes.slice(0, at), ...part, ...bytes.slice(at)];
}

/** One place where the text fits the pattern, and a word that means something there instead. */
function replaced(bytes: readonly number[], pattern: RegExp, random: Random): number[] {
  const text = String.fromCharCode(...bytes.slice(0, 8192)); // a byte a character: places are bytes
  const found = [...text.matchAll(pattern)];
  if (found.length === 0) return [...bytes];
  const { index, 0: old } = random.pick(found);
  return [...bytes.slice(0, index), ...random.pick(words), ...bytes.slice(index + old.length)];
}

/** A whole file spoilt in one to four ways, now and then with a part of another file in it. */
export function spoilt(whole: readonly Uint8Array[], random: Random): Uint8Array {
  let bytes = [...random.pick(whole)];
  if (random.uniform() < 0.1) {
    const other = random.pick(whole);
    bytes = [
      ...bytes.slice(0, random.integer(bytes.length + 1)),
      ...other.slice(random.integer(other.length)),
    ];
  }
  for (let n = 1 + random.integer(4); n > 0; n--) {
    bytes = random.pick(spoilings)(bytes, random).slice(0, longestBytes);
  }
  return Uint8Array.from(bytes);
}
