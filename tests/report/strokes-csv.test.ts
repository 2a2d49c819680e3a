/** Strokes as CSV: what a spreadsheet gets. */
import { spawnSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { strokesCsv } from '../../analysis/report/strokes-csv.ts';
import type { HitRow, Report } from '../../analysis/results/results.ts';

const hit = (over: Partial<HitRow>): HitRow => ({
  timeS: 1.5,
  track: 0,
  channel: 'drum',
  turn: 0,
  step: 4,
  sector: 'A',
  latenessMs: -2.25,
  timeSdS: 0.000125,
  levelDb: -12.5,
  state: 'used',
  ...over,
});
const csv = (...hits: HitRow[]) =>
  strokesCsv({ hits, tracks: [{ file: 'close, left.wav', track: 1 }] } as unknown as Report);
const rowsOf = (text: string) => text.split('\r\n');

describe('strokes as CSV', () => {
  it('has a row for each, what is unknown empty, a negative number a number', () => {
    const [head, first, second, last] = rowsOf(
      csv(hit({}), hit({ channel: null, track: null, latenessMs: null, timeSdS: null, levelDb: null })),
    );
    expect(head).toBe('timeS,channel,turn,step,sector,latenessMs,timeSdMs,levelDb,state,why,file,track');
    expect(first).toBe('1.5,drum,0,4,A,-2.25,0.125,-12.5,used,,"close, left.wav",1');
    expect(second).toBe('1.5,,0,4,A,,,,used,,,');
    expect(last).toBe('');
  });

  it('keeps words from being formulas', () => {
    const [, row] = rowsOf(csv(hit({ channel: '=1+1', sector: '@sum', state: 'set-aside', why: '-2+3' })));
    expect(row).toBe(`1.5,"'=1+1",0,4,"'@sum",-2.25,0.125,-12.5,set-aside,"'-2+3","close, left.wav",1`);
  });

  // RFC 4180, by Python's own reader.
  it('is read by another program as it was meant', (context) => {
    const script = 'import csv,json,sys; print(json.dumps(list(csv.DictReader(sys.stdin))))';
    const { error, stdout } = spawnSync('python3', ['-c', script], {
      input: csv(hit({ why: 'said "loud",\nand twice' })),
      encoding: 'utf8',
    });
    if (error) return context.skip('python3 is not installed');
    const [row] = JSON.parse(stdout) as Record<string, string>[];
    expect([row.why, row.file, row.latenessMs]).toEqual([
      'said "loud",\nand twice',
      'close, left.wav',
      '-2.25',
    ]);
  });
});
