/**
 * Two takes over each other, a panel for each channel: every stroke where its pin stands on the barrel, hollow of the take
 * before and full of the take after, each sector's means with their intervals, and an arrow where one moved by more than chance.
 */
import { asMeantIn } from '../advice/meant.ts';
import type { HitRow, Report } from '../results/results.ts';
import type { Comparison, MovedGroup } from './compare.ts';
import { dotsOf, headroom, ticks, type SectorExtent } from './panel.ts';
import { limitsOf, placerOf, sectorExtents } from './plot-places.ts';
import { channelsOf, cut, plural, readingsOf, signed, withInterval, type ChannelFacts } from './reading.ts';
import { clean, penFor, svgNamespace } from './svg.ts';

/** Of one channel in both takes. */
export interface ChannelInBoth {
  readonly channel: ChannelFacts;
  readonly groups: readonly MovedGroup[];
  readonly before: readonly HitRow[];
  readonly after: readonly HitRow[];
  /** Lateness at the panel's upper edge, ms; the lower edge is as early. */
  readonly limitMs: number;
}

export interface ComparisonColours {
  readonly ink: string;
  readonly quiet: string;
  readonly rule: string;
  readonly band: string;
  readonly late: string;
  readonly early: string;
}

const width = 900;
const height = 200;
const [left, right, top, bottom] = [44, 8, 8, 40];
/** More strokes than this of one take in one panel: dots of one place are one. */
const strokesToThin = 400;

/** The channels of the later take that have strokes or means in either, in the machine's order. */
export function channelsInBoth(comparison: Comparison, before: Report, after: Report): ChannelInBoth[] {
  const strokes = [strokesAsMeant(before, after), usedStrokes(after)];
  const rows = channelsOf(after).flatMap((channel) => {
    const groups = comparison.groups.filter((group) => group.channel === channel.id);
    const [was, is] = strokes.map((hits) => hits.filter((hit) => hit.channel === channel.id));
    const readings = [after, before].flatMap((report) =>
      readingsOf(report).filter((reading) => reading.channel.id === channel.id),
    );
    const isThere = groups.some(({ beforeMs, afterMs }) => beforeMs !== null || afterMs !== null);
    return isThere ? [{ channel, groups, before: was, after: is, readings, strokes: [...was, ...is] }] : [];
  });
  const { own } = limitsOf(rows);
  return rows.map(({ channel, groups, before: was, after: is }, i) => ({
    channel,
    groups,
    before: was,
    after: is,
    limitMs: own[i],
  }));
}

function usedStrokes({ hits }: Report): HitRow[] {
  return hits.filter(
    ({ state, latenessMs, sector }) => state === 'used' && latenessMs !== null && sector !== null,
  );
}

/** Strokes of the take before, against what is meant in the later one, as the means are. */
function strokesAsMeant(before: Report, after: Report): HitRow[] {
  const now = asMeantIn(before, after);
  if (now === before) return usedStrokes(before);
  const laterBy = new Map(
    before.pins.map(({ channel, step, meanMs }, i) => [
      `${channel}\n${step}`,
      (now.pins[i].meanMs ?? 0) - (meanMs ?? 0),
    ]),
  );
  return usedStrokes(before).map((hit) => ({
    ...hit,
    latenessMs: hit.latenessMs! + (laterBy.get(`${hit.channel}\n${hit.step}`) ?? 0),
  }));
}

/** What a picture shows, in words. */
export function wordsOf({ channel, groups }: ChannelInBoth): string {
  const sectors = groups.map(
    ({ sector, beforeMs, beforeCi95Ms, afterMs, afterCi95Ms, moreThanChance }) =>
      `sector ${sector} ${withInterval(beforeMs, beforeCi95Ms)} → ${withInterval(afterMs, afterCi95Ms)} ms${moreThanChance === true ? ', moved' : ''}`,
  );
  return clean(`${channel.name}: ${sectors.join('; ')}`);
}

/**
 * @param reports  before and after: where sectors and pins stand
 * @param document to make elements in
 * @returns an `svg` element without script, style sheet or style
 */
export function drawInBoth(
  own: ChannelInBoth,
  [before, after]: readonly [Report, Report],
  palette: ComparisonColours,
  document: Document,
): Element {
  const { channel, groups, limitMs } = own;
  const element = penFor(document);
  const columns = sectorExtents(after);
  const [from, to] = [columns[0]?.from ?? 0, columns.at(-1)?.to ?? 1];
  const x = (place: number) => left + ((place - from) / (to - from)) * (width - left - right);
  /** Strokes of one pin stay nearer to each other than to those of the next step. */
  const beside = Math.min(3, (x(from + 1) - x(from)) / 4);
  const middleY = top + (height - top - bottom) / 2;
  const y = (ms: number) => middleY - (ms / (limitMs * headroom)) * (middleY - top);
  const inside = (ms: number) => y(Math.max(-limitMs, Math.min(limitMs, ms)));
  const svg = element('svg', {
    xmlns: svgNamespace,
    viewBox: `0 0 ${width} ${height}`,
    role: 'img',
    fill: palette.ink,
  });
  svg.append(element('title', {}, clean(channel.name)), element('desc', {}, wordsOf(own)));
  const line = (from: readonly [number, number], to: readonly [number, number], stroke: string, more = {}) =>
    element('line', { x1: from[0], y1: from[1], x2: to[0], y2: to[1], stroke, ...more });
  const text = (at: readonly [number, number], words: string, more = {}) =>
    element('text', { x: at[0], y: at[1], 'font-size': 11, ...more }, clean(words));
  drawGround();
  drawDots(before, own.before, false);
  drawDots(after, own.after, true);
  for (const group of groups) {
    const column = columns.find(({ sector }) => sector === group.sector);
    if (column !== undefined) drawGroup(group, column);
  }
  return svg;

  function drawGround(): void {
    const tolerance = Math.min(channel.toleranceMs, limitMs);
    const [high, low] = [y(tolerance), y(-tolerance)];
    svg.append(
      element('rect', {
        x: left,
        y: high,
        width: width - left - right,
        height: low - high,
        fill: palette.band,
      }),
    );
    for (const column of [...columns.map((each) => each.from), to])
      svg.append(line([x(column), top], [x(column), height - bottom], palette.rule));
    for (const ms of ticks(limitMs)) {
      const label = ms === 0 ? 'due' : `${ms > 0 ? '+' : '−'}${Math.abs(ms)}`;
      svg.append(line([left - 4, y(ms)], [left, y(ms)], palette.quiet));
      svg.append(text([left - 7, y(ms) + 4], label, { 'text-anchor': 'end', fill: palette.quiet }));
    }
    svg.append(line([left, y(0)], [width - right, y(0)], palette.ink));
  }

  /**
   * Of the take before a ring, a little to the left; of the take after a dot, a little to the right: they stay apart without
   * colour, and where they lie alike.
   */
  function drawDots(report: Report, strokes: readonly HitRow[], isAfter: boolean): void {
    const dots = dotsOf({ strokes, limitMs }, { placeOf: placerOf(report, columns), columns, strokesToThin });
    const look: Readonly<Record<string, string | number>> = isAfter
      ? { fill: palette.ink, 'fill-opacity': 0.55 }
      : { fill: 'none', stroke: palette.quiet, 'stroke-width': 1 };
    const g = element('g', { class: isAfter ? 'after' : 'before', ...look });
    for (const { x: place, y: ms } of dots)
      if (place >= from && place <= to)
        g.append(
          element('circle', { cx: x(place) + (isAfter ? beside : -beside), cy: y(ms), r: isAfter ? 2 : 3 }),
        );
    svg.append(g);
  }

  function drawGroup(group: MovedGroup, { sector, from: start, to: end }: SectorExtent): void {
    const [begin, stop] = [x(start + (end - start) * 0.08), x(start + (end - start) * 0.92)];
    const { beforeMs, beforeCi95Ms, afterMs, afterCi95Ms, judgedAfter, moreThanChance } = group;
    const colour = judgedAfter.endsWith('late')
      ? palette.late
      : judgedAfter.endsWith('early')
        ? palette.early
        : palette.ink;
    const interval = (mean: number, half: number, look: Readonly<Record<string, string | number>>) => {
      const [high, low] = [inside(mean + half), inside(mean - half)];
      return element('rect', {
        x: begin,
        y: high,
        width: stop - begin,
        height: Math.max(0.5, low - high),
        ...look,
      });
    };
    if (beforeMs !== null) {
      if (beforeCi95Ms !== null)
        svg.append(
          interval(beforeMs, beforeCi95Ms, {
            fill: 'none',
            stroke: palette.quiet,
            'stroke-dasharray': '2 3',
          }),
        );
      const at = inside(beforeMs);
      svg.append(
        line([begin, at], [stop, at], palette.quiet, { 'stroke-width': 2, 'stroke-dasharray': '7 4' }),
      );
    }
    if (afterMs !== null) {
      if (afterCi95Ms !== null)
        svg.append(interval(afterMs, afterCi95Ms, { fill: colour, 'fill-opacity': 0.25 }));
      svg.append(line([begin, inside(afterMs)], [stop, inside(afterMs)], colour, { 'stroke-width': 2.4 }));
    }
    const middle = (begin + stop) / 2;
    if (moreThanChance === true && beforeMs !== null && afterMs !== null)
      svg.append(...arrow(middle, inside(beforeMs), inside(afterMs), colour));
    const room = Math.floor((stop - begin) / 6.5);
    const centred = { 'text-anchor': 'middle' };
    svg.append(
      text([middle, height - bottom + 16], cut(sector, Math.max(1, room)), {
        ...centred,
        'font-weight': 600,
      }),
    );
    svg.append(
      text([middle, height - bottom + 31], movedWords(group, room), { ...centred, fill: palette.quiet }),
    );
  }

  function arrow(at: number, tail: number, tip: number, colour: string): Element[] {
    const way = Math.sign(tip - tail) || 1;
    const size = Math.min(7, Math.abs(tip - tail));
    const head = `M${at} ${tip}l${-size * 0.6} ${-way * size}h${size * 1.2}z`;
    return [
      line([at, tail], [at, tip], colour, { 'stroke-width': 1.5 }),
      element('path', { d: head, fill: colour, class: 'moved' }),
    ];
  }
}

/** As much as there is room for: "moved +1.20 ± 0.30", "+1.2". */
function movedWords({ movedMs, movedCi95Ms, moreThanChance }: MovedGroup, room: number): string {
  if (movedMs === null) return room < 14 ? '–' : 'not comparable';
  const whole = `${moreThanChance === true ? 'moved ' : ''}${withInterval(movedMs, movedCi95Ms)}`;
  return whole.length <= room ? whole : signed(movedMs);
}

/** "12 strokes before, 14 after" */
export function countWords({ before, after }: ChannelInBoth): string {
  return `${plural(before.length, 'stroke')} before, ${after.length} after`;
}
