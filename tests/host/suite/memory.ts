/** A file system without a disk, as a workspace in a browser or on a service has one. */
import * as vscode from 'vscode';

interface Entry {
  readonly bytes: Uint8Array | null;
  readonly mtime: number;
}

export class MemoryFiles implements vscode.FileSystemProvider {
  private readonly entries = new Map<string, Entry>([['/', { bytes: null, mtime: 0 }]]);
  private readonly changes = new vscode.EventEmitter<vscode.FileChangeEvent[]>();
  private clock = Date.now();
  readonly onDidChangeFile = this.changes.event;

  watch(): vscode.Disposable {
    return new vscode.Disposable(() => undefined);
  }

  stat(uri: vscode.Uri): vscode.FileStat {
    const { bytes, mtime } = this.at(uri);
    const type = bytes === null ? vscode.FileType.Directory : vscode.FileType.File;
    return { type, ctime: mtime, mtime, size: bytes?.length ?? 0 };
  }

  readDirectory(uri: vscode.Uri): [string, vscode.FileType][] {
    this.at(uri);
    const start = uri.path === '/' ? '/' : `${uri.path}/`;
    return [...this.entries].flatMap(([path, { bytes }]): [string, vscode.FileType][] => {
      const name = path.startsWith(start) ? path.slice(start.length) : '';
      const type = bytes === null ? vscode.FileType.Directory : vscode.FileType.File;
      return name === '' || name.includes('/') ? [] : [[name, type]];
    });
  }

  createDirectory(uri: vscode.Uri): void {
    this.put(uri, null);
  }

  readFile(uri: vscode.Uri): Uint8Array {
    const { bytes } = this.at(uri);
    if (bytes === null) throw vscode.FileSystemError.FileIsADirectory(uri);
    return bytes;
  }

  writeFile(uri: vscode.Uri, bytes: Uint8Array): void {
    for (
      let up = vscode.Uri.joinPath(uri, '..');
      !this.entries.has(up.path);
      up = vscode.Uri.joinPath(up, '..')
    )
      this.put(up, null);
    this.put(uri, bytes.slice());
  }

  delete(uri: vscode.Uri): void {
    for (const path of [...this.entries.keys()])
      if (path === uri.path || path.startsWith(`${uri.path}/`)) this.entries.delete(path);
  }

  rename(from: vscode.Uri, to: vscode.Uri): void {
    this.put(to, this.at(from).bytes);
    this.entries.delete(from.path);
  }

  private at(uri: vscode.Uri): Entry {
    const entry = this.entries.get(uri.path);
    if (entry === undefined) throw vscode.FileSystemError.FileNotFound(uri);
    return entry;
  }

  private put(uri: vscode.Uri, bytes: Uint8Array | null): void {
    // A clock that never stands still: what was written later is newer.
    this.clock = Math.max(this.clock + 1, Date.now());
    this.entries.set(uri.path, { bytes, mtime: this.clock });
    this.changes.fire([{ type: vscode.FileChangeType.Changed, uri }]);
  }
}
