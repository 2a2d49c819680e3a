// Each kind of finding by the smallest machine that shows it: a text for each in machines/, with the files that a builder would
// have, markers alone. The first line of a text says what is wrong with the machine; its name says what is to be found.
import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { readMachine } from '../../analysis/machine/read.ts';
import { analyse } from '../../analysis/pipeline.ts';
import type { Report } from '../../analysis/results/results.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { memoryFile } from '../take/files.ts';

const folder = new URL('machines/', import.meta.url);
const names = readdirSync(folder).map((file) => file.replace(/\.txt$/, ''));
const solve = nodeSolver();

/** Path → contents of the files in one text. */
function filesIn(text: string): Map<string, string> {
  return new Map(
    text
      .split(/^=== /m)
      .slice(1)
      .map((part) => [
        part.slice(0, part.indexOf('\n')),
        part.slice(part.indexOf('\n') + 1).trimEnd() + '\n',
      ]),
  );
}

/** The report of the newest take, all earlier ones known. */
async function newestReport(name: string): Promise<Report> {
  const files = filesIn(readFileSync(new URL(`${name}.txt`, folder), 'utf8'));
  const machine = await readMachine('machine.jsonc', files.get('machine.jsonc')!, (file) =>
    Promise.resolve(new TextEncoder().encode(files.get(file))),
  );
  const takes = [...new Set([...files.keys()].flatMap((path) => /^takes\/([^/]+)\//.exec(path)?.[1] ?? []))];
  const reports: Report[] = [];
  for (const take of takes) {
    const own = [...files].flatMap(([path, text]) =>
      path.startsWith(`takes/${take}/`) ? [memoryFile(path.split('/')[2], text)] : [],
    );
    const history = [...reports];
    reports.push(
      await analyse(
        { machine, name: take, files: own, earlier: null, history: () => Promise.resolve(history) },
        solve,
      ),
    );
  }
  return reports[reports.length - 1];
}

describe('the smallest machine with', () => {
  it.each(names)('%s', async (name) => {
    const { findings } = await newestReport(name);
    const kinds = new Set<string>(findings.map(({ kind }) => kind));
    if (name === 'nothing') expect([...kinds]).toEqual([]);
    else expect([...kinds]).toContain(name);
  });
});
