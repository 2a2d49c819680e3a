// Several patterns by name: read, told apart, and refused in one line.
import { describe, expect, it } from 'vitest';
import { readMachine } from '../../analysis/machine/read.ts';
import { ofTune } from '../../analysis/machine/tune.ts';
import type { InputProblem } from '../../analysis/input/problem.ts';

const text = `{
  "name": "Ferry steps barrel",
  "barrel": { "steps": 12, "stepsPerBeat": 2, "diameterMm": 100,
              "sectors": [ { "id": "A", "from": 0 }, { "id": "B", "from": 6 } ] },
  "reference": "clap",
  "channels": [ { "id": "clap", "onBarrel": false }, { "id": "bell" } ]
}
`;
const pattern = 'step,channel\n0,clap\n6,clap\n7,bell\n';
const bytes = (csv: string) => Promise.resolve(new TextEncoder().encode(csv));

describe('several tunes', () => {
  const named = text.replace(
    '"reference"',
    '"patterns": { "march": "march.csv", "waltz": "sub/waltz.csv" }, "reference"',
  );
  const files: Record<string, string> = {
    'march.csv': pattern,
    'sub/waltz.csv': 'step,channel\n1,clap\n4,clap\n9,bell\n',
  };
  const from = (machine: string, of = files) =>
    readMachine('ferry/machine.jsonc', machine, (name) =>
      name in of
        ? bytes(of[name])
        : Promise.reject(Object.assign(new Error('not there'), { code: 'ENOENT' })),
    );
  const fault = (machine: string, of?: Record<string, string>) =>
    from(machine, of).then(
      () => 'no fault',
      (error: unknown) => (error as InputProblem).message,
    );

  it('are read by name, each with its own pins; the first stands where none is asked for', async () => {
    const machine = await from(named);
    expect(machine.tune).toBe('march');
    expect(machine.tunes!.map(({ name, patternFile }) => [name, patternFile])).toEqual([
      ['march', 'ferry/march.csv'],
      ['waltz', 'ferry/sub/waltz.csv'],
    ]);
    expect(machine.pins.map(({ step }) => step)).toEqual([0, 6, 7]);
    expect(ofTune(machine, 'waltz').pins.map(({ step }) => step)).toEqual([1, 4, 9]);
    expect((await from(text, { 'pattern.csv': pattern })).tunes).toBeUndefined();
  });

  it.each([
    [
      named.replace('"reference"', '"pattern": "march.csv", "reference"'),
      / pattern: it is there beside "patterns"; keep one of the two$/,
    ],
    [
      named.replace('"sub/waltz.csv"', '"../waltz.csv"'),
      / patterns\.waltz: "\.\.\/waltz\.csv" leads out of the machine's folder; /,
    ],
    [
      named.replace('"sub/waltz.csv"', '"waltz.txt"'),
      / patterns\.waltz: "waltz\.txt" is neither a \.csv nor a \.mid file; /,
    ],
    [
      named.replace('"sub/waltz.csv"', '"polka.csv"'),
      / patterns\.waltz: "polka\.csv" is not there; put the pattern beside this file, or correct its name$/,
    ],
    [
      named.replace('"sub/waltz.csv"', '"march.csv"'),
      / patterns\.waltz: "march\.csv" is the pattern of "march" already; give each tune a pattern of its own$/,
    ],
    [named.replace(/"patterns": \{[^}]*\}/, '"patterns": {}'), / patterns: name a tune/],
    [named.replace('"waltz":', '"the waltz":'), / patterns/],
  ])('faults are told in one line: %#', async (machine, line) => {
    const told = await fault(machine);
    expect(told).toMatch(line);
    expect(told).not.toContain('\n');
  });

  it('a fault in one tune’s pins names its file', async () => {
    const broken = { ...files, 'sub/waltz.csv': 'step,channel\n1,clap\n99,bell\n' };
    expect(await fault(named, broken)).toMatch(/^ferry\/sub\/waltz\.csv: line 3/);
    const silent = { ...files, 'sub/waltz.csv': 'step,channel\n9,bell\n' };
    expect(await fault(named, silent)).toContain('"clap" has no pins in sub/waltz.csv');
  });
});
