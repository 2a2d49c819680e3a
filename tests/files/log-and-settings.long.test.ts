// Work is recorded in two files, CALIBRATION.md and machine.jsonc. Every operation on the disk is made to be the last one
// (the process is killed before it or after it) or to fail, and after the next start both must say the same.
import { spawn } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { build } from 'esbuild';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { fittedInLog } from '../../analysis/report/changelog.ts';
import { mendUnfinished } from '../../extension/files/unfinished.ts';
import { seededRandom } from '../../samples/random.ts';
import { machineText, patternText } from '../cli/small-machine.ts';

/** Without it a few of each kind are tried; KILLS=500 is the long run. */
const wanted = Number(process.env.KILLS ?? 0);
const seed = Number(process.env.SEED ?? 20261127);

let folder: string;

beforeAll(async () => {
  folder = realpathSync(mkdtempSync(join(tmpdir(), 'shimwright-both-')));
  writeFileSync(join(folder, 'faulty.mjs'), faultySource);
  for (const [name, contents] of Object.entries(writers))
    await build({
      stdin: { contents, resolveDir: join(import.meta.dirname, '../..'), loader: 'ts' },
      bundle: true,
      platform: 'node',
      format: 'esm',
      outfile: join(folder, `${name}.mjs`),
      logLevel: 'error',
      mainFields: ['module', 'main'],
      plugins: [
        {
          name: 'faulty file system',
          setup: (bundler) =>
            bundler.onResolve({ filter: /^node:fs\/promises$/ }, () => ({
              path: join(folder, 'faulty.mjs'),
            })),
        },
      ],
    });
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Each records a setting as fitted, and prints how many operations that took. */
const writers = {
  /** As advise --apply does. */
  terminal: `
import { applyWork } from './extension/cli/apply.ts';
import { readMachineFolder } from './extension/files/machine-folder.ts';
import { noAdvice } from './analysis/report/report.ts';
import { begin, count } from 'node:fs/promises';
const [root, setting] = process.argv.slice(2);
const machine = await readMachineFolder(root, root);
begin();
try {
  await applyWork(machine, null, noAdvice, { 'joint-AB': Number(setting) }, new AbortController().signal);
  console.log(count());
} catch (error) {
  console.error(error.message);
  process.exitCode = error.name === 'InputProblem' ? 2 : 70;
}
`,
  /** As the editor does, which saves each of the two into the old file. */
  editor: `
import { applySettings } from './analysis/machine/read.ts';
import { workDone } from './extension/common/work-done.ts';
import { addEntry } from './analysis/report/changelog.ts';
import { noAdvice } from './analysis/report/report.ts';
import { readMachineFolder } from './extension/files/machine-folder.ts';
import { saveNoted } from './extension/files/write.ts';
import { begin, count, readFile, writeFile } from 'node:fs/promises';
const [root, setting] = process.argv.slice(2);
const { machine } = await readMachineFolder(root, root);
const files = ['CALIBRATION.md', 'machine.jsonc'].map((name) => root + '/' + name);
const [log, text] = await Promise.all(files.map((file) => readFile(file, 'utf8')));
const work = workDone({ machine, text, newest: null, advice: noAdvice, unnoted: [] }, { 'joint-AB': Number(setting) }, new Date());
const after = [addEntry(log, work.entry), work.description];
const bytes = (value) => new TextEncoder().encode(value);
const changes = files.map((path, i) => ({ path, before: bytes([log, text][i]), bytes: bytes(after[i]) }));
begin();
try {
  await saveNoted(root, changes, async () => {
    try {
      for (const i of [0, 1]) await writeFile(files[i], after[i]);
    } catch (error) {
      for (const i of [0, 1]) await writeFile(files[i], [log, text][i]).catch(() => undefined);
      throw Object.assign(new Error(error.message + '; both are as they were'), { name: 'InputProblem' });
    }
    return true;
  });
  console.log(count());
} catch (error) {
  console.error(error.message);
  process.exitCode = error.name === 'InputProblem' ? 2 : 70;
}
`,
};

/** node:fs/promises, of which the operation numbered AT fails as HOW says; later ones too where it ends in "for good". */
const faultySource = `
import * as real from 'fs/promises';
export * from 'fs/promises';
const { AT, HOW } = process.env;
let on = false;
let done = 0;
export const begin = () => (on = true);
export const count = () => done;
const die = () => process.kill(process.pid, 'SIGKILL');
async function step(act, torn) {
  if (!on) return act();
  const here = ++done === Number(AT) || (HOW?.endsWith('for good') && done > Number(AT));
  if (here && HOW === 'killed within' && torn) await torn();
  if (here && /^killed (before|within)$/.test(HOW)) die();
  if (here && /^E/.test(HOW)) throw Object.assign(new Error(HOW), { code: HOW.split(' ')[0] });
  const result = await act();
  if (here && HOW === 'killed after') die();
  return result;
}
const wrapped = (name) => (...args) => step(() => real[name](...args));
export const rename = wrapped('rename');
export const link = wrapped('link');
export const copyFile = wrapped('copyFile');
export const writeFile = (path, text, ...more) =>
  step(
    () => real.writeFile(path, text, ...more),
    () => typeof path === 'string' && real.writeFile(path, text.slice(0, Math.floor(text.length / 2)), ...more),
  );
export const rm = wrapped('rm');
export const open = async (...args) => {
  const handle = await step(() => real.open(...args));
  for (const name of ['writeFile', 'sync', 'chmod', 'chown']) {
    const own = handle[name].bind(handle);
    handle[name] = (...more) => step(() => own(...more));
  }
  return handle;
};
`;

const ownWords = '# Our log\n\nKept since 2019.\n';

function machine(): string {
  const root = realpathSync(mkdtempSync(join(folder, 'machine-')));
  writeFileSync(join(root, 'machine.jsonc'), machineText);
  writeFileSync(join(root, 'pattern.csv'), patternText);
  writeFileSync(join(root, 'CALIBRATION.md'), ownWords);
  return root;
}

interface Fault {
  readonly at: number;
  readonly how: string;
}

interface Run {
  readonly status: number | null;
  readonly killed: boolean;
  readonly out: string;
  readonly err: string;
}

type Writer = keyof typeof writers;

function record(writer: Writer, root: string, setting: number, fault: Fault | null): Promise<Run> {
  const env = fault === null ? {} : { AT: String(fault.at), HOW: fault.how };
  const child = spawn(process.execPath, [join(folder, `${writer}.mjs`), root, String(setting)], {
    env: { ...process.env, ...env },
  });
  let [out, err] = ['', ''];
  child.stdout.on('data', (text: Buffer) => (out += text.toString()));
  child.stderr.on('data', (text: Buffer) => (err += text.toString()));
  return new Promise((resolve) =>
    child.once('close', (status, signal) => resolve({ status, killed: signal === 'SIGKILL', out, err })),
  );
}

/** What each file says of the joint; the log's null where it says nothing. */
function both(root: string) {
  const log = readFileSync(join(root, 'CALIBRATION.md'), 'utf8');
  const text = readFileSync(join(root, 'machine.jsonc'), 'utf8');
  const installed = Number(/"joint-AB"[^]*?"installed": (\d+)/.exec(text)![1]);
  expect(text).toBe(machineText.replace('"installed": 3', `"installed": ${installed}`));
  expect(log.startsWith(ownWords)).toBe(true);
  return { installed, logged: fittedInLog(log, ['joint-AB']).get('joint-AB')?.setting ?? null };
}

const hows = [
  'killed before',
  'killed within',
  'killed after',
  'EIO',
  'ENOSPC',
  'EIO for good',
  'ENOSPC for good',
];

test.each(Object.keys(writers) as Writer[])(
  `%s: log and settings say the same after every kill and fault (seed ${seed}${wanted > 0 ? `, ${wanted} of them` : ''})`,
  { timeout: 3_600_000 },
  async (writer) => {
    const root = machine();
    const clean = await record(writer, root, 4, null);
    expect(clean.err).toBe('');
    const operations = Number(clean.out);
    expect(operations).toBeGreaterThan(15);
    expect(both(root)).toEqual({ installed: 4, logged: 4 });

    const next = seededRandom(seed);
    const all = hows.flatMap((how) => Array.from({ length: operations }, (_, i) => ({ how, at: i + 1 })));
    // In the second half files change places: each operation there is the last one once; the rest is spread, for the editor
    // more thinly, which shares it with the terminal.
    const every = writer === 'terminal' ? 7 : 14;
    const short = all.filter(({ how, at }) =>
      how === 'killed after' ? at > operations / 2 : at % every === hows.indexOf(how),
    );
    const trials =
      wanted > 0
        ? Array.from(
            { length: wanted },
            (_, i) => all[i < all.length ? i : Math.floor(next.uniform() * all.length)],
          )
        : short;
    const counts = { killed: 0, failed: 0, done: 0, mended: 0 };
    let setting = 4;
    for (const fault of trials) {
      const label = `${fault.how} at ${fault.at}`;
      const before = both(root);
      const to = setting === 4 ? 5 : 4;
      const run = await record(writer, root, to, fault);
      if (!run.killed && run.status !== 0) {
        counts.failed++;
        // A person is told, in one line; where the disk works again for the way back, nothing has changed.
        expect([run.status, run.err], label).toEqual([2, expect.stringMatching(/^[^\n]+; [^\n]+\n$/)]);
        if (!fault.how.endsWith('for good')) expect(both(root), label).toEqual(before);
      } else if (run.killed) counts.killed++;
      else counts.done++;
      // The next start.
      if ((await mendUnfinished(root)) !== null) counts.mended++;
      const after = both(root);
      expect(after.logged, label).toBe(after.installed);
      expect([before.installed, to], label).toContain(after.installed);
      if (run.status === 0) expect(after.installed, label).toBe(to);
      setting = after.installed;
    }
    expect(counts.killed).toBeGreaterThan(5);
    expect(counts.failed).toBeGreaterThan(5);
    // Had no kill fallen between the two renames, this would show nothing.
    expect(counts.mended).toBeGreaterThan(0);
    const last = await record(writer, root, setting === 4 ? 5 : 4, null);
    expect(last.status).toBe(0);
    expect(readdirSync(root).sort()).toEqual(['CALIBRATION.md', 'machine.jsonc', 'pattern.csv']);
    console.log(
      `${writer}: ${trials.length} runs over ${operations} operations: ${JSON.stringify(counts)}, 0 disagreements`,
    );
  },
);
