/**
 * The tree's figures, room by room: npm run figures [-- FOLDER], FOLDER another checkout to hold beside this one. Tests are
 * not counted. Parameters are counted of functions with a body, by TypeScript's own parser.
 */
import { readFileSync } from 'node:fs';
import ts from 'typescript';
import { printed } from '../bench/bench.ts';
import { productFolders } from './drawing.ts';
import { circlesOf, importsOf, roomOf } from './imports.ts';

/** More are taken for too many (tests/eslint.config.js). */
const mostParameters = 5;

interface FileFigures {
  readonly file: string;
  readonly lines: number;
  readonly exported: number;
  /** Most parameters of a function in it. */
  readonly parameters: number;
  /** Functions of more than `mostParameters`. */
  readonly wide: number;
}

function figuresOf(file: string): FileFigures {
  const text = readFileSync(file, 'utf8');
  const source = ts.createSourceFile(file, text, ts.ScriptTarget.Latest, true);
  let [exported, parameters, wide] = [0, 0, 0];
  const visit = (node: ts.Node): void => {
    if (ts.isFunctionLike(node) && 'body' in node && node.body !== undefined) {
      parameters = Math.max(parameters, node.parameters.length);
      if (node.parameters.length > mostParameters) wide++;
    }
    ts.forEachChild(node, visit);
  };
  visit(source);
  for (const statement of source.statements) {
    const modifiers = ts.canHaveModifiers(statement) ? (ts.getModifiers(statement) ?? []) : [];
    if (!modifiers.some(({ kind }) => kind === ts.SyntaxKind.ExportKeyword)) continue;
    exported += ts.isVariableStatement(statement) ? statement.declarationList.declarations.length : 1;
  }
  return { file, lines: text.split('\n').length - 1, exported, parameters, wide };
}

const folder = process.argv.at(2);
if (folder !== undefined) process.chdir(folder);
const imports = importsOf(productFolders);
const all = [...imports.keys()].map(figuresOf);
const rowOf = (name: string, files: readonly FileFigures[]): string[] => {
  const longest = files.reduce((most, file) => (file.lines > most.lines ? file : most));
  const total = (of: (file: FileFigures) => number) => files.reduce((sum, file) => sum + of(file), 0);
  return [
    name,
    String(files.length),
    String(total(({ lines }) => lines)),
    String(total(({ exported }) => exported)),
    String(Math.max(...files.map(({ parameters }) => parameters))),
    String(total(({ wide }) => wide)),
    `${longest.lines} ${longest.file}`,
  ];
};
const rooms = [...new Set([...imports.keys()].map(roomOf))];
const circles = circlesOf(imports);
const readmeLines = readFileSync('README.md', 'utf8').split('\n').length - 1;
const table = {
  title: 'The tree, without its tests',
  columns: ['room', 'files', 'lines', 'exported names', 'most parameters', 'above five', 'longest file'],
  rows: [
    ...rooms.map((room) =>
      rowOf(
        room,
        all.filter(({ file }) => roomOf(file) === room),
      ),
    ),
    rowOf('all', all),
  ],
  notes: [
    `circles of imports: ${circles.length}, of ${circles.flat().length} files`,
    `README.md: ${readmeLines} lines`,
  ],
};
console.log(printed(table));
