/** What --help says of a command, in lines that fit a terminal's window. */
import { wrapped } from '../../analysis/report/terminal-text.ts';
import type { Command } from './command.ts';

/** An option and the space up to what it does: "  --json    ". */
const option = /^ {2}\S.*? {2,}/;

export function helpOf({ name, usage, help }: Command): string {
  return [`shimwright ${name} ${usage}`, '', ...blocksOf(help).map(laid)].join('\n');
}

/** A paragraph each, an option each with the lines that go on below it, and the empty lines between. */
function blocksOf(help: string): string[] {
  const blocks: string[] = [];
  for (const line of help.split('\n')) {
    const above = blocks.at(-1) ?? '';
    if (above === '' || line === '' || option.test(line)) blocks.push(line);
    else blocks[blocks.length - 1] = `${above} ${line.trim()}`;
  }
  return blocks;
}

function laid(block: string): string {
  const lead = option.exec(block)?.[0] ?? '';
  return lead + wrapped(block.slice(lead.length), ' '.repeat(lead.length));
}
