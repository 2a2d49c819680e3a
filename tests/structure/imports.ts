/** What the project's files import from each other, read with TypeScript's own reader of imports. */
import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, normalize } from 'node:path';
import ts from 'typescript';

/** File → the files of the project that it imports, types too; paths from the project's top. */
export type Imports = ReadonlyMap<string, readonly string[]>;

/** @param folders those whose files count, such as "analysis" */
export function importsOf(folders: readonly string[]): Imports {
  const files = folders.flatMap((folder) =>
    readdirSync(folder, { recursive: true, encoding: 'utf8' })
      .filter((name) => name.endsWith('.ts') && !name.endsWith('.d.ts'))
      .map((name) => join(folder, name).replaceAll('\\', '/')),
  );
  const known = new Set(files);
  return new Map(
    files.sort().map((file) => {
      const { importedFiles } = ts.preProcessFile(readFileSync(file, 'utf8'));
      const imported = importedFiles
        .filter(({ fileName }) => fileName.startsWith('.'))
        .map(({ fileName }) => normalize(join(dirname(file), fileName)).replaceAll('\\', '/'));
      return [file, [...new Set(imported)].filter((name) => known.has(name))];
    }),
  );
}

/** Files that import each other in a circle: strongly connected components of more than one (Tarjan 1972, from memory). */
export function circlesOf(imports: Imports): string[][] {
  const index = new Map<string, number>();
  const low = new Map<string, number>();
  const stack: string[] = [];
  const circles: string[][] = [];
  const visit = (file: string) => {
    index.set(file, index.size);
    low.set(file, index.get(file)!);
    stack.push(file);
    for (const next of imports.get(file) ?? []) {
      if (!index.has(next)) visit(next);
      if (stack.includes(next)) low.set(file, Math.min(low.get(file)!, low.get(next)!));
    }
    if (low.get(file) !== index.get(file)) return;
    const circle = stack.splice(stack.indexOf(file));
    if (circle.length > 1) circles.push(circle.sort());
  };
  for (const file of imports.keys()) if (!index.has(file)) visit(file);
  return circles;
}

/** The room of a file: the folder below `analysis/` or `extension/`, or a file that lies there by itself. */
export function roomOf(file: string): string {
  const parts = file.split('/');
  return parts[0] === 'samples' ? 'samples' : parts.slice(0, 2).join('/');
}

/** Room → rooms that it imports from, the ones that are reached through another left out (transitive reduction). */
export function roomImports(imports: Imports): Map<string, string[]> {
  const all = new Map<string, Set<string>>();
  for (const [file, imported] of imports) {
    const room = roomOf(file);
    const to = all.get(room) ?? new Set<string>();
    all.set(room, to);
    for (const other of imported) if (roomOf(other) !== room) to.add(roomOf(other));
  }
  const reached = (from: string, seen = new Set<string>()): Set<string> => {
    for (const next of all.get(from) ?? [])
      if (!seen.has(next)) {
        seen.add(next);
        reached(next, seen);
      }
    return seen;
  };
  return new Map(
    [...all].map(([room, to]) => [
      room,
      [...to].filter((next) => ![...to].some((other) => other !== next && reached(other).has(next))).sort(),
    ]),
  );
}
