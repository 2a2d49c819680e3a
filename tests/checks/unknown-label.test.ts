import { expect, test } from 'vitest';
import { unknownLabel } from '../../analysis/checks/unknown-label.ts';
import type { Study } from '../../analysis/checks/check.ts';
import type { Marker, Track } from '../../analysis/take/take.ts';
import { meaningOf } from '../../analysis/take/markers/meaning.ts';
import { machineOf } from '../advice/small.ts';
import { takeOf } from '../strokes/laid.ts';

const machine = machineOf([{ id: 'tick', onBarrel: false }, { id: 'gong' }], ['A', 'B'], []);

/** Markers a second apart with these labels, beside a recording or alone. */
function said(labels: readonly string[], tracks: readonly Track[] = [], file = 'hits.csv') {
  const markers = labels.map((label, i): Marker => {
    const meaning = meaningOf(label, {}, machine);
    return { timeS: i, endS: null, label, file, place: `line ${i + 2}`, meaning };
  });
  const study = { machine, take: { ...takeOf(), markers, tracks } } as unknown as Study;
  return unknownLabel.run(study).map(({ kind, message, file, place }) => [kind, message, file, place]);
}
const recording = [{} as Track];

test('a misspelt label is named with what was probably meant, in a take of markers and beside a recording', () => {
  const finding = [
    'unknown-sound',
    '2 markers of hits.csv are labelled "tik", which names no channel and no sector: write "tick"',
    'hits.csv',
    'line 2',
  ];
  expect(said(['tik', 'gong', 'tik'])).toEqual([finding]);
  expect(said(['tik', 'gong', 'tik'], recording)).toEqual([finding]);
});

test('several misspellings of one name are told together, of several names one by one', () => {
  expect(said(['tik', 'gog', 'tck', 'sector A']).map(([, message]) => message)).toEqual([
    '2 markers of hits.csv are labelled "tik", "tck", which name no channel and no sector: write "tick"',
    '1 marker of hits.csv is labelled "gog", which names no channel and no sector: write "gong"',
    '1 marker of hits.csv is labelled "sector A", which names no channel and no sector: write "sector:A"',
  ]);
});

test('where markers are all there is and none names a strike, any label is worth a word', () => {
  expect(said(['applause', 'speech', 'sector:A']).map(([, message]) => message)).toEqual([
    '2 markers of hits.csv are labelled "applause", "speech", which name no channel and no sector: use one of "tick", "gong", "sector:A", "sector:B"',
  ]);
  expect(said(['', '']).map(([, message]) => message)).toEqual([
    '2 markers of hits.csv have no label, and no channel is called "hits" like the file: use one of "tick", "gong", "sector:A", "sector:B"',
  ]);
});

test('a person’s own notes are left in peace', () => {
  expect(said(['applause', 'gong', 'tick'])).toEqual([]);
  expect(said(['applause', ''], recording)).toEqual([]);
  expect(said(['gong', 'sector:B', 'TICK'])).toEqual([]);
});
