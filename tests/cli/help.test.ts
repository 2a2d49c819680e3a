// What --help says fits the window of a terminal.
import { describe, expect, test } from 'vitest';
import { columnsWide, terminalColumns } from '../../analysis/report/terminal-text.ts';
import { commands } from '../../extension/cli/index.ts';
import { run } from './run.ts';

const tooWide = (text: string) => text.split('\n').filter((line) => columnsWide(line) > terminalColumns);

describe('--help', () => {
  test('the list of commands names each and fits', async () => {
    const { status, out } = await run(['--help']);
    expect(status).toBe(0);
    for (const { name } of commands) expect(out).toMatch(new RegExp(`^  ${name} `, 'm'));
    expect(tooWide(out)).toEqual([]);
  });

  test.each(commands.map(({ name }) => name))('%s', async (name) => {
    const { status, out } = await run([name, '--help']);
    expect(status).toBe(0);
    expect(out).toMatch(new RegExp(`^shimwright ${name} .+\n\n`));
    expect(tooWide(out)).toEqual([]);
  });
});
