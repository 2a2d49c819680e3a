/** A report for people in a terminal: at most 100 columns, plain characters, nothing by colour. */
import { defaultToleranceMs } from '../machine/tolerance.ts';
import { withMinus } from '../words/minus.ts';
import type { Advice, EarlierReport } from '../results/results.ts';
import { oneLine } from './markdown-text.ts';
import { safetyLine } from './page.ts';
import {
  type ChannelFacts,
  type Judgement,
  type Reading,
  bar,
  channelsOf,
  figures,
  judge,
  judgementWords,
  readingsOf,
  sectorsOf,
  signed,
  tempoWithInterval,
  verdictOf,
  withInterval,
} from './reading.ts';
import { fitColumns, terminalColumns, wrapped } from './terminal-text.ts';
import { workLines } from './work-words.ts';

/** Up to this many groups have a line each; more are shown as a matrix of channels and sectors. */
const mostRows = 40;
/** Findings shown in full; the rest are counted, and stand in report.md. */
const mostFindings = 20;
const nameColumns = 20;

/** The report: verdict, lateness, what to change, findings. */
export function renderTable(report: EarlierReport): string {
  const readings = readingsOf(report);
  const lateness =
    readings.length === 0
      ? []
      : readings.length <= mostRows
        ? [rows(readings)]
        : [summary(report), matrix(report, readings)];
  return [
    heading(report),
    wrapped(verdictOf(report).sentence),
    ...lateness,
    renderAdvice(report.advice, report),
    findings(report),
  ]
    .filter((part) => part !== '')
    .join('\n\n');
}

function heading(report: EarlierReport): string {
  const { bpm, bpmCi95 } = report.tempo;
  const parts = [
    `${oneLine(report.machine)}, take ${oneLine(report.take)}${report.tune === undefined ? '' : ` (${oneLine(report.tune)})`}`,
    report.recorded === null ? '' : `recorded ${oneLine(report.recorded)}`,
    bpm === null ? '' : `${tempoWithInterval(bpm, bpmCi95)} beats a minute`,
  ];
  return wrapped(parts.filter((part) => part !== '').join('; '));
}

function rows(readings: readonly Reading[]): string {
  const line = (cells: readonly string[]) => {
    const [name, sector, mean, count, pins, repeats, lean, word] = cells;
    return [
      fitColumns(name, nameColumns),
      fitColumns(sector, 8),
      fitColumns(mean, 15, 'right'),
      fitColumns(count, 7, 'right'),
      fitColumns(pins, 8, 'right'),
      fitColumns(repeats, 8, 'right'),
      fitColumns(lean, 15),
      fitColumns(word, 12),
    ]
      .join(' ')
      .trimEnd();
  };
  const head = line([
    'lateness, ms',
    'sector',
    'mean ± 95 %',
    'strokes',
    'pins sd',
    'turns sd',
    'early     late',
    '',
  ]);
  const body = readings.map(({ channel, sector, group, judgement }) =>
    line([
      labelled(channel),
      sector,
      withInterval(group.meanMs, group.ci95Ms),
      `${group.count}`,
      figures(group.pinSdMs),
      figures(group.repeatabilityMs),
      bar(group.meanMs, channel.toleranceMs),
      judgementWords[judgement],
    ]),
  );
  return [head, ...body].join('\n');
}

function labelled({ name, reference, meant }: ChannelFacts): string {
  return [name, reference ? '(ref)' : '', meant === undefined ? '' : '(meant)'].filter(Boolean).join(' ');
}

/** A line for each whole channel. */
function summary(report: EarlierReport): string {
  const line = (name: string, cells: readonly string[], lean: string) =>
    [
      fitColumns(name, nameColumns),
      ...cells.map((cell, i) => fitColumns(cell, i === 0 ? 15 : 9, 'right')),
      lean,
    ]
      .join(' ')
      .trimEnd();
  const head = line(
    'lateness, ms',
    ['mean ± 95 %', 'strokes', 'pins sd', 'turns sd', 'tolerance'],
    'early     late',
  );
  const body = channelsOf(report).flatMap((channel) => {
    const group = report.groups.find((row) => row.channel === channel.id && row.sector === null);
    if (group === undefined) return [];
    const cells = [
      withInterval(group.meanMs, group.ci95Ms),
      `${group.count}`,
      figures(group.pinSdMs),
      figures(group.repeatabilityMs),
      figures(channel.toleranceMs),
    ];
    return [line(labelled(channel), cells, bar(group.meanMs, channel.toleranceMs))];
  });
  return body.length === 0 ? '' : [head, ...body].join('\n');
}

/** Sure is doubled, doubtful has a question mark. */
const marks: Readonly<Record<Judgement, string>> = {
  within: '  ',
  late: '>>',
  early: '<<',
  'maybe-late': '>?',
  'maybe-early': '<?',
  'maybe-either': ' ?',
  unknown: '  ',
};

/** Channels × sectors, as many sectors side by side as fit. */
function matrix(report: EarlierReport, readings: readonly Reading[]): string {
  const cellColumns = 10;
  const across = Math.floor((terminalColumns - nameColumns) / cellColumns);
  const sectors = sectorsOf(report);
  const cells = new Map(readings.map((reading) => [`${reading.channel.id}\n${reading.sector}`, reading]));
  const blocks = Array.from({ length: Math.ceil(sectors.length / across) }, (_, block) => {
    const columns = sectors.slice(block * across, (block + 1) * across);
    const head =
      fitColumns('by sector, ms', nameColumns) +
      columns.map((sector) => `${fitColumns(sector, 7, 'right')}   `).join('');
    const body = channelsOf(report).map(({ id, name }) => {
      const values = columns.map((sector) => {
        const reading = cells.get(`${id}\n${sector}`);
        if (reading === undefined) return ' '.repeat(cellColumns);
        return `${fitColumns(signed(reading.group.meanMs), 7, 'right')}${marks[reading.judgement]} `;
      });
      return fitColumns(name, nameColumns) + values.join('');
    });
    return [head, ...body].map((line) => line.trimEnd()).join('\n');
  });
  return [
    ...blocks,
    '>> late, << early beyond doubt; >? <? the interval reaches across tolerance; – not measured',
  ].join('\n\n');
}

/**
 * What to change, with the warning first.
 *
 * @param report the newest take's, for the channels' names and tolerances
 */
export function renderAdvice(advice: Advice, report: EarlierReport): string {
  const lines = [wrapped(advice.summary)];
  if (advice.settings.length === 0) return lines.join('\n');
  lines.push('', wrapped(`! ${safetyLine}`, '  '), '');
  for (const { adjuster, unit, installed, proposed } of advice.settings) {
    const change = `${proposed > installed ? 'add' : 'take out'} ${Math.abs(proposed - installed)}`;
    const now = `${fitColumns(adjuster, 30)} ${fitColumns(withMinus(installed), 6, 'right')} → ${fitColumns(withMinus(proposed), 6)}`;
    lines.push(`${now} ${change} (${fitColumns(unit, 30).trimEnd()})`);
  }
  const work = workLines(advice);
  if (work.length > 0) lines.push('', ...work.map((line) => wrapped(oneLine(line), '   ')));
  if (advice.experiment !== undefined) lines.push('', wrapped(oneLine(advice.experiment.message)));
  if (advice.predicted.length > 0) {
    lines.push(
      '',
      `${fitColumns('predicted, ms', nameColumns)} ${fitColumns('sector', 8)} ${fitColumns('measured', 8, 'right')} ${fitColumns('then', 15, 'right')}`,
    );
  }
  const facts = new Map(channelsOf(report).map((channel) => [channel.id, channel]));
  for (const { channel, sector, beforeMs, afterMs, ci95Ms, toleranceMs } of advice.predicted) {
    const tolerance = toleranceMs ?? facts.get(channel)?.toleranceMs ?? defaultToleranceMs;
    const word = judgementWords[judge(afterMs, ci95Ms, tolerance)];
    const name = facts.get(channel)?.name ?? channel;
    const figure = fitColumns(withInterval(afterMs, ci95Ms), 15, 'right');
    lines.push(
      `${fitColumns(name, nameColumns)} ${fitColumns(sector, 8)} ${fitColumns(signed(beforeMs), 8, 'right')} ${figure} ${bar(afterMs, tolerance)} ${word}`,
    );
  }
  return lines.join('\n');
}

function findings(report: EarlierReport): string {
  const shown = report.findings.slice(0, mostFindings).map(({ severity, message, mend }) => {
    return wrapped(
      `${severity}: ${oneLine(message)}${mend === undefined ? '' : `; to mend it: ${mend}`}`,
      '  ',
    );
  });
  const rest = report.findings.length - shown.length;
  return [...shown, ...(rest > 0 ? [`and ${rest} more, in the report`] : [])].join('\n');
}
