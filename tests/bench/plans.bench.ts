/**
 * What can be done against what one would wish: simulated machines, each planned plainly, for a session's minutes, from a
 * drawer, for several tempi and several tunes, and with the level kept. `npm run bench -- plans
 * machines=20` for another number of machines.
 */
import { advise } from '../../analysis/advice/advise.ts';
import { minutesOf } from '../../analysis/advice/minutes.ts';
import { stockAllows } from '../../analysis/advice/stock.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import type { Advice, Report } from '../../analysis/results/results.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { seededRandom, type Random } from '../../samples/random.ts';
import { block, latenessWith, machineOf, reportOf, shim } from '../advice/small.ts';
import { figure, option, type Table } from './bench.ts';
import { levelTable } from './plans-levels.ts';

const sectors = ['A', 'B', 'C'];
const channels = ['gong', 'bell', 'drum', 'plate'];
const sessionMinutes = 45;
const toleranceMs = 2;
/** 7.5 beats a turn: 10 s at 45 beats a minute. */
const tempi = [38, 45, 52];
const turnS = (bpm: number) => 450 / bpm;

function machineWith(means: object): Machine {
  const machine = machineOf([block, ...channels.map((id) => ({ id }))], sectors, [
    shim('joint-AB', { sectors: ['B', 'C'] }, { access: 'drum head' }),
    shim('joint-BC', { sectors: ['C'] }, { access: 'drum head' }),
    ...channels.map((id, c) =>
      shim(`lever-${id}`, { channels: [id] }, { access: c < 2 ? 'east cheek' : 'west cheek' }),
    ),
  ]);
  const access = [
    { id: 'drum head', openMinutes: 30, changeMinutes: 6 },
    { id: 'east cheek', openMinutes: 20, changeMinutes: 3 },
    { id: 'west cheek', openMinutes: 15, changeMinutes: 3 },
  ];
  return { ...machine, description: machineSchema.parse({ ...machine.description, access, ...means }) };
}

/** Each channel's lateness about the barrel and by its fall, and each sector's. */
function truthOf(random: Random) {
  return {
    sectorMs: [0, random.between(-3, 3), random.between(-3, 3)],
    ownMs: channels.map(() => random.between(-4, 4)),
    delayMs: channels.map(() => random.between(-8, 8)),
  };
}

function reportAt(
  machine: Machine,
  { sectorMs, ownMs, delayMs }: ReturnType<typeof truthOf>,
  bpm: number,
  take: string,
): Report {
  const slower = turnS(bpm) / 10;
  const late = (c: number, s: number) => slower * (ownMs[c] + sectorMs[s] - delayMs[c]) + delayMs[c];
  const lateness = Object.fromEntries(channels.map((id, c) => [id, sectors.map((_, s) => late(c, s))]));
  return {
    ...reportOf(machine, lateness, 0.1),
    take,
    recorded: take,
    tempo: { bpm, bpmCi95: 0.001, secondsPerTurn: turnS(bpm) },
  };
}

/** The same machine with a second tune, of which every channel in every sector lies off by an amount of its own. */
function withWaltz(machine: Machine): Machine {
  const own = (name: string, by: number) => ({
    name,
    pattern: `${name}.csv`,
    patternFile: `${name}.csv`,
    pins: machine.pins.map((pin) => ({ ...pin, step: pin.step + by })),
  });
  return { ...machine, tune: 'march', tunes: [own('march', 0), own('waltz', 1)] };
}

function ofWaltz(random: Random, report: Report): Report {
  const groups = report.groups.map((group) => {
    const meanMs = group.channel === 'block' ? group.meanMs : (group.meanMs ?? 0) + random.between(-3, 3);
    return { ...group, meanMs, medianMs: meanMs };
  });
  return { ...report, groups, tune: 'waltz' };
}

interface Row {
  readonly changed: number;
  readonly units: number;
  readonly minutes: number;
  readonly worstMs: number;
  /** Means beyond tolerance, and by how much of it in all. */
  readonly out: number;
  readonly beyond: number;
  readonly gap: number;
  readonly lacking: boolean;
}

export default async function bench(): Promise<Table[]> {
  const machines = Number(option('machines', '8'));
  const solve = nodeSolver();
  const drawer = {
    stock: [
      { mm: 0.2, count: 1 },
      { mm: 0.05, count: 1 },
    ],
  };
  const rows = new Map<string, Row[]>();
  const add = (name: string, row: Row) => rows.set(name, [...(rows.get(name) ?? []), row]);
  const overTempi = new Map<string, number[]>();
  const overTunes = new Map<string, number[]>();
  const tuneGaps: number[] = [];
  for (let seed = 1; seed <= machines; seed++) {
    const truth = truthOf(seededRandom(seed));
    const [plain, stocked, several] = [{}, drawer, { tempi }].map(machineWith);
    const report = reportAt(plain, truth, 45, '2026-03-01');
    const three = [38, 52, 45].map((bpm, i) => reportAt(plain, truth, bpm, `2026-03-0${i + 1}`));
    const settingsOf = ({ settings }: Advice) =>
      plain.description.adjusters.map(
        ({ id, installed }) => settings.find(({ adjuster }) => adjuster === id)?.proposed ?? installed,
      );
    const sharesWith = (settings: readonly number[]) =>
      latenessWith(plain, report, settings).map((ms) => Math.abs(ms) / toleranceMs);
    const rowOf = (settings: readonly number[], advice: Advice): Row => ({
      changed: settings.filter((to, a) => to !== plain.description.adjusters[a].installed).length,
      units: settings.reduce(
        (sum, to, a) => sum + Math.abs(to - plain.description.adjusters[a].installed),
        0,
      ),
      minutes: minutesOf(plain, settings),
      worstMs: Math.max(...latenessWith(plain, report, settings).map(Math.abs)),
      out: sharesWith(settings).filter((share) => share > 1).length,
      beyond: sharesWith(settings).reduce((sum, share) => sum + Math.max(0, share - 1), 0),
      gap: advice.proven ? 0 : (advice.gap ?? NaN),
      lacking: !stockAllows(stocked, settings),
    });
    const wished = await advise(plain, [report], solve);
    const wishedSettings = settingsOf(wished);
    add(
      'as it stands',
      rowOf(
        plain.description.adjusters.map(({ installed }) => installed),
        wished,
      ),
    );
    add('plain plan', rowOf(wishedSettings, wished));
    // What a person does with the plain list who stops when the time is up.
    const listed = plain.description.adjusters.map(({ installed }) => installed);
    for (const [a, to] of wishedSettings.entries()) {
      const next = listed.map((setting, b) => (b === a ? to : setting));
      if (minutesOf(plain, next) <= sessionMinutes) listed[a] = to;
    }
    add(`the plain list for ${sessionMinutes} min`, rowOf(listed, wished));
    const timed = await advise(plain, [report], solve, {}, { minutes: sessionMinutes });
    add(`planned for ${sessionMinutes} min`, rowOf(settingsOf(timed), timed));
    const built = await advise(stocked, [report], solve);
    add('from the drawer', rowOf(settingsOf(built), built));
    for (const [name, advice] of [
      ['plain plan at the newest tempo', await advise(plain, three, solve)],
      ['planned for all tempi', await advise(several, three, solve)],
    ] as const) {
      const settings = settingsOf(advice);
      const worst = Math.max(
        ...three.map((each) => Math.max(...latenessWith(plain, each, settings).map(Math.abs))),
      );
      overTempi.set(name, [...(overTempi.get(name) ?? []), worst]);
    }
  }
  for (let seed = 1; seed <= machines; seed++) {
    const random = seededRandom(seed);
    const truth = truthOf(random);
    const plain = machineWith({});
    const both = withWaltz(plain);
    const march = { ...reportAt(plain, truth, 45, '2026-03-01'), tune: 'march' };
    const waltz = ofWaltz(random, reportAt(plain, truth, 45, '2026-03-02'));
    for (const [name, machine, reports] of [
      ['plain plan by the newest take', plain, [{ ...waltz, tune: undefined }]],
      ['planned for all tunes', both, [march, waltz]],
    ] as const) {
      const advice = await advise(machine, reports, solve);
      const settings = plain.description.adjusters.map(
        ({ id, installed }) => advice.settings.find(({ adjuster }) => adjuster === id)?.proposed ?? installed,
      );
      const worst = [march, waltz].map((each) =>
        Math.max(...latenessWith(plain, each, settings).map(Math.abs)),
      );
      overTunes.set(name, [...(overTunes.get(name) ?? []), Math.max(...worst)]);
      if (machine === both) tuneGaps.push(advice.proven ? 0 : (advice.gap ?? NaN));
    }
  }
  const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
  return [
    {
      title: `${machines} simulated machines of 5 channels, 3 sectors, 6 adjusters behind 3 openings; means over them`,
      columns: [
        'plan',
        'adjusters',
        'shims moved',
        'minutes',
        'worst mean ms',
        'means out',
        'beyond tolerance',
        'largest gap',
        'asks for what is not there',
      ],
      rows: [...rows].map(([name, all]) => [
        name,
        figure(mean(all.map(({ changed }) => changed))),
        figure(mean(all.map(({ units }) => units))),
        figure(mean(all.map(({ minutes }) => minutes))),
        figure(mean(all.map(({ worstMs }) => worstMs))),
        figure(mean(all.map(({ out }) => out))),
        figure(mean(all.map(({ beyond }) => beyond))),
        figure(Math.max(...all.map(({ gap }) => gap))),
        `${all.filter(({ lacking }) => lacking).length} of ${all.length}`,
      ]),
      notes: [
        'beyond tolerance: of all means, as shares of it, added up.',
        'gap: between the plan and the solver’s bound; 0 is proven. The drawer holds 1 × 0.2 and 1 × 0.05 mm beside what comes out.',
      ],
    },
    {
      title: `The same machines recorded at ${tempi.join(', ')} beats a minute: worst mean over all three, ms`,
      columns: ['plan', 'mean', 'worst machine'],
      rows: [...overTempi].map(([name, all]) => [name, figure(mean(all)), figure(Math.max(...all))]),
    },
    {
      title:
        'The same machines with two tunes, each channel and sector of the second ±3 ms off the first: worst mean over both, ms',
      columns: ['plan', 'mean', 'worst machine'],
      rows: [...overTunes].map(([name, all]) => [name, figure(mean(all)), figure(Math.max(...all))]),
      notes: [`largest gap to the solver’s bound: ${figure(Math.max(...tuneGaps))}`],
    },
    await levelTable(3 * machines, solve),
  ];
}
