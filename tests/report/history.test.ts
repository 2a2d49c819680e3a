import { describe, expect, it } from 'vitest';
import { historyOf } from '../../analysis/report/history.ts';
import { renderHistory } from '../../analysis/report/history-text.ts';
import { columnsWide, terminalColumns } from '../../analysis/report/terminal-text.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { exampleReport, group } from './example.ts';

const description = machineSchema.parse({
  name: 'Mill Lane attic barrel',
  barrel: { steps: 96, stepsPerBeat: 4, diameterMm: 800, sectors: [{ id: 'A', from: 0 }] },
  reference: 'block',
  channels: [{ id: 'block', onBarrel: false }, { id: 'gong' }],
  adjusters: [
    {
      id: 'lever-gong',
      unit: 'shim',
      perUnit: { ms: 1 },
      shifts: { channels: ['gong'] },
      installed: 0,
      min: 0,
      max: 9,
    },
  ],
});
const machine: Machine = {
  description,
  file: 'machine.jsonc',
  patternFile: 'pattern.csv',
  reference: 0,
  pins: [
    { step: 0, channel: 0, line: null },
    { step: 6, channel: 1, line: null },
  ],
};
const take = (name: string, gongMs: number | null, lever: number) => ({
  ...exampleReport(),
  take: name,
  settings: { 'lever-gong': lever },
  groups: [group('block', null, 0), group('gong', null, gongMs)],
});

describe('history', () => {
  const reports = [
    take('may', 3, 0),
    take('june', 5.1, 2),
    take('july', 5, 2),
    take('august', 4.9, 2),
    take('september', 1, 2),
  ];
  const [, gong] = historyOf(machine, reports);
  it('takes off what a change of settings should have done', () => {
    expect(gong.lines.map(({ wearMs }) => wearMs!.toFixed(1))).toEqual(['3.0', '3.1', '3.0', '2.9', '-1.0']);
    expect(gong.lines.map(({ changed }) => changed)).toEqual([[], ['lever-gong 0→2'], [], [], []]);
  });
  it('says which take is out of the usual', () => {
    // Moving ranges 0.1, 0.1, 0.1, 3.9: mean 1.05, limits 2.2 ± 2.79; −1 is below −0.59.
    expect(gong.chart!.lower).toBeCloseTo(2.2 - (3 * 1.05) / 1.128, 2);
    expect(gong.lines.map(({ signal }) => signal)).toEqual([null, null, null, null, 'beyond']);
    expect(renderHistory([gong])).toContain('out of its limits');
  });
  it('fits 100 columns, however much was changed', () => {
    const lever = (i: number) => ({ ...description.adjusters[0], id: `lever-gong-${i}` });
    const many = { ...description, adjusters: Array.from({ length: 12 }, (_, i) => lever(i)) };
    const set = (n: number) => Object.fromEntries(many.adjusters.map(({ id }) => [id, n]));
    const [, all] = historyOf({ ...machine, description: many }, [
      { ...take('the first take of the new year, in the cold hall', -123.45, 0), settings: set(0) },
      { ...take('june', 5, 2), settings: set(2) },
    ]);
    const text = renderHistory([all]);
    expect(text).toContain('lever-gong-11 0→2');
    expect(
      text
        .split('\n')
        .map(columnsWide)
        .filter((columns) => columns > terminalColumns),
    ).toEqual([]);
  });
  it('leaves a take that was not measured open', () => {
    const [, short] = historyOf(machine, [take('may', 3, 0), take('june', null, 0)]);
    expect(short.lines[1].wearMs).toBeNull();
    expect(renderHistory([short])).toContain('too few takes for limits');
  });
});
