/**
 * checks.svg and history.svg: a plot for each check or channel, two beside each other. Files that stand alone, as
 * report.svg does; the same report in the same kind of document gives the same bytes.
 */
import type { Report, SectionPlot } from '../results/results.ts';
import type { ChannelHistory } from './history.ts';
import { historyPlot, historyWords } from './history-text.ts';
import { colours, fonts } from './panel.ts';
import { cut } from './reading.ts';
import { drawSectionPlot } from './section-plot.ts';
import { clean, penFor, putInto, serialise, svgNamespace } from './svg.ts';

const width = 940;
const margin = 24;
const gutter = 24;
const panelWidth = (width - 2 * margin - gutter) / 2;
const panelHeight = 230;
const headHeight = 24;
const titleSize = 20;
/** Widest a bold letter is on the average, of its size: a title of any words fits. */
const letter = 0.62;
const titleLetters = 100;
const look = { ink: colours.ink, quiet: colours.quiet, rule: colours.rule, ground: 'white', fonts };

/** A plot with its title and what it says in words. */
export interface TitledPlot {
  readonly title: string;
  readonly words: string;
  readonly plot: SectionPlot;
}

/**
 * @param document to make elements in; it is left as it was
 * @returns a whole SVG file; one that says so where no check had anything to draw
 */
export function drawChecks(report: Report, document: Document): string {
  const plots = (report.sections ?? []).flatMap(({ title, sentences, plot }) =>
    plot === undefined ? [] : [{ title, words: sentences.join(' '), plot }],
  );
  const title = `${clean(report.machine)}, take ${clean(report.take)}: what the checks measured`;
  return drawPlots(title, plots, 'No check had anything to draw.', document);
}

/** history.svg: every channel's control chart over the takes. */
export function drawHistory(machine: string, history: readonly ChannelHistory[], document: Document): string {
  const plots = history
    .filter(({ lines }) => lines.some(({ wearMs }) => wearMs !== null))
    .map((one) => ({ title: one.channel, words: historyWords(one), plot: historyPlot(one) }));
  return drawPlots(`${clean(machine)}: history`, plots, 'No channel was measured yet.', document);
}

function drawPlots(title: string, plots: readonly TitledPlot[], none: string, document: Document): string {
  const sections = plots.map((one) => ({
    title: clean(one.title),
    words: clean(one.words),
    plot: cleaned(one.plot),
  }));
  const rows = Math.ceil(sections.length / 2);
  const height = 66 + Math.max(1, rows) * (headHeight + panelHeight + 10);
  const element = penFor(document);
  const svg = element('svg', {
    xmlns: svgNamespace,
    width,
    height,
    viewBox: `0 0 ${width} ${height}`,
    role: 'img',
    'font-family': fonts,
    fill: colours.ink,
  });
  const words = sections.map((one) => `${one.title}: ${one.words}`).join(' ');
  svg.append(
    element('title', {}, title),
    element('desc', {}, words === '' ? none : words),
    element('rect', { width, height, fill: 'white' }),
    element(
      'text',
      { x: margin, y: 38, 'font-size': titleSizeOf(title), 'font-weight': 700 },
      cut(title, titleLetters),
    ),
  );
  if (sections.length === 0) svg.append(element('text', { x: margin, y: 72, 'font-size': 13 }, none));
  sections.forEach(({ title, plot }, i) => {
    const left = margin + (i % 2) * (panelWidth + gutter);
    const top = 60 + Math.floor(i / 2) * (headHeight + panelHeight + 10);
    svg.append(
      element('text', { x: left, y: top + 14, 'font-size': 13, 'font-weight': 700 }, cut(title, 60)),
    );
    const picture = drawSectionPlot(plot, { ...look, width: panelWidth, height: panelHeight, document });
    putInto(svg, picture, { x: left, y: top + headHeight, color: colours.ink, fonts });
  });
  return serialise(svg);
}

/** As large as the title's length leaves room for. */
function titleSizeOf(title: string): number {
  const letters = Math.min(title.length, titleLetters);
  return Math.min(titleSize, Math.floor((width - 2 * margin) / (letter * letters)));
}

/** Names in a plot come from strangers: each is one line of what an SVG file may contain. */
function cleaned(plot: SectionPlot): SectionPlot {
  return {
    ...plot,
    xLabel: clean(plot.xLabel),
    yLabel: clean(plot.yLabel),
    rules: plot.rules?.map((rule) => ({ ...rule, name: clean(rule.name) })),
    series: plot.series.map((series) => ({ ...series, name: clean(series.name) })),
  };
}
