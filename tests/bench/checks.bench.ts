/**
 * How often findings are right: sound machines on which none should be raised, and machines with one fault of at least
 * three times the take's 95 % interval, on which that one should. Strikes at known times, no sound in between.
 */
import { runChecks } from '../../analysis/checks/index.ts';
import { soundCase } from '../checks/cases.ts';
import { faults } from '../checks/faults.ts';
import { simulate } from '../checks/simulate.ts';
import { figure, option, tell, type Table } from './bench.ts';

const soundTakes = Number(option('sound', '1000'));
const faultyTakes = Number(option('faulty', '200'));
/** What the machine truly has: it scatters as much as it was drawn to. */
const alwaysTrue = new Set(['unrepeatable']);

export default async function bench(): Promise<Table[]> {
  return Promise.resolve([falseFindings(), trueFindings()]);
}

function falseFindings(): Table {
  const counts = new Map<string, number>();
  let takes = 0;
  for (let seed = 10_000; seed < 10_000 + soundTakes; seed++) {
    tell('sound takes', seed - 10_000, soundTakes);
    const { machine, truth, how } = soundCase(seed);
    const kinds = runChecks(simulate(machine, truth, how, seed).study)
      .map(({ kind }) => kind)
      .filter((kind) => !alwaysTrue.has(kind));
    if (kinds.length > 0) takes++;
    for (const kind of new Set(kinds)) counts.set(kind, (counts.get(kind) ?? 0) + 1);
  }
  return {
    title: `False findings on ${soundTakes} takes of sound machines (at most 1 take in 20 is asked)`,
    columns: ['finding', 'takes', 'of a hundred'],
    rows: [...counts, ['any', takes] as const].map(([kind, count]) => [
      kind,
      `${count}`,
      figure((100 * count) / soundTakes),
    ]),
  };
}

function trueFindings(): Table {
  const rows = faults.map(({ kind, name, add, raised }) => {
    let [asked, hit, others] = [0, 0, 0];
    for (let seed = 20_000; asked < faultyTakes && seed < 20_000 + 4 * faultyTakes; seed++) {
      tell(name, asked, faultyTakes);
      const sound = soundCase(seed);
      const plain = simulate(sound.machine, sound.truth, sound.how, seed).study;
      const faulty = add(sound, plain, seed);
      if (faulty === null) continue;
      asked++;
      const found = runChecks(faulty.study);
      if (found.some((one) => one.kind === kind && (raised?.(one, faulty.where) ?? true))) hit++;
      if (found.some((one) => one.kind !== kind && !alwaysTrue.has(one.kind))) others++;
    }
    return [name, kind, `${asked}`, figure((100 * hit) / asked), figure((100 * others) / asked)];
  });
  return {
    title:
      'Findings raised where they are true: three times the 95 % interval or just above (95 of 100 is asked)',
    columns: ['fault', 'finding', 'takes', 'raised, of a hundred', 'another finding too'],
    rows,
  };
}
