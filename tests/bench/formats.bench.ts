/**
 * A take of two strikers in many formats, each against the WAV that it was made from, and the guide's table of it; `takes=4` of
 * other strikers and the worst of them. `write=yes` puts the
 * table into the guide, between its two remarks.
 */
import { readFileSync, writeFileSync } from 'node:fs';
import { encodedAs, lossless, lossy, meansOf, refused, saidOf, wavOfTake, worstMs } from '../rig/formats.ts';
import { option, type Table } from './bench.ts';

const columns = ['format, codec, rate of both tracks', 'worst difference of group means', 'what is said'];

export default async function formats(): Promise<Table[]> {
  const takes = await Promise.all(
    Array.from({ length: Number(option('takes', '4')) }, async (_, i) => {
      const wav = wavOfTake(i + 1);
      return { wav, original: await meansOf({ 'a.wav': wav }) };
    }),
  );
  const rows: string[][] = [];
  for (const format of [...lossless, ...lossy]) {
    const worst: number[] = [];
    const said = new Set<string>();
    for (const { wav, original } of lossless.includes(format) ? takes.slice(0, 1) : takes) {
      const means = await meansOf({ [format.file]: encodedAs(format, wav) });
      worst.push(worstMs(means, original));
      said.add(lossless.includes(format) ? 'intervals as of WAV' : saidOf(means));
      const outside = means.filter(({ ci95Ms, sector }) => {
        const same = original.filter((group) => group.sector === sector);
        return ci95Ms !== null && !(worstMs(same, means) < ci95Ms);
      });
      if (outside.length > 0) said.add('an interval that does not hold');
    }
    rows.push([format.name, `${Math.max(...worst).toFixed(2)} ms`, [...said].join(', or ')]);
  }
  for (const { name } of refused) rows.push([name, '–', 'refused by name, with the way out']);
  if (option('write', 'no') === 'yes') write(rows);
  return [{ title: 'formats', columns, rows }];
}

function write(rows: readonly (readonly string[])[]): void {
  const line = (cells: readonly string[]) => `| ${cells.join(' | ')} |`;
  const table = [line(columns), line(columns.map(() => '---')), ...rows.map(line)].join('\n');
  const page = readFileSync('extension/guide/recording.md', 'utf8');
  const between = /(<!-- formats: [^\n]* -->\n)[^]*?(\n<!-- end of formats -->)/;
  if (!between.test(page))
    throw new Error('extension/guide/recording.md has no place for the table of formats');
  writeFileSync(
    'extension/guide/recording.md',
    page.replace(between, (_, before: string, after: string) => `${before}\n${table}\n${after}`),
  );
}
