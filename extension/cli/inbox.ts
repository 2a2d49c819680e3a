/** shimwright inbox: a folder that a recorder or a phone writes to; what comes in is offered as takes of the machines it fits. */
import { basename, join } from 'node:path';
import { createInterface } from 'node:readline/promises';
import { setTimeout as sleep } from 'node:timers/promises';
import { InputProblem } from '../../analysis/input/problem.ts';
import { choiceIn, isAnyGrowing, look, lookEveryS, nothingLooked, type InboxFile } from '../common/inbox.ts';
import type { AnalysisThread } from '../work/call.ts';
import type { JudgedRecording } from '../work/jobs.ts';
import { mistake, ok, unusable, type Command, type Given } from './command.ts';
import type { Terminal } from './terminal.ts';

export const inbox: Command = {
  name: 'inbox',
  usage: 'FOLDER [MACHINE...] [--move] [--yes] [--once] [--quiet]',
  summary: 'watches a folder for recordings, and offers each as a take of the machine it fits',
  flags: ['move', 'yes', 'once'],
  help: [
    'FOLDER is where a recorder or a phone puts its files, or its card; folders in it are looked into. Each MACHINE is a',
    'machine’s folder; without one, the machine of the folder you are in. A recording that has stopped growing is held against',
    'the patterns of the machines, and where those fit alike against their saved voices. All that came in are asked about',
    'at once; each becomes a take of its own unless you say otherwise, is copied, and analysed. What a take holds already is',
    'not offered again. Ctrl-C ends it.',
    '',
    '  --move   the file goes from FOLDER once its copy is found to be the same',
    '  --yes    takes what surely fits without asking; the rest is only named',
    '  --once   what is there now, and no more',
    '  --quiet  results only',
    '',
    'shimwright inbox ~/recorder mill-lane weir-lane',
  ].join('\n'),
  run: runInbox,
};

interface InboxMachine {
  readonly root: string;
  readonly shown: string;
  /** As the person knows it. */
  readonly name: string;
}

/** What the whole run goes by. */
interface Watch {
  readonly folder: string;
  readonly machines: readonly InboxMachine[];
  readonly given: Given;
  readonly terminal: Terminal;
  readonly signal: AbortSignal;
}

async function runInbox(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const [folder, ...paths] = given.paths;
  if (folder === undefined)
    throw mistake(inbox, 'no folder was named', 'give the recorder’s: shimwright inbox ~/recorder .');
  const watch: Watch = {
    folder,
    machines: await machinesAt(paths.length > 0 ? paths : ['.']),
    given,
    terminal,
    signal,
  };
  const { withThread } = await import('./threads.ts');
  return withThread(signal, (thread) => watchFolder(watch, thread));
}

async function machinesAt(paths: readonly string[]): Promise<InboxMachine[]> {
  const { locate, readMachineFolder } = await import('../files/machine-folder.ts');
  const machines = new Map<string, InboxMachine>();
  for (const path of paths) {
    const { root, shownRoot } = await locate(path);
    const { machine } = await readMachineFolder(root, shownRoot);
    machines.set(root, { root, shown: shownRoot, name: machine.description.name });
  }
  return [...machines.values()];
}

async function watchFolder(watch: Watch, thread: AnalysisThread): Promise<number> {
  const { folder, machines, given, terminal, signal } = watch;
  const { filesInInbox } = await import('../files/inbox.ts');
  const known = new Set<string>();
  let looked = nothingLooked;
  let status = ok;
  if (!given.has('once') && !given.has('quiet'))
    terminal.note(`watching ${folder} for ${machines.map(({ name }) => name).join(', ')}; Ctrl-C ends it`);
  for (;;) {
    signal.throwIfAborted();
    const found = look(looked, await filesInInbox(folder), performance.now() / 1000, Date.now());
    const isFirst = looked === nothingLooked;
    looked = found.looked;
    const fresh = found.whole.filter((file) => !known.has(keyOf(file)));
    for (const file of fresh) known.add(keyOf(file));
    if (fresh.length > 0) {
      const { offers, isAnyUnread } = await judgeAll(watch, thread, fresh);
      if (isAnyUnread) status = unusable;
      if (offers.length > 0) status = Math.max(status, await offer(watch, offers));
    }
    if (given.has('once') && !isFirst && !isAnyGrowing(looked, found.whole)) return status;
    await sleep(1000 * lookEveryS, undefined, { signal }).catch(() => signal.throwIfAborted());
  }
}

/** Written again under its name it is another recording. */
const keyOf = ({ name, sizeBytes, modifiedMs }: InboxFile) => `${sizeBytes} ${modifiedMs} ${name}`;

interface Offer extends JudgedRecording {
  readonly file: string;
  readonly shown: string;
}

/** Those that are recordings and no take's yet; a line for each that cannot be read. */
async function judgeAll(
  { folder, machines, terminal, signal }: Watch,
  thread: AnalysisThread,
  files: readonly InboxFile[],
): Promise<{ offers: Offer[]; isAnyUnread: boolean }> {
  const { takeHolding } = await import('../files/inbox.ts');
  const offers: Offer[] = [];
  let isAnyUnread = false;
  for (const { name } of files) {
    const file = join(folder, name);
    try {
      const held = await takeHolding(machines, file);
      if (held !== null) {
        terminal.note(`${file}: is in ${held} already`);
        continue;
      }
      const progress = (fraction: number) => terminal.progress(name, 'hearing', fraction);
      const judged = await thread.call(
        'whichMachineOf',
        { machines, file },
        { signal, progress: (_, fraction) => progress(fraction) },
      );
      if (judged !== null) offers.push({ ...judged, file, shown: name });
    } catch (error) {
      if (!(error instanceof InputProblem)) throw error;
      isAnyUnread = true;
      terminal.note(inFull(error, file).message);
    }
  }
  terminal.progressDone();
  return { offers, isAnyUnread };
}

/** Readers of recordings know a file by its name alone. */
function inFull(problem: InputProblem, file: string): InputProblem {
  const { place, what, mend } = problem;
  return problem.file === basename(file) ? new InputProblem(file, place, what, mend) : problem;
}

/** One question for all, then the takes and their analysis. @returns the exit status */
async function offer(watch: Watch, offers: readonly Offer[]): Promise<number> {
  const { folder, machines, terminal } = watch;
  const { lengthWords, machineOffered, whichWords } = await import('../common/inbox-text.ts');
  const names = machines.map(({ name }) => name);
  terminal.print(
    offers.length === 1 ? `A recording in ${folder}:` : `${offers.length} recordings in ${folder}:`,
  );
  offers.forEach(({ shown, lengthS, which }, i) =>
    terminal.print(`  ${i + 1}  ${shown}, ${lengthWords(lengthS)}: ${whichWords(which, names)}`),
  );
  for (const { file, which } of offers)
    if (machineOffered(which) === null)
      terminal.print(`If it is one all the same: shimwright take MACHINE ${file}`);
  const chosen = await ask(watch, offers);
  const made: string[] = [];
  let status = ok;
  for (const numbers of chosen) {
    const parts = numbers.map((number) => offers[number - 1]);
    try {
      const take = await make(watch, parts, machineOffered(parts[0].which)!);
      if (take !== null) made.push(take);
    } catch (error) {
      if (!(error instanceof InputProblem)) throw error;
      status = unusable;
      terminal.note(error.message);
    }
  }
  if (made.length === 0) return status;
  const { analyze } = await import('./analyze.ts');
  const analysed = await analyze.run(
    { paths: made, has: (flag) => flag === 'quiet' && watch.given.has(flag), value: () => undefined },
    terminal,
    watch.signal,
  );
  return Math.max(status, analysed);
}

/** Numbers of the offers of each take. */
async function ask(watch: Watch, offers: readonly Offer[]): Promise<number[][]> {
  const { given, terminal, signal } = watch;
  const { machineOffered } = await import('../common/inbox-text.ts');
  const sure = offers.flatMap(({ which }, i) => (which.kind === 'fits' ? [i + 1] : []));
  if (given.has('yes')) return sure.map((number) => [number]);
  const may = offers.flatMap(({ which }, i) => (machineOffered(which) === null ? [] : [i + 1]));
  if (may.length === 0) return [];
  if (!process.stdin.isTTY || !process.stderr.isTTY) {
    terminal.print('Nobody can be asked here: give --yes to take what surely fits.');
    return [];
  }
  const lines = createInterface({ input: process.stdin, output: process.stderr });
  const yes = sure.length === 0 ? '' : `y: ${sure.join(' ')}; `;
  try {
    for (;;) {
      const answer = await lines.question(
        `Make takes? ${yes}or numbers, "1 2" for two takes, "1+2" for one of both; Enter: none > `,
        { signal },
      );
      const chosen = choiceIn(answer, offers.length, sure);
      const fault = chosen === null ? 'that cannot be read' : faultOf(chosen, offers, machineOffered);
      if (chosen !== null && fault === null) return chosen;
      terminal.note(fault ?? '');
    }
  } finally {
    lines.close();
  }
}

function faultOf(
  chosen: readonly (readonly number[])[],
  offers: readonly Offer[],
  machineOffered: (which: Offer['which']) => number | null,
): string | null {
  for (const numbers of chosen) {
    const machines = numbers.map((number) => machineOffered(offers[number - 1].which));
    const unnamed = numbers.find((_, i) => machines[i] === null);
    if (unnamed !== undefined) return `${unnamed} fits no one machine: use shimwright take`;
    if (new Set(machines).size > 1) return `${numbers.join('+')} are of different machines`;
  }
  return null;
}

/** @returns the take as the person knows it; null where its first file became a take meanwhile */
async function make(
  { machines, given, terminal }: Watch,
  parts: readonly Offer[],
  machine: number,
): Promise<string | null> {
  const { takeHolding, removeCopied } = await import('../files/inbox.ts');
  const { makeTake } = await import('./take.ts');
  const { root, shown } = machines[machine];
  const files = parts.map(({ file }) => file);
  const held = await takeHolding(machines, files[0]);
  if (held !== null) {
    terminal.note(`${files[0]}: is in ${held} already`);
    return null;
  }
  const name = await makeTake({ root, shownRoot: shown, name: undefined, files });
  const take = join(shown, 'takes', name);
  terminal.print(`${take}: ${files.map((file) => basename(file)).join(', ')}`);
  if (given.has('move'))
    for (const file of files) await removeCopied(file, join(root, 'takes', name, basename(file)));
  return take;
}
