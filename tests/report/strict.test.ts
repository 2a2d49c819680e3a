/** A report from elsewhere is held to its schema: no number and no path in it stops a command or leads out of the folder. */
import { beforeAll, expect, test } from 'vitest';
import { advise } from '../../analysis/advice/advise.ts';
import { driveTable } from '../../analysis/advice/drive.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { readMachine } from '../../analysis/machine/read.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { renderComparison } from '../../analysis/report/comparison-text.ts';
import { compareReports } from '../../analysis/report/compare.ts';
import { historyOf } from '../../analysis/report/history.ts';
import { renderHistory } from '../../analysis/report/history-text.ts';
import { matrixOf, renderMatrix } from '../../analysis/report/next.ts';
import { parseEarlier } from '../../analysis/report/parse-part.ts';
import { parseReport } from '../../analysis/report/parse.ts';
import { renderTable } from '../../analysis/report/table.ts';
import type { Report } from '../../analysis/results/results.ts';
import { packReport } from '../../extension/protocol/page-report.ts';
import { analyseFiles } from '../../extension/work/on-values.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { machineText, markers, patternText } from '../cli/small-machine.ts';

let machine: Machine;
let report: Report;
const solve = nodeSolver();
const encode = (text: string) => new TextEncoder().encode(text);

beforeAll(async () => {
  machine = await readMachine('machine.jsonc', machineText, () => Promise.resolve(encode(patternText)));
  const files = [{ name: 'hits.csv', bytes: encode(markers({ drum: 3.2, sectorB: 1.3 })) }];
  const { json } = await analyseFiles(solve, () => Promise.resolve({}))(
    { machine, name: 'may', files, earlier: null, voices: [], templates: {}, plugins: [] },
    { turn: () => Promise.resolve(null) },
  );
  const whole = JSON.parse(json) as Report;
  // A few rows of each list stand for all.
  report = {
    ...whole,
    hits: whole.hits.slice(0, 3),
    pins: whole.pins.slice(0, 3),
    groups: whole.groups.slice(0, 4),
  };
  delete report.sections;
});

/** Everything that commands and the page do with a report they read. */
async function used(text: string): Promise<void> {
  const read = parseReport('report.json', text);
  const earlier = parseEarlier('report.json', text);
  renderTable(earlier);
  renderComparison(compareReports(report, read));
  renderComparison(compareReports(read, report));
  renderHistory(historyOf(machine, [report, earlier]));
  renderMatrix(matrixOf(earlier, []));
  packReport(read);
  try {
    driveTable(machine, [report, earlier], [96]);
  } catch (error) {
    if (!(error instanceof InputProblem)) throw error; // this machine has no drive
  }
  await advise(machine, [report, earlier], solve, {});
}

type Path = readonly (string | number)[];

/** Where numbers stand. */
function numbersIn(value: unknown, path: Path = []): Path[] {
  if (typeof value === 'number') return [path];
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([key, inner]) => numbersIn(inner, [...path, key]));
}

function withAt(path: Path, value: unknown): string {
  const copy = structuredClone(report) as unknown as Record<string, unknown>;
  let place = copy;
  for (const key of path.slice(0, -1)) place = place[key] as Record<string, unknown>;
  place[path.at(-1)!] = value;
  return JSON.stringify(copy);
}

test.each([1e300, -1e300, 1e12, -1e12, 1.5, -1, 0])(
  '%d in place of each number: used, or refused in one line',
  async (value) => {
    const paths = numbersIn(report);
    expect(paths.length).toBeGreaterThan(60);
    for (const path of paths) {
      const outcome = await used(withAt(path, value)).catch((error: unknown) => error);
      if (outcome === undefined) continue;
      expect(outcome, `${path.join('.')} = ${value}: ${String((outcome as Error).stack)}`).toBeInstanceOf(
        InputProblem,
      );
      expect((outcome as InputProblem).message).not.toContain('\n');
    }
  },
);

test('a setting that is no whole number, or of no size that one has, is told with its name', () => {
  for (const value of [1e300, 1.5])
    expect(() => parseReport('report.json', withAt(['settings', 'joint-AB'], value))).toThrow(
      /^report\.json: settings\.joint-AB: [^\n]+; analyse the take again/,
    );
});

test.each([
  '/etc/passwd',
  '../../secret.wav',
  'a/../../b',
  '\\\\server\\share\\a.wav',
  'C:\\a.wav',

  '//server/a',
  '..\\a',
  'a\0b',
])('a file that leads out is refused: %j', (file) => {
  const named = { ...report, findings: [{ kind: 'clipped', severity: 'note', message: 'x', file }] };
  expect(() => parseReport('report.json', JSON.stringify(named))).toThrow(
    /^report\.json: findings\[0\]\.file: a path that leads out of the folder/,
  );
  expect(() => parseEarlier('report.json', JSON.stringify(named))).toThrow(InputProblem);
});

test.each(['close.wav', 'voices/bell.json', 'a..b.wav', '…', 'a: b.wav'])(
  'one of the folder’s own is kept: %j',
  (file) => {
    const named = { ...report, findings: [{ kind: 'clipped', severity: 'note', message: 'x', file }] };
    expect(parseReport('report.json', JSON.stringify(named)).findings[0].file).toBe(file);
  },
);
