/**
 * report.svg: lateness by sector, a panel for each channel. One file that stands alone: no scripts, no outside fonts
 * or pictures, styles written on each shape, numbers rounded; the same report in the same kind of document gives the same bytes.
 */
import type { HitRow, Report } from '../results/results.ts';
import { type Panel, colours, drawPanel, fonts, toleranceWords } from './panel.ts';
import { drawKey } from './plot-key.ts';
import { sectorExtents, limitsOf, placerOf } from './plot-places.ts';
import {
  type Reading,
  type Verdict,
  channelsOf,
  cut,
  judgementWords,
  plural,
  readingsOf,
  verdictOf,
  withInterval,
} from './reading.ts';
import { clean, penFor, putInto, serialise, svgNamespace, wrap } from './svg.ts';

const margin = 24;
const gutter = 20;
/** Up to this many channels stand one below the other, wide; more go in two columns. */
const wideChannels = 6;
/** Strokes drawn one by one in the whole picture; beyond, dots of one place become one, so the file stays small. */
const strokesInPicture = 6000;
/** Each panel may draw so many one by one, however many panels there are. */
const strokesInPanel = 150;
/**
 * Draws lateness by sector for each channel, in the machine's order: every stroke where its pin stands on the barrel,
 * each sector's mean with its 95 % interval, and the tolerance.
 *
 * @param document to make elements in; it is left as it was
 * @returns a whole SVG file
 */
export function drawReport(report: Report, document: Document): string {
  return serialise(pictureOf(report, [], document));
}

/**
 * The same as an element.
 *
 * @param below lines below the verdict
 */
export function pictureOf(report: Report, below: readonly string[], document: Document): Element {
  const channels = channelsOf(report);
  const readings = readingsOf(report);
  const columns = sectorExtents(report);
  const strokesOf = new Map(channels.map(({ id }) => [id, [] as HitRow[]]));
  for (const hit of report.hits) {
    const measured = hit.state === 'used' && hit.latenessMs !== null && hit.sector !== null;
    if (measured && hit.channel !== null) strokesOf.get(hit.channel)?.push(hit);
  }
  const drawn = channels.flatMap((channel) => {
    const own = readings.filter((reading) => reading.channel.id === channel.id);
    const strokes = strokesOf.get(channel.id) ?? [];
    return own.length === 0 ? [] : [{ channel, readings: own, strokes }];
  });
  const limits = limitsOf(drawn);
  const across = drawn.length > wideChannels ? 2 : 1;
  const width = 940;
  const panelWidth = (width - 2 * margin - (across - 1) * gutter) / across;
  const panelHeight = across === 1 ? 178 : 146;
  const headHeight = 22;
  const strokesToThin = Math.max(strokesInPanel, Math.floor(strokesInPicture / Math.max(1, drawn.length)));
  const thinned = drawn.filter(({ strokes }) => strokes.length > strokesToThin);

  const element = penFor(document);
  const svg = element('svg', {
    xmlns: svgNamespace,
    width,
    role: 'img',
    'font-family': fonts,
    fill: colours.ink,
  });
  const verdict = verdictOf(report);
  const title = `${clean(report.machine)}, take ${clean(report.take)}: lateness by sector`;
  svg.append(element('title', {}, title), element('desc', {}, spoken(verdict, drawn)));
  const ground = element('rect', { width, fill: 'white' });
  svg.append(ground);
  let y = drawHeading(verdict);

  drawn.forEach((panel, i) => {
    const left = margin + (i % across) * (panelWidth + gutter);
    const top = y + Math.floor(i / across) * (headHeight + panelHeight + 8);
    drawPanelHead({ ...panel, limitMs: limits.own[i] }, left, top + 13);
    const frame = {
      columns,
      placeOf: placerOf(report, columns),
      strokesToThin,
      width: panelWidth,
      height: panelHeight,
      document,
    };
    const picture = drawPanel({ ...panel, limitMs: limits.own[i] }, frame);
    putInto(svg, picture, { x: left, y: top + headHeight, color: colours.ink, fonts });
  });
  y += Math.ceil(drawn.length / across) * (headHeight + panelHeight + 8) + 10;

  for (const line of caption()) {
    svg.append(element('text', { x: margin, y, 'font-size': 11, fill: colours.quiet }, line));
    y += 15;
  }
  const height = Math.ceil(y + 4);
  svg.setAttribute('height', `${height}`);
  svg.setAttribute('viewBox', `0 0 ${width} ${height}`);
  ground.setAttribute('height', `${height}`);
  return svg;

  function drawHeading({ state, sentence }: Verdict): number {
    const { bpm, secondsPerTurn } = report.tempo;
    const facts = [
      report.recorded === null ? '' : `recorded ${clean(report.recorded)}`,
      bpm === null || secondsPerTurn === null
        ? ''
        : `${bpm.toFixed(2)} beats a minute, ${secondsPerTurn.toFixed(2)} s a turn`,
    ].filter((fact) => fact !== '');
    const head = cut(`${clean(report.machine)} · ${clean(report.take)}`, 80);
    svg.append(element('text', { x: margin, y: 38, 'font-size': 20, 'font-weight': 700 }, head));
    svg.append(
      element(
        'text',
        { x: margin, y: 57, 'font-size': 12, fill: colours.quiet },
        cut(facts.join(' · '), 130),
      ),
    );
    const lines = wrap(clean(sentence), 100);
    const tint =
      state === 'in-tolerance' ? colours.within : state === 'out-of-tolerance' ? colours.late : colours.quiet;
    svg.append(element('rect', { x: margin, y: 68, width: 4, height: 17 * lines.length + 5, fill: tint }));
    lines.forEach((line, i) => {
      svg.append(
        element('text', { x: margin + 13, y: 83 + 17 * i, 'font-size': 14, 'font-weight': 600 }, line),
      );
    });
    const more = below.flatMap((line) => wrap(clean(line), 130));
    more.forEach((line, i) => {
      const y = 83 + 17 * lines.length + 4 + 16 * i;
      svg.append(element('text', { x: margin + 13, y, 'font-size': 12 }, line));
    });
    const keyTop = 83 + 17 * lines.length + 8 + 16 * more.length;
    svg.append(...drawKey(element, margin + 8, keyTop));
    return keyTop + 18;
  }

  function drawPanelHead(
    { channel, readings, strokes, limitMs }: Panel,
    left: number,
    baseline: number,
  ): void {
    const name = cut(clean(channel.name), across === 1 ? 60 : 26);
    const text = element('text', { x: left, y: baseline, 'font-size': 13, 'font-weight': 700 }, name);
    const judged = (['late', 'maybe-late', 'early', 'maybe-early', 'maybe-either'] as const).flatMap(
      (judgement) => {
        const found = readings.filter((reading) => reading.judgement === judgement);
        return found.length === 0 || (judgement.startsWith('maybe') && across > 1)
          ? []
          : [{ judgement, found }];
      },
    );
    // Where two panels share a line there is room for what is wrong or for how often, not for both.
    const isShort = across > 1 && judged.length > 0;
    const notes = [
      channel.reference ? 'reference' : '',
      channel.meant ?? '',
      isShort ? `±${channel.toleranceMs.toFixed(2)} ms` : toleranceWords(channel),
      isShort ? '' : plural(strokes.length, 'stroke'),
      limitMs === limits.shared ? '' : 'own scale',
    ].filter((note) => note !== '');
    const small = element(
      'tspan',
      { 'font-size': 11, 'font-weight': 400, fill: colours.quiet, dx: 8 },
      notes.join(' · '),
    );
    text.append(small);
    for (const { judgement, found } of judged) {
      const fill = judgement.endsWith('late')
        ? colours.late
        : judgement.endsWith('early')
          ? colours.early
          : colours.quiet;
      const words = `${judgementWords[judgement]} in ${sectorWords(found, readings.length)}`;
      text.append(element('tspan', { 'font-size': 11, 'font-weight': 700, fill, dx: 8 }, words));
    }
    svg.append(text);
  }

  function caption(): string[] {
    const lines = [
      `Up is late, down is early, in ms against the reference’s own mean${channels.some(({ meant }) => meant !== undefined) ? ' and what is meant' : ''}. Within a sector, strokes stand where their pins are on the barrel.`,
    ];
    const own = limits.own.filter((limit) => limit !== limits.shared).length;
    if (own > 0)
      lines.push(
        `All panels have one scale but ${own}: their lateness would not fit, and they say “own scale”.`,
      );
    if (thinned.length > 0) {
      const strokes = thinned.reduce((sum, panel) => sum + panel.strokes.length, 0);
      lines.push(
        `${plural(strokes, 'stroke')} in ${plural(thinned.length, 'panel')} are too many to draw one by one: strokes of one place share a dot, darker where they are more.`,
      );
    }
    return lines;
  }
}

/** "A, C", "every sector", "7 sectors" */
function sectorWords(readings: readonly Reading[], of: number): string {
  if (readings.length === of && of > 1) return 'every sector';
  const named = readings.map(({ sector }) => clean(sector)).join(', ');
  return named.length <= 12 ? named : plural(readings.length, 'sector');
}

/** The whole picture in words, for those who hear it. */
function spoken(verdict: Verdict, panels: readonly Omit<Panel, 'limitMs'>[]): string {
  const channels = panels.map(({ channel, readings, strokes }) => {
    const sectors = readings.map(
      ({ sector, group, judgement }) =>
        `sector ${clean(sector)} ${group.meanMs === null ? '' : `${withInterval(group.meanMs, group.ci95Ms)} ms, `}${judgementWords[judgement]}`,
    );
    return `${clean(channel.name)} (${plural(strokes.length, 'stroke')}): ${sectors.join('; ')}.`;
  });
  return [clean(verdict.sentence), ...channels].join(' ');
}
