/** "Listen While It Records": a WAV that a recorder is writing is heard as it grows, and is an ordinary take at its end. */
import * as vscode from 'vscode';
import { InputProblem } from '../../analysis/input/problem.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';
import { listen } from '../common/listening.ts';
import { analyseTake } from './analyse.ts';
import { createTake } from './create-take.ts';
import { exists } from './machine-search.ts';
import { machineAt } from './machine-files.ts';
import { pickMachine, takeAbove, type Clicked } from './targets.ts';
import type { Workshop } from './workshop.ts';

/**
 * @param file   that is being written; picked where absent
 * @param name   of the take that it becomes; asked for where absent
 * @returns the report of the whole; undefined where nothing was picked or recorded
 */
export async function listenToRecording(
  shop: Workshop,
  clicked: Clicked,
  file?: vscode.Uri,
  name?: string,
): Promise<EarlierReport | undefined> {
  const root = await pickMachine(shop, clicked);
  const recording = root && (file ?? (await pickRecording()));
  if (!root || !recording) return undefined;
  if (!shop.platform.reaches(recording))
    throw new InputProblem(
      recording.path,
      '',
      'cannot be followed in a browser, which reads files whole',
      'open the folder on a desktop',
    );
  const { tempi, drive } = (await machineAt(root)).description;
  const lines = vscode.window.createOutputChannel(vscode.l10n.t('Shimwright: listening'));
  lines.show(true);
  const options = {
    location: vscode.ProgressLocation.Notification,
    title: vscode.l10n.t('Listening'),
    cancellable: true,
  };
  const thread = shop.openThread();
  try {
    await vscode.window.withProgress(options, (progress, token) =>
      listen(
        {
          hear: async (lastS) =>
            (await exists(recording))
              ? thread.call('listenTo', {
                  root: root.fsPath,
                  shown: vscode.workspace.asRelativePath(root),
                  file: recording.fsPath,
                  lastS,
                })
              : null,
          say: (line) => {
            lines.appendLine(line);
            if (!line.startsWith(' ')) progress.report({ message: line });
          },
          wait: (seconds) => waitFor(seconds, token),
          now: () => performance.now() / 1000,
          isEnded: () => token.isCancellationRequested,
        },
        { bpm: tempi?.at(0) ?? null, setpoint: null, maxSetpoint: drive?.maxSetpoint ?? null },
      ),
    );
  } finally {
    thread.dispose();
  }
  if (!(await exists(recording))) return undefined;
  const own = await takeAbove(recording);
  const folder =
    own?.root.toString() === root.toString() ? own.folder : await createTake(shop, root, [recording], name);
  return folder === null ? undefined : analyseTake(shop, folder);
}

async function pickRecording(): Promise<vscode.Uri | undefined> {
  const title = vscode.l10n.t('The WAV file that is being recorded');
  return (
    await vscode.window.showOpenDialog({ title, filters: { WAV: ['wav', 'bwf', 'rf64', 'bw64'] } })
  )?.[0];
}

/** Ends early where the person ends the listening. */
function waitFor(seconds: number, token: vscode.CancellationToken): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(done, Math.max(0, 1000 * seconds));
    const ended = token.onCancellationRequested(done);
    function done() {
      clearTimeout(timer);
      ended.dispose();
      resolve();
    }
  });
}
