/** Whoever works in the terminal finds there what the editor does, and the other way round: the guide's table has both. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { commands } from '../../extension/cli/index.ts';

const [aboveSections] = readFileSync('extension/guide/commands.md', 'utf8').split('\n## ');
const table = aboveSections
  .split('\n')
  .filter((line) => line.startsWith('| '))
  .slice(2) // the heads of its columns, and the line below them
  .map((line) => line.split('|').map((cell) => cell.trim()))
  .map(([, , terminal, editor]) => ({ terminal, editor }));

const words = JSON.parse(readFileSync('package.nls.json', 'utf8')) as Record<string, string>;
const manifest = JSON.parse(readFileSync('package.json', 'utf8')) as {
  contributes: { commands: { title: string }[] };
};
const titles = manifest.contributes.commands.map(({ title }) => words[title.replaceAll('%', '')]);

describe('the table of what the terminal and the editor do', () => {
  const inTerminal = table.map(({ terminal }) => /^`([a-z]+)\b/.exec(terminal)?.[1]);
  const inEditor = table.flatMap(({ editor }) =>
    [...editor.matchAll(/\*\*(.+?)\*\*/g)].map(([, title]) => title),
  );

  it('has every command of the terminal', () =>
    expect(
      [...new Set(inTerminal)].filter((name) => commands.some((command) => command.name === name)).sort(),
    ).toEqual(commands.map(({ name }) => name).sort()));
  it('has every command of the editor, once, and none that is not there', () =>
    expect(inEditor.sort()).toEqual([...titles].sort()));
  it('leaves no place empty', () =>
    expect(table.filter(({ terminal, editor }) => terminal === '' || editor === '')).toEqual([]));
});
