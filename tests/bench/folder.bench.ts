/** A folder with hundreds of takes of a large machine: one more take, and how each channel went over all of them. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseEarlier, parseHead } from '../../analysis/report/parse-part.ts';
import { parseReport } from '../../analysis/report/parse.ts';
import { stringifyReport } from '../../analysis/report/report.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { barrelReport } from '../report/barrels.ts';
import { machineOf, withFaults } from '../simulator/machines.ts';
import { reportOf } from '../simulator/measure.ts';
import { figure, type Table } from './bench.ts';
import { timed } from './timed.ts';

const takes = Number(process.env.TAKES ?? 500);
const channels = 40;
const sectors = 12;

export default async function bench(): Promise<Table[]> {
  const folder = mkdtempSync(join(tmpdir(), 'folder-'));
  try {
    const text = writeFolder(folder);
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
        title: `${takes} takes of ${channels} channels, ${sectors} sectors, reports of ${figure(text.length / 1e6)} MB`,
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

/** @returns the text of one report */
function writeFolder(folder: string): string {
  const random = seededRandom(5);
  const faulty = withFaults(machineOf(sectors, channels, 9, random), random);
  const { machine, truth, bpm, turns } = faulty;
  const { description } = machine;
  const ids = description.channels.map(({ id }) => id);
  writeFileSync(join(folder, 'machine.jsonc'), JSON.stringify(description));
  const pins = machine.pins.map(({ step, channel }) => `${step},${ids[channel]}`);
  writeFileSync(join(folder, description.pattern), ['step,channel', ...pins, ''].join('\n'));
  const settings = Object.fromEntries(description.adjusters.map(({ id, installed }) => [id, installed]));
  const { hits } = barrelReport(channels, sectors, 6, 7);
  let text = '';
  for (let t = 0; t <= takes; t++) {
    const name = t === takes ? 'one-more' : `take-${t}`;
    const recorded = new Date(Date.UTC(2020, 0, 1 + t)).toISOString();
    const played = play(machine, truth, { bpm, turns }, random);
    const take = join(folder, 'takes', name);
    mkdirSync(take, { recursive: true });
    writeFileSync(join(take, 'take.jsonc'), JSON.stringify({ recorded }));
    const strikes = played.strikes.filter(({ timeS }) => timeS >= 0).sort((a, b) => a.timeS - b.timeS);
    const rows = strikes.map(({ timeS, channel }) => `${timeS.toFixed(6)},${ids[channel]}`);
    writeFileSync(join(take, 'heard.csv'), ['time,label', ...rows, ''].join('\n'));
    if (t === takes) break;
    text = stringifyReport({ ...reportOf(machine, played, bpm, name, settings), recorded, hits });
    writeFileSync(join(take, 'report.json'), text);
  }
  return text;
}
