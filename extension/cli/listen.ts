/** shimwright listen: a take that is being recorded, told as it grows; at its end it is an ordinary take. */
import { existsSync } from 'node:fs';
import { basename, join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { ListeningGoal } from '../../analysis/report/listening.ts';
import { mistake, type Command, type Given } from './command.ts';
import type { Terminal } from './terminal.ts';

export const listenCommand: Command = {
  name: 'listen',
  usage: 'MACHINE FILE [--tempo N] [--setpoint N] [--name NAME] [--quiet]',
  summary: 'follows a recording while it is made, and says when it is enough',
  flags: [],
  values: ['tempo', 'setpoint', 'name'],
  help: [
    'FILE is a WAV that a recorder or any capture program is writing, or - for one that comes in at standard input. Every',
    'turn of the barrel, or every five seconds, a few lines say the tempo, the worst channels with their intervals, what is',
    'not heard, and whether the turns recorded decide every group. Each is of the last turns alone, as many as the computer',
    'hears in time.',
    '',
    'It ends when the recording grows no more, or at Ctrl-C. The recording is then a take, where it is not one already, and is',
    'analysed as any other.',
    '',
    '  --tempo N      beats a minute that are wanted: says how much more or less set-point that asks for',
    '  --setpoint N   of the motor, while this is recorded: says which to try',
    '  --name NAME    what the take is called; otherwise the day, with a number where there is one already',
    '  --quiet        results only',
    '',
    'shimwright listen . ~/recorder/today.wav --tempo 112',
  ].join('\n'),
  run: runListen,
};

async function runListen(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const [path, file, ...more] = given.paths;
  if (path === undefined || file === undefined)
    throw mistake(
      listenCommand,
      path === undefined ? 'no machine was named' : 'no recording was named',
      'give the machine’s folder and the file that is being written: shimwright listen . today.wav',
    );
  if (more.length > 0)
    throw mistake(listenCommand, `one recording at a time, and ${more.length + 1} were named`);
  const { locate, readMachineFolder } = await import('../files/machine-folder.ts');
  const { root, shownRoot } = await locate(path);
  const { machine } = await readMachineFolder(root, shownRoot);
  const said = { tempo: numberOf(given, 'tempo'), setpoint: numberOf(given, 'setpoint') };
  const wanted: ListeningGoal = {
    bpm: said.tempo ?? machine.description.tempi?.at(0) ?? null,
    setpoint: said.setpoint ?? null,
    maxSetpoint: machine.description.drive?.maxSetpoint ?? null,
  };
  if (file === '-' && process.stdin.isTTY)
    throw mistake(listenCommand, 'standard input is the keyboard', 'pipe a recorder that writes WAV into it');
  const { makeTake, startTake } = await import('./take.ts');
  const place = { root, shownRoot, name: given.value('name'), said };
  const piped = file === '-';
  const started = piped ? await startTake(place) : null;
  const recording = started === null ? file : join(root, 'takes', started, 'recording.wav');
  await hearWhileItGrows({ root, shown: shownRoot, recording, piped }, wanted, terminal);
  signal.throwIfAborted();
  if (!existsSync(recording))
    throw mistake(listenCommand, 'nothing was recorded', 'start the recorder, then listen');
  // A recorder's folder is no machine's, as a rule.
  const own = started === null ? await locate(recording).catch(() => null) : null;
  const name =
    started ??
    (own?.root === root && own.take !== null
      ? own.take.name
      : await makeTake({ ...place, files: [recording] }));
  const shown = join(shownRoot, 'takes', name);
  terminal.print(`\n${join(shown, basename(recording))} is a take now.\n`);
  const { analyze } = await import('./analyze.ts');
  return analyze.run({ paths: [shown], has: () => false, value: () => undefined }, terminal, signal);
}

interface Recording {
  readonly root: string;
  readonly shown: string;
  readonly recording: string;
  /** It comes in at standard input. */
  readonly piped: boolean;
}

/** Until the recording grows no more, or Ctrl-C: the first ends the listening, a second one the program. */
async function hearWhileItGrows(
  { root, shown, recording, piped }: Recording,
  wanted: ListeningGoal,
  terminal: Terminal,
): Promise<void> {
  const { listen } = await import('../common/listening.ts');
  const { newThread } = await import('./threads.ts');
  const { capture } = await import('../files/capture.ts');
  const end = new AbortController();
  const ended = () => end.abort();
  process.once('SIGINT', ended);
  const captured = piped ? capture(process.stdin, recording, end.signal).finally(ended) : null;
  captured?.catch(() => undefined); // awaited below, when the thread is closed
  const thread = newThread();
  let isDeaf = false;
  // What comes in at a pipe is lost where it is not kept: it is written on, and analysed when it ends.
  const refused = (error: unknown) => {
    if (!piped) throw error;
    isDeaf = true;
    const why = error instanceof Error ? error.message.split('\n', 1)[0] : String(error);
    terminal.note(`${why}; the recording is kept, and analysed at its end`);
    return null;
  };
  if (!piped && !existsSync(recording)) terminal.note(`waiting for ${recording}; Ctrl-C ends it`);
  try {
    await listen(
      {
        hear: (lastS) =>
          existsSync(recording) && !isDeaf
            ? thread.call('listenTo', { root, shown, file: recording, lastS }).catch(refused)
            : Promise.resolve(null),
        say: (line) => terminal.print(line),
        wait: (seconds) =>
          sleep(Math.max(0, 1000 * seconds), undefined, { signal: end.signal }).catch(() => undefined),
        now: () => performance.now() / 1000,
        isEnded: () => end.signal.aborted,
      },
      wanted,
    );
    end.abort();
    await captured;
  } finally {
    process.removeListener('SIGINT', ended);
    thread.dispose();
  }
}

function numberOf(given: Given, option: 'tempo' | 'setpoint'): number | undefined {
  const text = given.value(option);
  if (text === undefined) return undefined;
  const value = Number(text);
  if (value > 0 && Number.isFinite(value)) return value;
  throw mistake(listenCommand, `--${option} "${text}" is no number above 0`, 'give it as 112 or 97.5');
}
