/** The bench's two tables: a row a situation, and a row a kind of finding. */
import type { Table } from '../../bench/bench.ts';
import { ideas, mostlyTrue, saysSo, type Idea } from './kinds.ts';
import type { Round, Run } from './loop.ts';
import type { Situation } from './situation.ts';

export interface Done {
  readonly situation: Situation;
  readonly runs: readonly Run[];
  /** The same machines without the fault. */
  readonly without: readonly Run[];
}

const percent = (part: number, whole: number) => (whole === 0 ? '–' : `${((100 * part) / whole).toFixed(part === whole ? 0 : 1)} %`); // prettier-ignore
const roundsOf = (runs: readonly Run[]) => runs.flatMap(({ rounds }) => rounds);
const seedsWhere = (runs: readonly Run[], is: (round: Round, k: number, run: Run) => boolean) =>
  runs.filter((run) => run.rounds.some((round, k) => is(round, k, run))).map(({ seed }) => seed);

/** Changes until all that can be is within tolerance, counted from a take; Infinity: not in this many takes. */
function roundsUntilWithin({ rounds, lastWorst }: Run, from = 0): number {
  const at = [...rounds.map(({ worst }) => worst), lastWorst].slice(from).findIndex((worst) => worst <= 1);
  return at < 0 ? Infinity : at;
}

function reached(runs: readonly Run[], from?: number): string {
  if (runs.length === 0) return '–';
  const counts = runs.map((run) => roundsUntilWithin(run, from)).sort((a, b) => a - b);
  const median = counts[Math.floor((counts.length - 1) / 2)];
  const never = counts.filter((count) => count === Infinity).length;
  return `${median === Infinity ? 'never' : median}${never === 0 ? '' : ` (${never} never)`}`;
}

/** Share that held, and its standard error with machines as the independent parts. */
function coverage(runs: readonly Run[], of: (round: Round) => readonly boolean[]) {
  const perRun = runs.map(({ rounds }) => rounds.flatMap(of));
  const all = perRun.flat();
  if (all.length === 0) return null;
  const share = all.filter(Boolean).length / all.length;
  const variance = perRun.reduce((sum, own) => {
    const rest = own.filter(Boolean).length - share * own.length;
    return sum + rest * rest;
  }, 0);
  // Of a few machines that happen to agree the spread says nothing: then as many independent flags of 95 %.
  const independent = Math.sqrt((0.95 * 0.05) / all.length);
  return { share, error: Math.max(Math.sqrt(variance) / all.length, independent) };
}

type Coverage = ReturnType<typeof coverage>;
const covered = (held: Coverage) =>
  held === null ? '–' : `${(100 * held.share).toFixed(1)} ± ${(100 * held.error).toFixed(1)}`;

/** Asked: 93 to 97 %. A share that lies two of its standard errors beyond is not that. */
const outside = (held: Coverage) =>
  held !== null && (held.share + 2 * held.error < 0.93 || held.share - 2 * held.error > 0.97);

function row({ situation, runs, without }: Done): { cells: string[]; seeds: string[] } {
  const rounds = roundsOf(runs);
  const proposals = rounds.filter(({ worse }) => worse !== null);
  const foreseen = proposals.filter(({ foreseeable }) => foreseeable);
  const unforeseen = proposals.filter(({ foreseeable }) => !foreseeable);
  const falseNothing = rounds.filter((round) => round.falseNothing).length;
  const worse = foreseen.filter((round) => round.worse).length;
  const faulty = runs.filter(({ evidentFrom }) => evidentFrom !== null);
  const { finding } = situation;
  const told = (run: Run) =>
    finding !== undefined && run.rounds.slice(run.evidentFrom!).some(({ kinds }) => saysSo(kinds, finding));
  const toldCount = faulty.filter(told).length;
  const means = coverage(runs, (round) => round.meansHeld);
  const predictions = coverage(runs, (round) => round.predictionsHeld);
  const doubted = rounds.reduce((sum, round) => sum + round.doubted, 0);
  const measured = doubted + rounds.reduce((sum, round) => sum + round.meansHeld.length, 0);
  const refused = rounds.filter((round) => round.refused !== null).length;
  const failing: string[] = [];
  const seeds: string[] = [];
  const fails = (what: string, where: readonly number[]) => {
    failing.push(what);
    if (where.length > 0) seeds.push(`${what}: ${where.slice(0, 6).join(' ')}`);
  };
  if (falseNothing > 0) fails('nothing', seedsWhere(runs, (round) => round.falseNothing)); // prettier-ignore
  if (worse > 0.01 * foreseen.length)
    fails(
      'worse',
      seedsWhere(runs, (round) => round.worse === true && round.foreseeable),
    );
  if (finding !== undefined && toldCount < 0.95 * faulty.length)
    fails('finding', faulty.filter((run) => !told(run)).map(({ seed }) => seed)); // prettier-ignore
  if (outside(means)) fails('means', []);
  if (outside(predictions)) fails('predictions', []);
  return {
    cells: [
      `${situation.part} ${situation.name}`,
      String(falseNothing),
      percent(worse, foreseen.length),
      unforeseen.length === 0
        ? ''
        : percent(unforeseen.filter((round) => round.worse).length, unforeseen.length),
      reached(runs, situation.from),
      reached(without),
      finding === undefined ? '' : percent(toldCount, faulty.length),
      covered(means),
      doubted === 0 ? '' : percent(doubted, measured),
      covered(predictions),
      refused === 0 ? '' : String(refused),
      failing.join(', ') || 'ok',
    ],
    seeds,
  };
}

export function situationTable(done: readonly Done[]): Table {
  const rows = done.map((one) => ({ name: one.situation.name, ...row(one) }));
  const failing = rows.filter(({ cells }) => cells.at(-1) !== 'ok');
  return {
    title: `${done.length} situations, ${done[0]?.runs.length ?? 0} machines each, whole rounds; ${rows.length - failing.length} as asked`,
    columns: ['', 'false "nothing"', 'worse', 'unforeseeable', 'rounds', 'without', 'told', 'means held', 'doubted', 'predictions', 'refused', 'fails'], // prettier-ignore
    rows: rows.map(({ cells }) => cells),
    notes: [
      'false "nothing": "every group within tolerance" with a group more than 1.25 × its tolerance off; asked 0.',
      'worse: proposals which, done as told, took the worst group or the number within tolerance back by more than 5 %; asked ≤ 1 %.',
      'unforeseeable: the same before any take could show how the machine really moves.',
      'rounds: median of changes until every group that settings can reach is within tolerance; without: the same machine, no fault.',
      'told: machines of which the true finding was raised; asked ≥ 95 %. means, predictions: 95 % intervals that held, ± standard error with',
      'machines as the independent parts; asked 93 to 97. doubted: groups of which the report says that they cannot be relied on.',
      ...failing.flatMap(({ name, seeds }) =>
        seeds.length === 0 ? [] : [`${name}, seeds: ${seeds.join('; ')}`],
      ),
    ],
  };
}

/** A finding that is not true: one that no idea of the situation accepts. Counted by take. */
export function kindTable(done: readonly Done[]): Table {
  const kinds = [...new Set<string>(Object.values(ideas).flat())];
  const rows = kinds.map((kind) => {
    const alarms = done
      .filter(({ situation }) => !mayBeTrue(kind, situation))
      .map(({ situation, runs }) => {
        const rounds = roundsOf(runs);
        const raised = rounds.filter((round) => round.kinds.includes(kind)).length;
        return { name: situation.name, raised, takes: rounds.length };
      })
      .sort((a, b) => b.raised / b.takes - a.raised / a.takes);
    const raised = alarms.reduce((sum, one) => sum + one.raised, 0);
    const takes = alarms.reduce((sum, one) => sum + one.takes, 0);
    const most = alarms.filter((one) => one.raised > 0.02 * one.takes).slice(0, 5);
    return [
      kind,
      percent(raised, takes),
      most.map((one) => `${one.name} ${percent(one.raised, one.takes)}`).join(', ') || 'ok',
    ];
  });
  return {
    title: 'Findings in situations in which they are not true, by take; asked ≤ 2 % in each',
    columns: ['kind', 'raised in others', 'most'],
    rows,
  };
}

function mayBeTrue(kind: string, { finding, alsoTrue = [], untrue = [] }: Situation): boolean {
  const accepts = (idea: Idea) => (ideas[idea] as readonly string[]).includes(kind);
  if (mostlyTrue.includes(kind)) return !untrue.some(accepts);
  return [...(finding === undefined ? [] : [finding]), ...alsoTrue].some(accepts);
}

/** What happened to one machine after another, round by round. */
export function roundTable({ situation, runs }: Done): Table {
  const share = (held: readonly boolean[]) => `${held.filter(Boolean).length}/${held.length}`;
  return {
    title: situation.name,
    columns: ['seed, take', 'worst', 'within', 'is', 'means', 'predictions', 'findings', 'told, said'],
    rows: runs.flatMap(({ seed, rounds, lastWorst, evidentFrom }) => [
      ...rounds.map((round, k) => [
        `${seed}, ${k + 1}${k === evidentFrom ? ' fault' : ''}`,
        round.worst.toFixed(2),
        String(round.within),
        `${round.falseNothing ? 'FALSE ' : ''}${round.worse ? 'WORSE' : ''}`,
        `${share(round.meansHeld)}${round.doubted === 0 ? '' : ` ${round.doubted} doubted`}`,
        share(round.predictionsHeld),
        round.kinds.join(' '),
        round.refused ?? (round.told || round.summary),
      ]),
      [`${seed}, after`, lastWorst.toFixed(2), '', '', '', '', '', ''],
    ]),
  };
}
