/**
 * Experiments against the plain plan: the same simulated machines, effects 60 to 140 % of geometry, brought within tolerance
 * by carrying out each plan as it is, and by carrying out the experiment wherever the advice names one. And what an experiment
 * promises: that the take of so many turns settles its groups, and that what is then foretold holds.
 * `npm run bench -- plans-experiments machines=20` for another number of machines.
 */
import { advise } from '../../analysis/advice/advise.ts';
import { predict } from '../../analysis/advice/belief.ts';
import { beliefFromTakes } from '../../analysis/advice/learn.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Advice, Report } from '../../analysis/results/results.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { truePins } from '../simulator/loop.ts';
import { machineOf, refitted, withFaults, type Faulty } from '../simulator/machines.ts';
import { reportOf } from '../simulator/measure.ts';
import { figure, option, type Table } from './bench.ts';

const mostTakes = 12;
const firstTurns = 6;
const toleranceMs = 2;
const solve = nodeSolver();

interface Way {
  readonly takes: number;
  readonly changes: number;
  readonly turns: number;
  readonly reached: boolean;
  /** Of every experiment's groups: whether their intervals came out as narrow as promised, and held the truth. */
  readonly settled: readonly boolean[];
  readonly settledAll: readonly boolean[];
  readonly held: readonly boolean[];
  readonly promisedTurns: readonly number[];
  /** True |mean lateness| of any group that an experiment took out of tolerance, or farther out. */
  readonly worsened: number;
  readonly experiments: number;
}

/** True mean of each group's pins. */
function truth(faulty: Faulty, standing: Readonly<Record<string, number>>): Map<string, number> {
  const sums = new Map<string, { sum: number; count: number }>();
  for (const { channel, sector, ms } of truePins(faulty, standing)) {
    const own = sums.get(`${channel} ${sector}`) ?? { sum: 0, count: 0 };
    sums.set(`${channel} ${sector}`, { sum: own.sum + ms, count: own.count + 1 });
  }
  return new Map([...sums].map(([key, { sum, count }]) => [key, sum / count]));
}

/** Range enough to mend any fault: how far each plan gets is then a matter of what is known. */
function ofLongRange(machine: Machine): Machine {
  const adjusters = machine.description.adjusters.map((adjuster) =>
    adjuster.unit === 'shim' ? { ...adjuster, installed: 200, min: 0, max: 400 } : adjuster,
  );
  return { ...machine, description: { ...machine.description, adjusters, limits: [] } };
}

type Ways = 'plan' | 'plan and its turns' | 'single';

async function goThrough(seed: number, how: Ways): Promise<Way> {
  const random = seededRandom(seed);
  const faulty = withFaults(ofLongRange(machineOf(3, 4, 0, random)), random);
  const { adjusters } = faulty.machine.description;
  let installed: Record<string, number> = Object.fromEntries(adjusters.map((a) => [a.id, a.installed]));
  let standing = installed;
  const reports: Report[] = [];
  let promised: Promised | null = null;
  const way = { takes: 0, changes: 0, turns: 0, worsened: 0, experiments: 0, reached: false };
  const settled: boolean[] = [];
  const settledAll: boolean[] = [];
  const held: boolean[] = [];
  const promisedTurns: number[] = [];
  for (let round = 0; round < mostTakes; round++) {
    const turns: number = promised?.turns ?? firstTurns;
    const description = {
      ...faulty.machine.description,
      adjusters: adjusters.map((a) => ({ ...a, installed: installed[a.id] })),
      refitMs: faulty.refitMs,
    };
    const machine = { ...faulty.machine, description };
    const startPosition = random.integer(100);
    const played = play(
      faulty.machine,
      faulty.truth,
      { bpm: faulty.bpm, turns, startPosition, settings: standing },
      random.split(`take ${round}`),
    );
    const recorded = `2026-01-${String(round + 1).padStart(2, '0')}`;
    reports.push({ ...reportOf(machine, played, faulty.bpm, recorded, installed), recorded });
    way.takes++;
    way.turns += turns;
    const now = truth(faulty, standing);
    if (Math.max(...[...now.values()].map(Math.abs)) <= toleranceMs) way.reached = true;
    const advice = await advise(machine, reports, solve);
    const after = (changes: readonly { adjuster: string; to: number }[]) => {
      const moved = Object.fromEntries(
        changes.map(({ adjuster, to }) => [adjuster, { from: installed[adjuster], to }]),
      );
      return refitted(faulty, standing, moved, random.split(`refit ${round}`));
    };
    const plan = advice.settings.map(({ adjuster, proposed: to }) => ({ adjuster, to }));
    if (promised !== null) {
      const then = truth(faulty, after(plan));
      const belief = beliefFromTakes(machine, reports);
      const foretold = predict(
        belief,
        adjusters.map(({ id }) => plan.find(({ adjuster }) => adjuster === id)?.to ?? installed[id]),
      );
      const narrow = promised.groups.map(({ channel, sector, neededMs }) => {
        const g = belief.groups.findIndex(
          (group) =>
            description.channels[group.channel].id === channel &&
            description.barrel.sectors[group.sector].id === sector,
        );
        if (g === -1) return false;
        held.push(Math.abs(foretold[g].meanMs - then.get(`${channel} ${sector}`)!) <= foretold[g].ci95Ms);
        return foretold[g].ci95Ms <= neededMs;
      });
      settled.push(...narrow);
      settledAll.push(narrow.every(Boolean));
      promisedTurns.push(promised.turns);
    }
    if (way.reached) break;
    const { experiment } = advice;
    const single = how === 'single' && experiment !== undefined;
    promised = how === 'plan' || experiment === undefined ? null : promiseOf(experiment, single);
    const changes = single ? [{ adjuster: experiment.adjuster, to: experiment.to }] : plan;
    if (changes.length === 0) break;
    const next = after(changes);
    if (experiment !== undefined) way.experiments++;
    if (single)
      for (const [group, ms] of truth(faulty, next))
        if (Math.abs(ms) > Math.max(toleranceMs, Math.abs(now.get(group)!)) + 2 * faulty.refitMs)
          way.worsened++;
    standing = next;
    way.changes += changes.length;
    installed = { ...installed, ...Object.fromEntries(changes.map(({ adjuster, to }) => [adjuster, to])) };
  }
  return { ...way, settled, settledAll, held, promisedTurns };
}

interface Promised {
  readonly turns: number;
  readonly groups: readonly { channel: string; sector: string; neededMs: number }[];
}

function promiseOf(
  { turns, groups, whole }: NonNullable<Advice['experiment']>,
  single: boolean,
): Promised | null {
  const promised = single ? turns : whole.turns;
  // Which groups all changes settle the advice says by number alone: those of the single change are watched.
  return promised === null ? null : { turns: promised, groups: groups.filter(({ settled }) => settled) };
}

export default async function bench(): Promise<Table[]> {
  const machines = Number(option('machines', '12'));
  const first = Number(option('first', '1'));
  const rows: [string, Way[]][] = [];
  for (const [name, how] of [
    ['each plan, takes of 6 turns', 'plan'],
    ['each plan, the turns that are named', 'plan and its turns'],
    ['the single change wherever one is named', 'single'],
  ] as const) {
    const ways: Way[] = [];
    for (let seed = first; seed < first + machines; seed++) ways.push(await goThrough(seed, how));
    rows.push([name, ways]);
  }
  const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
  const share = (flags: readonly boolean[]) => `${flags.filter(Boolean).length} of ${flags.length}`;
  const promised = (ways: readonly Way[]) => [
    String(ways.reduce((sum, { experiments }) => sum + experiments, 0)),
    figure(mean(ways.flatMap(({ promisedTurns }) => promisedTurns))),
    share(ways.flatMap(({ settled }) => settled)),
    share(ways.flatMap(({ settledAll }) => settledAll)),
    share(ways.flatMap(({ held }) => held)),
    String(ways.reduce((sum, { worsened }) => sum + worsened, 0)),
  ];
  return [
    {
      title: `${machines} simulated machines of 3 sectors, 4 channels, 6 adjusters, until every true mean is within ${toleranceMs} ms (at most ${mostTakes} takes)`,
      columns: ['', 'takes', 'changes', 'turns recorded', 'reached'],
      rows: rows.map(([name, ways]) => [
        name,
        figure(mean(ways.map(({ takes }) => takes))),
        figure(mean(ways.map(({ changes }) => changes))),
        figure(mean(ways.map(({ turns }) => turns))),
        share(ways.map(({ reached }) => reached)),
      ]),
    },
    {
      title: 'What is promised of the take of so many turns',
      columns: ['', 'named', 'mean turns', 'groups settled', 'all of a take', 'truth held', 'made worse'],
      rows: rows.slice(1).map(([name, ways]) => [name, ...promised(ways)]),
      notes: [
        'Settled: the interval came out as narrow as the decision needs; promised in nine cases of ten. Truth held: asked 95 %.',
      ],
    },
  ];
}
