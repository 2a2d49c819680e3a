// Which files of an inbox are whole, and how an answer about several is read.
import { expect, test } from 'vitest';
import {
  choiceIn,
  isAnyGrowing,
  look,
  nothingLooked,
  type InboxFile,
  type Looked,
} from '../../extension/common/inbox.ts';
import { whichWords } from '../../extension/common/inbox-text.ts';

const wallMs = 1e12;
const file = (name: string, sizeBytes: number, agoS: number): InboxFile => ({
  name,
  sizeBytes,
  modifiedMs: wallMs - 1000 * agoS,
});

/** Names that are whole after looks at these times, each with the files found then. */
function after(looks: readonly (readonly [nowS: number, files: readonly InboxFile[]])[]) {
  let looked: Looked = nothingLooked;
  let whole: readonly InboxFile[] = [];
  for (const [nowS, files] of looks) ({ looked, whole } = look(looked, files, nowS, wallMs));
  return { names: whole.map(({ name }) => name), isGrowing: isAnyGrowing(looked, whole) };
}

test('a recording is whole when it is the same for ten seconds, an old one at the second look', () => {
  const fresh = file('a.wav', 10, 3);
  expect(after([[0, [fresh]]])).toEqual({ names: [], isGrowing: true });
  expect(
    after([
      [0, [fresh]],
      [8, [fresh]],
    ]),
  ).toEqual({ names: [], isGrowing: true });
  expect(
    after([
      [0, [fresh]],
      [8, [fresh]],
      [10, [fresh]],
    ]),
  ).toEqual({ names: ['a.wav'], isGrowing: false });
  const old = file('b.wav', 10, 3600);
  expect(
    after([
      [0, [old]],
      [2, [old]],
    ]),
  ).toEqual({ names: ['b.wav'], isGrowing: false });
  // Copied with its times kept: old, and growing all the same.
  expect(
    after([
      [0, [old]],
      [2, [{ ...old, sizeBytes: 20 }]],
    ]),
  ).toEqual({ names: [], isGrowing: true });
  // Grown at the last moment: the ten seconds begin anew.
  const grown = { ...fresh, sizeBytes: 11 };
  expect(
    after([
      [0, [fresh]],
      [9, [grown]],
      [12, [grown]],
    ]).names,
  ).toEqual([]);
  expect(
    after([
      [0, [fresh]],
      [9, [grown]],
      [19, [grown]],
    ]).names,
  ).toEqual(['a.wav']);
});

test('empty, hidden and unfinished files are waited for or passed over', () => {
  const files = ['.a.wav', 'b.wav.part', 'c/.d.wav', '~e.wav', 'f.tmp'].map((name) => file(name, 10, 3600));
  expect(
    after([
      [0, files],
      [60, files],
    ]),
  ).toEqual({ names: [], isGrowing: false });
  const empty = [file('a.wav', 0, 3600)];
  expect(
    after([
      [0, empty],
      [60, empty],
    ]),
  ).toEqual({ names: [], isGrowing: false });
});

test.each([
  ['', []],
  ['n', []],
  ['y', [[1], [3]]],
  ['2', [[2]]],
  [' 1, 3 ', [[1], [3]]],
  ['1+2 3', [[1, 2], [3]]],
  ['4', null],
  ['0', null],
  ['1 1', null],
  ['1+2 2', null],
  ['all', null],
  ['1.5', null],
])('of three, "%s" is %j', (answer, takes) => {
  expect(choiceIn(answer, 3, [1, 3])).toEqual(takes);
});

test('what is said of each', () => {
  const fit = { tune: undefined, turns: 3, ofSounds: 0.987, ofPins: 0.954 };
  const names = ['Mill Lane', 'Weir Lane'];
  expect(whichWords({ kind: 'fits', machine: 1, by: 'pattern', fit }, names)).toBe(
    'Weir Lane (98 % of its sounds at pins, 95 % of pins heard)',
  );
  expect(whichWords({ kind: 'either', machines: [0, 1] }, names)).toBe(
    'Mill Lane or Weir Lane: their patterns fit alike, and voices do not tell',
  );
  expect(whichWords({ kind: 'none', why: 'no-pattern' }, ['Mill Lane'])).toBe(
    'not Mill Lane, by its pattern',
  );
  expect(
    whichWords({ kind: 'perhaps', machine: 0, why: 'short', fit: { ...fit, tune: 'march' } }, names),
  ).toBe(
    'perhaps Mill Lane, march: less than a turn of the barrel (98 % of its sounds at pins, 95 % of pins heard)',
  );
});
