/** What every part of the host works with, made once at activation. Nothing here loads the analysis. */
import * as vscode from 'vscode';
import type { Plugins, WorkerPort } from '../work/jobs.ts';
import type { AnalysisThread } from '../work/call.ts';
import { nameOf } from './uri-name.ts';

/** What differs between Node and a browser. */
export interface Platform {
  startWorker(dist: vscode.Uri): Promise<WorkerPort>;
  /** Cores of the computer that the workers run on. */
  cores(): number;
  /** Whether the worker itself can read and write there; where not, files are handed to it. */
  reaches(folder: vscode.Uri): boolean;
  /** What the worker needs to import a module of another extension. */
  importable(module: vscode.Uri): Promise<string>;
}

export interface Workshop {
  readonly extensionUri: vscode.Uri;
  readonly platform: Platform;
  readonly log: vscode.LogOutputChannel;
  /** For single jobs. */
  readonly thread: AnalysisThread;
  /** A thread besides, for whoever disposes of it. */
  openThread(): AnalysisThread;
  /** Modules that other extensions registered. */
  readonly modules: Set<vscode.Uri>;
  /** Folders with a machine.jsonc, of those the workspace holds. */
  machines(): Promise<readonly vscode.Uri[]>;
  /** Something that takes, reports or settings rest on has changed. */
  readonly onChange: vscode.Event<void>;
  changed(): void;
}

export async function pluginsOf({ modules, platform }: Workshop): Promise<Plugins> {
  return Promise.all(
    [...modules].map(async (module) => ({
      name: ownerOf(module),
      // One that cannot be read is told by the worker, which cannot import it.
      address: await platform.importable(module).catch(() => ''),
    })),
  );
}

/** The extension that a file belongs to. */
function ownerOf(module: vscode.Uri): string {
  const address = module.toString();
  const owner = vscode.extensions.all.find(({ extensionUri }) =>
    address.startsWith(`${extensionUri.toString()}/`),
  );
  return owner?.id ?? nameOf(module);
}
