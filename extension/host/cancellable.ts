/** A job that a notification shows, and that the person may stop there. */
import * as vscode from 'vscode';

export type JobProgress = vscode.Progress<{ message?: string; increment?: number }>;

/** @param job its signal is aborted where the person cancels it */
export function cancellable<T>(
  title: string,
  job: (signal: AbortSignal, progress: JobProgress) => Promise<T>,
): Thenable<T> {
  const options = { location: vscode.ProgressLocation.Notification, title, cancellable: true };
  return vscode.window.withProgress(options, (progress, token) => {
    const stop = new AbortController();
    token.onCancellationRequested(() => stop.abort());
    return job(stop.signal, progress);
  });
}
