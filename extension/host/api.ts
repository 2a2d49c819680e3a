/**
 * What this extension exports to others. `getExtension('shimwright.shimwright').activate()` gives ShimwrightExports;
 * ask for the version you were written against: members may be added to a version, none is removed or changed.
 */
import * as vscode from 'vscode';

export type { Check, Study } from '../../analysis/checks/check.ts';
export type { Finding } from '../../analysis/results/results.ts';
export type { AudioFacts, MarkerReader, RawMarker } from '../../analysis/take/markers/marker-reader.ts';
export type { SourceFile } from '../../analysis/ports.ts';

export interface ShimwrightExports {
  /** @throws Error where this Shimwright does not have that version */
  getApi(version: 1): ShimwrightApi;
}

export interface ShimwrightApi {
  readonly version: 1;
  /**
   * Adds checks, marker readers or both to every later analysis, after the built-in ones.
   *
   * Analysis runs on a thread of its own, so what is added is a module and not a function: an ECMAScript module in one
   * file, without imports, that exports `checks: Check[]`, `markerReaders: MarkerReader[]`, or both. It must run in
   * Node and in a browser. A check's findings have the kinds of the catalogue, or one of their own with a colon in it:
   * `yourname:felt-worn`, its `section` shows what it measured. What throws, or gives back something of another shape, is
   * left out, and the report names your extension.
   *
   * @param module where the file is, in your extension
   * @returns takes it away again
   */
  registerModule(module: vscode.Uri): vscode.Disposable;
}

export function exportsOf(modules: Set<vscode.Uri>): ShimwrightExports {
  const api: ShimwrightApi = {
    version: 1,
    registerModule(module) {
      modules.add(module);
      return new vscode.Disposable(() => modules.delete(module));
    },
  };
  return {
    getApi(version) {
      if (version !== 1) throw new Error(`Shimwright has version 1 of its interface, not ${String(version)}`);
      return api;
    },
  };
}
