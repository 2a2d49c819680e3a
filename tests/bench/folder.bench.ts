/** A folder with hundreds of takes of a large machine: one more take, and how each channel went over all of them. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseEarlier, parseHead } from '../../analysis/report/parse-part.ts';
import { parseReport } from '../../analysis/report/parse.ts';
import { manyChannels, manySectors, writeManyTakes } from '../rig/many-takes.ts';
import { figure, type Table } from './bench.ts';
import { timed } from './timed.ts';

const takes = Number(process.env.TAKES ?? 500);

export default async function bench(): Promise<Table[]> {
  const folder = mkdtempSync(join(tmpdir(), 'folder-'));
  try {
    const text = writeManyTakes(folder, takes);
    const analyze = await timed('node', [
      'dist/cli.js',
      'analyze',
      join(folder, 'takes', 'one-more'),
      '--quiet',
    ]);
    const history = await timed('node', ['dist/cli.js', 'history', folder]);
    const each = (parse: (file: string, text: string) => unknown) => {
      const start = performance.now();
      for (let i = 0; i < 20; i++) parse('report.json', text);
      return figure((performance.now() - start) / 20);
    };
    return [
      {
        title: `${takes} takes of ${manyChannels} channels, ${manySectors} sectors, reports of ${figure(text.length / 1e6)} MB`,
        columns: ['', 's', 'MB'],
        rows: [
          ['one more take of markers, analyzed', figure(analyze.seconds), figure(analyze.peakMb)],
          ['history', figure(history.seconds), figure(history.peakMb)],
        ],
      },
      {
        title: 'Reading one of the reports, mean of 20',
        columns: ['', 'ms'],
        rows: [
          ['whole', each(parseReport)],
          ['without its strokes', each(parseEarlier)],
          ['its head', each(parseHead)],
        ],
      },
    ];
  } finally {
    rmSync(folder, { recursive: true });
  }
}
