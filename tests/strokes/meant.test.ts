// What is meant: targets of channels, sectors and pins, and pins between the steps, on machines of known truth.
import { meantNote } from '../../analysis/report/reading.ts';
import { expect, test } from 'vitest';
import { againstMeant } from '../../analysis/advice/meant.ts';
import { readMachine } from '../../analysis/machine/read.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { buildReport } from '../../analysis/report/report.ts';
import { renderReport } from '../../analysis/report/markdown.ts';
import { renderTable } from '../../analysis/report/table.ts';
import type { Truth } from '../../samples/play.ts';
import { simulate } from '../checks/simulate.ts';

interface Wish {
  readonly channels?: Readonly<Record<string, number>>;
  readonly sectorB?: number;
  readonly pattern?: string;
}

const block = Array.from({ length: 8 }, (_, k) => `${2 * k},block`);
const plain = `step,channel\n${[...block, '0,drum', '3,drum', '6,drum', '9,drum', '12,drum', '15,drum', '1,bell', '5,bell', '7,bell', '10,bell', '13,bell'].join('\n')}\n`;

/** 16 steps of 125 ms at 120 beats a minute, two sectors; the reference is on a shaft of its own. */
async function machineOf({ channels = {}, sectorB, pattern = plain }: Wish = {}): Promise<Machine> {
  const channel = (id: string) => ({ id, ...(id in channels ? { targetMs: channels[id] } : {}) });
  const description = {
    name: 'Quay steps barrel',
    barrel: {
      steps: 16,
      stepsPerBeat: 4,
      diameterMm: 100,
      sectors: [
        { id: 'A', from: 0 },
        { id: 'B', from: 8, ...(sectorB === undefined ? {} : { targetMs: sectorB }) },
      ],
    },
    reference: 'block',
    channels: [{ ...channel('block'), onBarrel: false }, channel('drum'), channel('bell')],
  };
  const bytes = new TextEncoder().encode(pattern);
  return readMachine('machine.jsonc', JSON.stringify(description), () => Promise.resolve(bytes));
}

const how = { bpm: 120, turns: 8, startPosition: 3.4 };

function measure(machine: Machine, truth: Truth, seed = 1) {
  const { study } = simulate(machine, { repeatabilityMs: { drum: 0.2, bell: 0.2 }, ...truth }, how, seed);
  const mean = (channel: string, sector: string | null = null) =>
    study.groups.find((group) => group.channel === channel && group.sector === sector)?.meanMs ?? NaN;
  return { study, mean };
}

const built = { channelMs: { drum: 8.3, bell: -2.1 }, sectorMs: { B: 3 } };

test('all lateness is against what is meant of a channel and a sector, and stays as it was where nothing is meant', async () => {
  const [before, after] = [
    measure(await machineOf(), built),
    measure(await machineOf({ channels: { drum: 8 }, sectorB: 3 }), built),
  ];
  expect(before.mean('drum', 'A')).toBeCloseTo(8.3, 0);
  for (const [channel, sector, meantMs] of [
    ['drum', 'A', 8],
    ['drum', 'B', 11],
    ['bell', 'A', 0],
    ['bell', 'B', 3],
    ['block', 'A', 0],
  ] as const)
    expect(before.mean(channel, sector) - after.mean(channel, sector)).toBeCloseTo(meantMs, 2);
});

test('a reference that is meant late makes all others late by as much, and that is what is said of it', async () => {
  const [before, after] = [
    measure(await machineOf(), built),
    measure(await machineOf({ channels: { block: 5 } }), built),
  ];
  expect(after.mean('block')).toBeCloseTo(0, 6);
  expect(after.mean('drum') - before.mean('drum')).toBeCloseTo(5, 2);
  const said = (meant: string) => meantNote([{ reference: true, meant }]);
  expect(said('meant 5 ms late')).toMatch(
    /itself is meant 5 ms late: a channel that strikes with it shows as much late\.$/,
  );
  expect(said('meant 5 ms early')).toMatch(/shows as much early\.$/);
});

test('pins between the steps are measured where they are meant', async () => {
  // A swung bell, a triplet and a flam of the drum: 25 ms before its own pin, which is 1/5 of a step.
  const pattern = `step,channel,offset ms\n${[...block.map((row) => `${row},`), '0,drum,', '3.3333,drum,', '6,drum,', '8.8,drum,', '9,drum,', '12,drum,5', '1.5,bell,', '5.5,bell,', '7,bell,', '10 2/3,bell,', '13,bell,-4'].join('\n')}\n`;
  const machine = await machineOf({ pattern });
  const pinMs = machine.pins.map(({ targetMs = 0 }) => targetMs);
  const { study, mean } = measure(machine, { channelMs: { drum: 1, bell: -2 }, pinMs });
  expect(mean('drum')).toBeCloseTo(1, 0);
  expect(mean('bell')).toBeCloseTo(-2, 0);
  expect(study.strokes.misplaced).toEqual([]);
  expect(study.strokes.missing).toEqual([]);
  for (const pin of study.pins.filter(({ channel }) => channel !== 'block')) {
    expect(pin.count, `${pin.channel} ${pin.step}`).toBeGreaterThanOrEqual(7);
    expect(Math.abs(pin.meanMs! - (pin.channel === 'drum' ? 1 : -2))).toBeLessThan(0.6);
  }
  expect(study.pins.map(({ step }) => step)).toContain(10.6667);
});

test('a pin that is meant between two steps and sits in the hole beside it is told, and so is one a step off', async () => {
  const pattern = `step,channel\n${[...block, '0,drum', '3.5,drum', '6,drum', '9,drum', '12.5,drum', '15,drum', '1,bell', '5,bell', '7,bell', '10.3333,bell', '13,bell'].join('\n')}\n`;
  const machine = await machineOf({ pattern, channels: { drum: 8 } });
  const truth: Truth = {
    channelMs: { drum: 9, bell: 1 },
    misplaced: [
      { channel: 'drum', step: 3.5, foundStep: 4 },
      { channel: 'bell', step: 10.3333, foundStep: 11.3333 },
      { channel: 'bell', step: 5, foundStep: 6 },
    ],
  };
  const { study, mean } = measure(machine, truth);
  expect(study.strokes.misplaced.map(({ channel, step, foundStep }) => [channel, step, foundStep])).toEqual([
    [1, 3.5, 4],
    [2, 5, 6],
    [2, 10.3333, 11.3333],
  ]);
  expect(mean('drum')).toBeCloseTo(1, 0);
});

test('the report says what is meant, in words, table and picture', async () => {
  const machine = await machineOf({ channels: { drum: 8 }, sectorB: -1.5 });
  const report = buildReport(measure(machine, { channelMs: { drum: 8 } }).study, []);
  const at = (channel: string, sector: string | null) =>
    report.groups.find((group) => group.channel === channel && group.sector === sector)?.targetMs;
  expect([at('drum', 'A'), at('drum', 'B'), at('bell', 'B'), at('block', null)]).toEqual([
    8,
    6.5,
    -1.5,
    undefined,
  ]);
  const text = renderReport(report);
  expect(text).toContain(
    'and what is meant: drum meant 6.50 ms late to 8.00 ms late; bell meant 1.50 ms early to 0.',
  );
  expect(text).toContain('| drum (meant +8.00 ms) | A |');
  expect(renderTable(report)).toContain('drum (meant)');
  const asWas = buildReport(measure(await machineOf(), {}).study, []);
  expect(renderReport(asWas).replaceAll('(`targetMs`', '')).not.toMatch(/what is meant:|\(meant/);
});

test('a report of other wishes is put to those of now', async () => {
  const [then, now] = [
    await machineOf({ channels: { drum: 4, block: 1 } }),
    await machineOf({ channels: { drum: 8 }, sectorB: 2 }),
  ];
  const [asThen, asNow] = [then, now].map((machine) => buildReport(measure(machine, built).study, []));
  const put = againstMeant(asThen, now);
  for (const [i, group] of put.groups.entries())
    expect(group.meanMs, `${group.channel} ${group.sector}`).toBeCloseTo(asNow.groups[i].meanMs!, 2);
  for (const [i, pin] of put.pins.entries()) expect(pin.meanMs).toBeCloseTo(asNow.pins[i].meanMs!, 2);
  expect(againstMeant(asNow, now).groups.map(({ meanMs }) => meanMs)).toEqual(
    asNow.groups.map(({ meanMs }) => meanMs),
  );
});
