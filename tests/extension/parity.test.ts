/** Whoever works in the terminal finds there what the editor does, and the other way round: README's table has both. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { commands } from '../../extension/cli/index.ts';

const rows = readFileSync('README.md', 'utf8')
  .split('\n')
  .filter((line) => line.startsWith('| '))
  .map((line) => line.split('|').map((cell) => cell.trim()));
const head = rows.findIndex(([, first]) => first === 'to do');
const end = rows.findIndex(([, first], i) => i > head + 1 && /^(-+|`)/.test(first));
const table = rows.slice(head + 1, end).map(([, , terminal, editor]) => ({ terminal, editor }));

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
