import { describe, expect, it, test } from 'vitest';
import { applySettings, readMachine } from '../../analysis/machine/read.ts';
import { InputProblem } from '../../analysis/input/problem.ts';

/** The parts of a good file; a test swaps one for a bad one. */
const text = `{
  // found in the attic
  "name": "Ferry steps barrel",
  "barrel": { "steps": 12, "stepsPerBeat": 2, "diameterMm": 100,
              "sectors": [ { "id": "A", "from": 0 }, { "id": "B", "from": 6 } ] },
  "reference": "clap",
  "channels": [ { "id": "clap", "onBarrel": false }, { "id": "bell", "name": "Small bell" } ],
  "adjusters": [
    { "id": "joint", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "sectors": ["B"] }, "installed": 3, "min": 0, "max": 8 }, // two were lost
    { "id": "drop",  "unit": "mm",   "perUnit": { "dropMm": 1, "dropHeightMm": 20 }, "shifts": { "channels": ["bell"] },
      "installed": 0, "min": -9, "max": 9 },
  ],
  "limits": [ { "adjusters": ["joint"], "sumMax": 9, "why": "closing gap" } ],
}
`;
const pattern = 'step,channel\n0,clap\n6,clap\n7,bell\n';
const bytes = (csv: string) => Promise.resolve(new TextEncoder().encode(csv));
const read = (machine: string, csv = pattern) =>
  readMachine('ferry/machine.jsonc', machine, () => bytes(csv));

async function faultOf(machine: string, csv?: string): Promise<string> {
  const error: unknown = await read(machine, csv).then(
    () => null,
    (thrown: unknown) => thrown,
  );
  expect(error).toBeInstanceOf(InputProblem);
  const { message } = error as InputProblem;
  expect(message).not.toContain('\n');
  return message;
}

test.each([
  ['channels', 200, (i: number) => ({ id: `c${i}` })],
  [
    'adjusters',
    300,
    (i: number) => ({ id: `a${i}`, unit: 'shim', perUnit: { mm: 0.1 }, installed: 0, min: 0, max: 8 }),
  ],
  ['limits', 300, () => ({ adjusters: ['joint'], sumMax: 9 })],
])('of %s %i can be read, and one more is refused in one line', async (key, most, part) => {
  const has = JSON.parse(text.replace(/\/\/.*$/gm, '').replace(/,(\s*[\]}])/g, '$1')) as Record<
    string,
    unknown[]
  >;
  const filled = (count: number) =>
    JSON.stringify({
      ...has,
      [key]: [...has[key], ...Array.from({ length: count - has[key].length }, (_, i) => part(i))],
    });
  await read(filled(most));
  expect(await faultOf(filled(most + 1))).toMatch(new RegExp(`${key}: .*${most}`, 'u'));
});

describe('a machine', () => {
  it('is read with comments, trailing commas and defaults', async () => {
    const machine = await read(text);
    expect(machine.reference).toBe(0);
    expect(machine.patternFile).toBe('ferry/pattern.csv');
    expect(machine.pins).toEqual([
      { step: 0, channel: 0, line: 2 },
      { step: 6, channel: 0, line: 3 },
      { step: 7, channel: 1, line: 4 },
    ]);
    expect(machine.description.channels[1]).toEqual({
      id: 'bell',
      name: 'Small bell',
      onBarrel: true,
      toleranceMs: 2,
    });
    expect(machine.description.adjusters[0].perUnit).toEqual({ mm: 0.1, leverRatio: 1 });
  });
  it('is the same with a byte order mark and CRLF', async () => {
    expect((await read('\uFEFF' + text.replaceAll('\n', '\r\n'))).description).toEqual(
      (await read(text)).description,
    );
  });
  it('may have a setting outside its limits: a check tells of that', async () => {
    const machine = await read(text.replace('"installed": 3', '"installed": 30'));
    expect(machine.description.adjusters[0].installed).toBe(30);
  });
});

describe('a fault in a machine is one line with its place and mend', () => {
  // what stands in the good file, what a person wrote instead, what the place points at, the rest of the line
  it.each([
    [
      '"name": "Ferry',
      '"name" "Ferry',
      '"Ferry steps barrel"',
      'a ":" is missing; put one between the key and its value',
    ],
    ['"reference": "clap",', '"reference": "clap"', '"channels"', 'a "," is missing; put one before this'],
    [
      '"reference": "clap"',
      `"reference": 'clap'`,
      "'clap'",
      'this word is not JSON; put text in double quotes',
    ],
    ['"min": 0,', '"min": 0, "min": 1,', '"min"', '"min" is there twice; keep one of them'],
    [
      '"name": "Ferry steps barrel",',
      '',
      '{',
      'name: "name" is missing; add it (What the machine is called)',
    ],
    [
      '"name": "Ferry steps barrel"',
      '"name": ""',
      '""',
      'name: the text is empty; fill it (What the machine is called)',
    ],
    [
      '"channels": [ {',
      '"chanels": [ {',
      '"chanels"',
      'chanels: the key "chanels" is not known here; write "channels"',
    ],
    [
      '"steps": 12',
      '"steps": "12"',
      '"12"',
      'barrel.steps: "12" stands where a number belongs; write it without quotes, with a point for decimals (Pin positions in one turn of the barrel)',
    ],
    [
      '"steps": 12',
      '"steps": 1.5',
      '1.5',
      'barrel.steps: 1.5 stands where a whole number belongs; write a whole number (Pin positions in one turn of the barrel)',
    ],
    [
      '"id": "bell"',
      '"id": "bell", "targetMs": 400',
      '400',
      'channels[1].targetMs: 400 is too large; write 40 or less (Lateness that is meant against the reference, ms: 8 is laid back by 8 ms; absent: 0)',
    ],
    [
      '"name": "Ferry steps barrel",',
      '"name": "Ferry steps barrel", "access": [ { "id": "cheek", "openMinutes": 5 } ],',
      '{ "id": "cheek"',
      'access[0].changeMinutes: "changeMinutes" is missing; add it (Minutes to change one adjuster behind it; one of cost 3 takes three times as long)',
    ],
    [
      '"name": "Ferry steps barrel",',
      '"name": "Ferry steps barrel", "stock": [ { "mm": 0.1, "count": 2 }, { "mm": 0.1, "count": 3 } ],',
      '0.1, "count": 3',
      'stock[1].mm: pieces of 0.1 mm are there twice; add them to stock[0]',
    ],
    [
      '"name": "Ferry steps barrel",',
      '"name": "Ferry steps barrel", "tempi": [],',
      '[]',
      'tempi: the list is empty; fill it (Beats a minute at which it is to be right: advice makes the worst over all of them least)',
    ],
    [
      '"diameterMm": 100',
      '"diameterMm": 0',
      '0',
      'barrel.diameterMm: 0 is too small; write more than 0 (Diameter of the pin circle, mm)',
    ],
    [
      '"id": "bell"',
      '"id": "small bell"',
      '"small bell"',
      'channels[1].id: "small bell" cannot be used here; write 1 to 64 letters, digits, "-", "_" or ".", the first a letter or digit',
    ],
    [
      '"id": "bell"',
      '"id": "clap"',
      '"clap"',
      'channels[1].id: "clap" is taken: channels[0] has it; give each its own id',
    ],
    [
      '"reference": "clap"',
      '"reference": "clapp"',
      '"clapp"',
      'reference: there is no channel "clapp"; write "clap"',
    ],
    [
      '"reference": "clap"',
      '"reference": "gong"',
      '"gong"',
      'reference: there is no channel "gong"; use one of "clap", "bell"',
    ],
    [
      '"from": 6',
      '"from": 0',
      '0',
      'barrel.sectors[1].from: step 0 does not come after 0, where sector "A" starts; list the sectors in the order of their first steps',
    ],
    [
      '"from": 6',
      '"from": 12',
      '12',
      'barrel.sectors[1].from: step 12 is past the last, 11; steps count from 0',
    ],
    ['["B"]', '["b"]', '"b"', 'adjusters[0].shifts.sectors[0]: there is no sector "b"; write "B"'],
    [
      '["bell"]',
      '["bel"]',
      '"bel"',
      'adjusters[1].shifts.channels[0]: there is no channel "bel"; write "bell"',
    ],
    [
      '{ "sectors": ["B"] }',
      '{ "sectors": ["B"], "channels": ["clap"] }',
      '{',
      'adjusters[0].shifts: it moves nothing: sectors move only channels that are on the barrel; remove "sectors", or name a channel that is on the barrel',
    ],
    ['"min": 0, "max": 8', '"min": 9, "max": 8', '9', 'adjusters[0].min: 9 is more than "max", 8; swap them'],
    [
      '"min": -9',
      '"min": -20',
      '-20',
      'adjusters[1].min: at setting -20 the striker has 0 mm to fall through; keep the height above 0 mm',
    ],
    [
      '{ "mm": 0.1 }',
      '{ "m": 0.1 }',
      '{',
      'adjusters[0].perUnit: {"m":0.1} has none of the known forms; give exactly one of "mm", "degrees", "ms", or "dropMm" with "dropHeightMm"',
    ],
    [
      '{ "mm": 0.1 }',
      '{ "mm": 0.1, "degrees": 5 }',
      '{',
      'adjusters[0].perUnit: {"mm":0.1,"degrees":5} has none of the known forms; give exactly one of "mm", "degrees", "ms", or "dropMm" with "dropHeightMm"',
    ],
    [
      ', "dropHeightMm": 20',
      '',
      '{',
      'adjusters[1].perUnit.dropHeightMm: "dropHeightMm" is missing; add it (Drop height at setting 0, mm)',
    ],
    [
      '{ "mm": 0.1 }',
      '{ "mm": "0,1" }',
      '"0,1"',
      'adjusters[0].perUnit.mm: "0,1" stands where a number belongs; write it without quotes, with a point for decimals (Shift along the pin circle for one unit, mm; positive is later)',
    ],
    [
      '["joint"]',
      '["joints"]',
      '"joints"',
      'limits[0].adjusters[0]: there is no adjuster "joints"; write "joint"',
    ],
    ['"sumMax": 9, ', '', '{', 'limits[0]: this limit bounds nothing; give "sumMin", "sumMax" or both'],
    [
      '"sumMax": 9',
      '"sumMin": 10, "sumMax": 9',
      '10',
      'limits[0].sumMin: 10 is more than "sumMax", 9; swap them',
    ],
    [
      '"reference"',
      '"notes": { "128": "bell" }, "reference"',
      '"128"',
      'notes["128"]: the key "128" cannot be used here; write a MIDI note number, "0" to "127"',
    ],
    [
      '"reference"',
      '"notes": { "36": "bells" }, "reference"',
      '"bells"',
      'notes["36"]: there is no channel "bells"; write "bell"',
    ],
    [
      '"reference"',
      '"pattern": "../pins.csv", "reference"',
      '"../pins.csv"',
      `pattern: "../pins.csv" leads out of the machine's folder; put the pattern beside this file and give its name alone`,
    ],
    [
      '"reference"',
      '"pattern": "C:\\\\pins.csv", "reference"',
      '"C:\\\\pins.csv"',
      `pattern: "C:\\\\pins.csv" leads out of the machine's folder; put the pattern beside this file and give its name alone`,
    ],
    [
      '"reference"',
      '"pattern": "/etc/pins.csv", "reference"',
      '"/etc/pins.csv"',
      `pattern: "/etc/pins.csv" leads out of the machine's folder; put the pattern beside this file and give its name alone`,
    ],
    [
      '"reference"',
      '"pattern": "pins.xlsx", "reference"',
      '"pins.xlsx"',
      'pattern: "pins.xlsx" is neither a .csv nor a .mid file; export the pattern as one of these',
    ],
    [
      '["joint"]',
      '["joint", "joint"]',
      '"joint"',
      'limits[0].adjusters[1]: "joint" is there twice; keep one of them',
    ],
    [
      '"mm": 0.1',
      '"mm": 0',
      '0',
      'adjusters[0].perUnit.mm: a unit of 0 moves nothing; correct it (Shift along the pin circle for one unit, mm; positive is later)',
    ],
    [
      '"mm": 0.1',
      '"mm": 1e999',
      '1e999',
      'adjusters[0].perUnit.mm: Infinity stands where a number belongs; write a number (Shift along the pin circle for one unit, mm; positive is later)',
    ],
    [
      '"max": 8',
      '"max": 1e300',
      '1e300',
      'adjusters[0].max: 1e+300 is too large; write 9007199254740991 or less (Greatest setting)',
    ],
    [
      '"onBarrel": false',
      '"onBarrel": "no"',
      '"no"',
      'channels[0].onBarrel: "no" stands where true or false belongs; write true or false (false: on a shaft of its own, geared to the barrel; sectors do not move it)',
    ],
    [
      '{ "sectors": ["B"] }',
      '["B"]',
      '[',
      'adjusters[0].shifts: ["B"] stands where an object { } belongs; write an object { } (What it moves: sectors, channels, or where both meet; absent: everything)',
    ],
    [
      '"shifts": { "sectors": ["B"] }',
      '"shifts": { "sector": ["B"] }',
      '"sector"',
      'adjusters[0].shifts.sector: the key "sector" is not known here; write "sectors"',
    ],
    [
      '"shifts": { "sectors": ["B"] }',
      '"shifts": { "sectors": [] }',
      '[',
      'adjusters[0].shifts.sectors: the list is empty; fill it (Sectors it moves; absent: all)',
    ],
    [
      '"unit": "shim", "perUnit": { "mm": 0.1 },',
      '"unit": "shim",',
      '{',
      'adjusters[0].perUnit: "perUnit" is missing; add it (What one unit of it does; a positive value makes what it shifts later)',
    ],
  ])('%s → %s', async (good, bad, pointed, rest) => {
    expect(text).toContain(good);
    const faulty = text.replace(good, () => bad);
    const [, line, column, message] = /^ferry\/machine\.jsonc: (\d+):(\d+):? (.*)$/.exec(
      await faultOf(faulty),
    )!;
    expect(message).toBe(rest);
    expect(faulty.split('\n')[Number(line) - 1].slice(Number(column) - 1)).toSatisfy((there: string) =>
      there.startsWith(pointed),
    );
  });
  it('where the file is empty, not an object, or only a comment', async () => {
    expect(await faultOf('')).toBe(
      'ferry/machine.jsonc: the file is empty; write { } and what belongs in it',
    );
    expect(await faultOf('[]')).toBe(
      'ferry/machine.jsonc: 1:1: [] stands where an object { } belongs; write an object { } (A mechanical music machine)',
    );
    expect(await faultOf('// soon')).toMatch(/^ferry\/machine.jsonc: /);
  });
  it('where the reference has no pins', async () =>
    expect(await faultOf(text, 'step,channel\n7,bell\n')).toBe(
      'ferry/machine.jsonc: 6:16 reference: "clap" has no pins in pattern.csv; add its pins there, at the steps where it is due, or take another reference',
    ));
  it('where the pattern is not there', async () => {
    const absent = Object.assign(new Error('no such file'), { code: 'ENOENT' });
    await expect(readMachine('machine.jsonc', text, () => Promise.reject(absent))).rejects.toThrow(
      'machine.jsonc: 1:1 pattern: "pattern.csv" is not there; put the pattern beside this file, or correct its name',
    );
  });
  it('but a defect of the reader that was handed in stays one', async () =>
    await expect(readMachine('m', text, () => Promise.reject(new TypeError('x')))).rejects.toThrow(
      TypeError,
    ));
});

describe('settings put into the text', () => {
  it.each([text, '\uFEFF' + text, text.replaceAll('\n', '\r\n'), text.replaceAll('  ', '\t')])(
    'change nothing else (case %#)',
    (original) => {
      const changed = applySettings(original, { drop: -4, joint: 11 });
      const expected = original
        .replace('"installed": 3', '"installed": 11')
        .replace('"installed": 0', '"installed": -4');
      expect(changed).toBe(expected);
      expect(applySettings(changed, { joint: 3, drop: 0 })).toBe(original);
    },
  );
  it('may be none', () => expect(applySettings(text, {})).toBe(text));
  it('must name an adjuster and be whole', () => {
    expect(() => applySettings(text, { joints: 1 })).toThrow(
      'machine.jsonc: 8:16 adjusters: there is no adjuster "joints"; write "joint"',
    );
    expect(() => applySettings(text, { joint: 1.5 })).toThrow(InputProblem);
  });
});
