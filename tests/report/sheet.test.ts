// The work sheet and the barrel unrolled: what they say of a machine checked by hand, and that names stay text.
import { parseHTML } from 'linkedom';
import { describe, expect, test } from 'vitest';
import { readMachine } from '../../analysis/machine/read.ts';
import { drawBarrel } from '../../analysis/report/sheet/barrel-drawing.ts';
import { viewOfMachine, viewOfReport } from '../../analysis/report/sheet/barrel-view.ts';
import { laidPins, moveWords, ordinal, pinPlaceWords } from '../../analysis/report/sheet/laid-pins.ts';
import { sheetOf } from '../../analysis/report/sheet/sheet.ts';
import { isOwn, sheetFile } from '../../analysis/report/own-file.ts';
import { renderSheet } from '../../analysis/report/sheet/sheet-page.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Advice, EarlierReport } from '../../analysis/results/results.ts';
import { exampleReport } from './example.ts';

const machineText = (bell: string) => `{
  "name": ${JSON.stringify(`Osier Row ${bell}`)}, "reference": "block",
  "barrel": { "steps": 96, "stepsPerBeat": 4, "diameterMm": 100,
              "sectors": [ { "id": "A", "from": 4 }, { "id": "B", "from": 48 } ] },
  "channels": [ { "id": "block", "onBarrel": false }, { "id": "gong", "name": ${JSON.stringify(bell)} }, { "id": "drum" } ],
  "adjusters": [
    { "id": "joint-AB", "name": "the brass joint", "unit": "shim", "perUnit": { "mm": 0.1 },
      "shifts": { "sectors": ["B"] }, "installed": 3, "min": 0, "max": 8 },
    { "id": "lever-gong", "unit": "shim", "perUnit": { "mm": 0.1 },
      "shifts": { "channels": ["gong"], "sectors": ["A"] }, "installed": 2, "min": 0, "max": 8 } ]
}`;
const bytes = (text: string) => new TextEncoder().encode(text);
const gongSteps = [2, 6, 20, 30, 54, 60, 94];
const pattern = ['step,channel', ...gongSteps.map((step) => `${step},gong`), '8,drum', '0,block', '48,block'];

const machineOf = (bell = 'Gong'): Promise<Machine> =>
  readMachine('machine.jsonc', machineText(bell), () => Promise.resolve(bytes(pattern.join('\n'))));
const machine = await machineOf();
const view = viewOfMachine(machine, undefined);
const report: EarlierReport = exampleReport();
const pinAt = (pins: ReturnType<typeof laidPins>, step: number) =>
  pins.find((pin) => pin.step === step && pin.channel === 1)!;
const documentOf = () => parseHTML('<!doctype html><html><body></body></html>').document;

describe('pins', () => {
  test('sit where the take found them, and are judged by their own interval', () => {
    const pins = laidPins(view, report);
    expect(pins).toHaveLength(10);
    expect(pinAt(pins, 20)).toMatchObject({ sits: 21, judgement: 'unknown', meanMs: null });
    expect(pinAt(pins, 6)).toMatchObject({ sits: 6, judgement: 'late', ofTolerance: 2.15 });
    expect(pinAt(pins, 54)).toMatchObject({ judgement: 'early' });
    expect(laidPins(view, null).every(({ judgement }) => judgement === 'unknown')).toBe(true);
  });

  test('are the same by the report alone, which knows the barrel of its day', () => {
    const own = viewOfReport({ ...report, barrel: machine.description.barrel });
    expect(own!.channels.map(({ id }) => id)).toEqual(['block', 'gong', 'drum']);
    expect(laidPins(own!, report).map(({ step, judgement }) => `${step} ${judgement}`)).toEqual([
      '6 late',
      '54 early',
    ]);
    expect(viewOfReport({ ...report, barrel: undefined })).toBeNull();
  });

  test('of a group in doubt are not measured', () => {
    const groups = report.groups.map((group) =>
      group.channel === 'gong' && group.sector === 'A' ? { ...group, doubt: 'it is a guess' } : group,
    );
    const pins = laidPins(view, { ...report, groups });
    expect(pinAt(pins, 6)).toMatchObject({ judgement: 'unknown', meanMs: null });
    expect(pinAt(pins, 54).judgement).toBe('early');
  });

  test('are found by count from the nearer joint, through the barrel’s zero too', () => {
    const pins = laidPins(view, report);
    const place = (step: number) => pinPlaceWords(view, pins, pinAt(pins, step));
    expect(place(6)).toBe('the 1st Gong pin after the joint where sector A begins');
    expect(place(20)).toBe('the 2nd Gong pin after the joint where sector A begins');
    expect(place(30)).toBe('the last Gong pin before the joint where sector A ends');
    expect(place(54)).toBe('the 1st Gong pin after the joint where sector B begins');
    // Sector B runs through zero up to step 4: its gong pins are 54, 60, 94 and 2.
    expect(place(94)).toBe('the 2nd last Gong pin before the joint where sector B ends');
    expect(place(2)).toBe('the last Gong pin before the joint where sector B ends');
    expect(moveWords(view, pinAt(pins, 20))).toBe('1 step back, to step 20');
    expect(moveWords(view, { ...pinAt(pins, 2), sits: 95 })).toBe('3 steps on, to step 2');
  });

  test('ordinals', () => {
    expect([1, 2, 3, 4, 11, 12, 13, 21, 22, 103, 111].map(ordinal).join(' ')).toBe(
      '1st 2nd 3rd 4th 11th 12th 13th 21st 22nd 103rd 111th',
    );
  });
});

describe('what to do', () => {
  const advice: Advice = {
    ...report.advice,
    work: {
      minutes: 19,
      steps: [
        {
          access: 'west cheek',
          openMinutes: 10,
          changes: [
            {
              adjuster: 'lever-gong',
              from: 2,
              to: 1,
              minutes: 4,
              holds: [],
              takes: [],
              givesBack: [{ mm: 0.1, count: 1 }],
            },
          ],
        },
        { access: null, openMinutes: 0, changes: [{ adjuster: 'joint-AB', from: 3, to: 5, minutes: 5 }] },
      ],
    },
  };

  test('stands in the order of the work, with pieces and what it is for', () => {
    const { openings, changed, minutes } = sheetOf(machine, report, advice);
    expect(minutes).toBe(19);
    expect(changed).toEqual(['lever-gong', 'joint-AB']);
    expect(openings).toEqual([
      {
        access: 'west cheek',
        minutes: 10,
        tasks: [
          {
            adjuster: 'lever-gong',
            name: null,
            unit: 'shim',
            from: 2,
            to: 1,
            min: 0,
            max: 8,
            what: 'take out 1 × 0.1 mm',
            why: 'Gong in sector A: 4.30 ms late now, 0.40 ms late expected',
          },
        ],
      },
      {
        access: null,
        minutes: null,
        tasks: [
          {
            adjuster: 'joint-AB',
            name: 'the brass joint',
            unit: 'shim',
            from: 3,
            to: 5,
            min: 0,
            max: 8,
            what: 'add 2 shims',
            why: 'Gong in sector B: 3.40 ms early now, 0.60 ms late expected',
          },
        ],
      },
    ]);
  });

  test('without an order, settings stand as advice has them; without settings there is nothing', () => {
    expect(sheetOf(machine, report, report.advice).changed).toEqual(['joint-AB', 'lever-gong']);
    expect(sheetOf(machine, report, { ...report.advice, settings: [] }).openings).toEqual([]);
  });

  test('a pin in another hole is found by count and moved the shorter way', () => {
    expect(sheetOf(machine, report, advice).pins).toEqual([
      {
        where: 'the 2nd Gong pin after the joint where sector A begins',
        what: 'it sits at step 21: move it 1 step back, to step 20; where the barrel is right, correct the pattern',
      },
    ]);
  });

  test('what to record: what is unheard and in doubt first, then how long', () => {
    const unsure: Advice = {
      ...advice,
      unheard: [{ channel: 'drum', why: 'nothing was heard on its track' }],
      doubts: [
        {
          kind: 'labels-swapped',
          since: null,
          adjusters: ['joint-AB'],
          channels: [],
          sectors: [],
          size: null,
          sizeCi95: null,
          readings: [],
          test: { adjuster: 'joint-AB', from: 3, to: 6, turns: 2 },
          message: 'The labels may be swapped.',
        },
      ],
    };
    const { doubts, record } = sheetOf(machine, report, unsure);
    expect(doubts).toEqual(['The labels may be swapped.']);
    expect(record).toEqual([
      'So that drum is heard: nothing was heard on its track.',
      'To settle what is in doubt: joint-AB 3 → 6 alone, then 2 turns.',
      'After the work, record 6 whole turns or more, as many as the last take had.',
    ]);
    const settling = { turns: 3, settled: 2, unsure: 2 };
    expect(sheetOf(machine, report, { ...advice, settling }).record).toEqual([
      'After the work, record 3 whole turns or more, the shortest take that settles what is not sure yet.',
    ]);
    const row = { take: '1', worstBeforeMs: 3, worstAfterMs: 1, aloneMs: 1, unsure: [] };
    const tunes = {
      rows: [
        { ...row, tune: 'march' },
        { ...row, tune: 'waltz' },
      ],
      missing: ['polka'],
    };
    expect(sheetOf(machine, report, { ...advice, tunes }).record).toEqual([
      'After the work, record 6 whole turns or more of each tune (march, waltz), as many as the last take had.',
      'No take was measured of polka: record it too.',
    ]);
    const { record: resolving } = sheetOf(machine, report, {
      ...advice,
      settings: [],
      work: undefined,
      turnsToResolve: 14,
    });
    expect(resolving).toEqual([
      'Record 14 whole turns or more, so that every interval lies within tolerance.',
    ]);
  });
});

describe('the page', () => {
  const pageOf = async (bell: string) => {
    const own = await machineOf(bell);
    const named = { ...report, machine: own.description.name };
    return renderSheet(sheetOf(own, named, report.advice), undefined, documentOf());
  };

  test('begins with safety, holds every task with a box and a blank, and loads nothing', async () => {
    const { document } = parseHTML(await pageOf('Gong'));
    const main = document.querySelector('main')!;
    expect(main.firstElementChild!.textContent).toMatch(
      /^Before anything on the machine is changed: stop the drive/,
    );
    const tasks = [...main.querySelectorAll('ol li')].map((item) => item.textContent);
    expect(tasks[0]).toMatch(/^joint-AB: from 3 to 5Add 2 shims \(the brass joint\)\..*Really fitted: $/);
    expect(tasks).toHaveLength(2);
    expect(main.querySelectorAll('ol li input[type=checkbox]')).toHaveLength(2);
    expect(main.textContent).toContain('shimwright advise . --apply joint-AB=… lever-gong=…');
    expect(document.querySelectorAll('script, link, img, iframe, [src], [href], [onclick]')).toHaveLength(0);
    expect(document.querySelector('meta[http-equiv]')!.getAttribute('content')).toContain(
      "default-src 'none'",
    );
  });

  test('names stay text', async () => {
    const bell = '</title></style><img src=x onerror=alert(1)> & "gong"';
    const { document } = parseHTML(await pageOf(bell));
    expect(document.querySelectorAll('img')).toHaveLength(0);
    expect(document.querySelector('h1')!.textContent).toBe(`Osier Row ${bell}`);
    expect(document.querySelector('title')!.textContent).toBe(`Osier Row ${bell}: work sheet`);
  });

  test('a sheet is ours until somebody changes it', async () => {
    const text = await pageOf('Gong');
    expect(isOwn(sheetFile, text)).toBe(true);
    expect(isOwn(sheetFile, text.replace('2 shims', '3 shims'))).toBe(false);
    expect(isOwn(sheetFile, `${text}a word`)).toBe(false);
    expect(isOwn(sheetFile, '<html>my own</html>')).toBe(false);
    expect(await pageOf('Gong')).toBe(text);
  });
});

describe('the barrel unrolled', () => {
  const drawn = (pins = laidPins(view, report)) => drawBarrel(view, pins, documentOf());
  const marks = (svg: Element) => [...svg.querySelectorAll('g > title')].map((title) => title.textContent);

  test('has each pin once, with its words, and an arrow to where it belongs', () => {
    const svg = drawn();
    const words = marks(svg);
    expect(words).toHaveLength(10);
    expect(words).toContain('Gong, step 6: +4.30 ± 0.40 ms, LATE');
    expect(words).toContain('Gong, step 20: not measured; it sits at step 21');
    const astray = [...svg.querySelectorAll('g')].find((g) => g.textContent.includes('step 20'))!;
    expect(astray.querySelectorAll('circle[stroke-dasharray]')).toHaveLength(1);
    expect(astray.querySelectorAll('path')).toHaveLength(2);
    expect(svg.textContent).toContain('sector A');
    expect(svg.textContent).toContain('sector B');
  });

  test('steps lie to scale, from the first joint through the barrel’s zero', () => {
    const svg = drawn();
    const xOf = (step: number) => {
      const g = [...svg.querySelectorAll('g')].find((each) =>
        each.textContent.startsWith(`Gong, step ${step}:`),
      )!;
      return Number(
        /translate\(([\d.]+),/.exec(g.querySelector('[transform]')!.getAttribute('transform')!)![1],
      );
    };
    const perStep = (xOf(60) - xOf(6)) / 54;
    expect(xOf(30) - xOf(6)).toBeCloseTo(24 * perStep, 1);
    // Step 2 comes after step 94, not before step 4.
    expect(xOf(2) - xOf(94)).toBeCloseTo(4 * perStep, 1);
  });

  test('a larger lateness has a larger mark, up to a limit', () => {
    const scale = (ofTolerance: number) => {
      const [pin] = laidPins(view, report).filter(({ step }) => step === 6);
      const mark = drawn([{ ...pin, ofTolerance }])
        .querySelector('g [transform]')!
        .getAttribute('transform')!;
      return Number(/scale\(([\d.]+)\)/.exec(mark)![1]);
    };
    expect(scale(2)).toBeGreaterThan(scale(1.2));
    expect(scale(40)).toBe(scale(400));
  });
});
