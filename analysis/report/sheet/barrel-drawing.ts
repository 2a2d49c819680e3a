/**
 * The barrel unrolled: a row for each channel, steps and sectors to scale, each pin coloured and shaped by how it strikes,
 * and the hole in which it really sits where that is another. What shape says, colour says again.
 */
import { sectorSpans } from '../../machine/effects.ts';
import { colours, fonts } from '../panel.ts';
import { clean, penFor, svgNamespace, type Pen } from '../svg.ts';
import { cut, judgementWords, withInterval, type Judgement } from '../reading.ts';
import type { BarrelView } from './barrel-view.ts';
import type { LaidPin } from './laid-pins.ts';

/** Whole sectors share a strip while they hold no more steps than this: pins of neighbouring steps stay apart in print. */
const stepsInStrip = 96;
/** A drawing of more is a blot, and a page of megabytes. */
export const mostPins = 5000;
const width = 1000;
const labelWidth = 140;
const rowHeight = 18;
const headHeight = 30;
const stripGap = 18;
/** Half the size of a mark, at its least and its most. */
const [leastMark, mostMark] = [3.2, 7];
/** Beyond so many tolerances a mark does not grow. */
const largestLateness = 4;

interface Strip {
  readonly from: number;
  readonly to: number;
}

/**
 * @param pins     of the view
 * @param document to make elements in
 * @param palette  colours; those of print where none are given
 * @returns an svg element; it has no script, style sheet or outside font, and a title for each pin
 */
export function drawBarrel(
  { channels, barrel }: BarrelView,
  pins: readonly LaidPin[],
  document: Document,
  palette: BarrelColours = printed,
): Element {
  const element = penFor(document);
  const strips = stripsOf(barrel);
  const stripHeight = headHeight + channels.length * rowHeight + stripGap;
  const longest = Math.max(...strips.map(({ from, to }) => to - from));
  const stepWidth = (width - labelWidth - 10) / longest;
  const isAstray = pins.some(({ sits, step }) => sits !== step);
  const height = strips.length * stripHeight + (isAstray ? 40 : 22);
  const svg = element('svg', {
    xmlns: svgNamespace,
    viewBox: `0 0 ${width} ${height}`,
    role: 'img',
    'font-family': fonts,
    fill: palette.ink,
    'aria-label': spoken(pins),
  });
  strips.forEach((strip, i) => {
    const top = i * stripHeight + headHeight;
    const x = (step: number) => labelWidth + (step - strip.from + 0.5) * stepWidth;
    const y = (channel: number) => top + (channel + 0.5) * rowHeight;
    drawGround(strip, top, x, y);
    for (const pin of pins) {
      const own = alongStrip(pin.sits, strip, barrel.steps);
      const meant = alongStrip(pin.step, strip, barrel.steps);
      const g = element('g', {});
      g.append(element('title', {}, wordsOf(pin)));
      if (pin.sits !== pin.step && meant !== null) {
        // Where it belongs: an empty hole, and an arrow to it where both are on this strip.
        const hole = { r: 4, fill: 'none', stroke: palette.ink, 'stroke-dasharray': '2 2' };
        g.append(element('circle', { cx: x(meant), cy: y(pin.channel), ...hole }));
        if (own !== null) g.append(arrow(element, palette, [x(own), x(meant)], y(pin.channel)));
      }
      if (own !== null) g.append(mark(element, palette, pin, [x(own), y(pin.channel)]));
      if (g.childNodes.length > 1) svg.append(g);
    }
  });
  drawKey(element, palette, strips.length * stripHeight + 16, isAstray).forEach((part) => svg.append(part));
  return svg;

  function drawGround(
    strip: Strip,
    top: number,
    x: (step: number) => number,
    y: (channel: number) => number,
  ): void {
    const bottom = top + channels.length * rowHeight;
    const [left, right] = [x(strip.from - 0.5), x(strip.to - 0.5)];
    channels.forEach(({ name }, c) => {
      const line = { x1: left, x2: right, y1: y(c), y2: y(c), stroke: palette.rule, 'stroke-width': 0.6 };
      const text = { x: labelWidth - 8, y: y(c) + 4, 'font-size': 12, 'text-anchor': 'end' };
      svg.append(element('line', line), element('text', text, cut(clean(name), 17)));
    });
    for (let step = strip.from; step < strip.to; step++) {
      const isBeat = step % barrel.stepsPerBeat === 0;
      if (!isBeat && stepWidth < 6) continue;
      const across = { x1: x(step), x2: x(step), y1: top, y2: bottom };
      svg.append(element('line', { ...across, stroke: palette.rule, 'stroke-width': isBeat ? 0.8 : 0.25 }));
      const isNamed = isBeat && stepWidth * barrel.stepsPerBeat > 18;
      const name = { x: x(step), y: top - 4, 'font-size': 9, 'text-anchor': 'middle', fill: palette.quiet };
      if (isNamed) svg.append(element('text', name, `${step % barrel.steps}`));
    }
    for (const { id, from } of barrel.sectors) {
      const at = alongStrip(from, strip, barrel.steps);
      if (at === null) continue;
      const joint = { x1: x(at - 0.5), x2: x(at - 0.5), y1: top - 26, y2: bottom };
      svg.append(element('line', { ...joint, stroke: palette.ink, 'stroke-width': 1.6 }));
      const name = { x: x(at - 0.5) + 5, y: top - 16, 'font-size': 12, 'font-weight': 700 };
      svg.append(element('text', name, `sector ${clean(id)}`));
    }
    const end = { x1: right, x2: right, y1: top - 26, y2: bottom, stroke: palette.ink, 'stroke-width': 1.6 };
    svg.append(element('line', end));
  }

  function wordsOf(pin: LaidPin): string {
    const { name } = channels[pin.channel];
    const lateness = pin.meanMs === null ? '' : `${withInterval(pin.meanMs, pin.ci95Ms)} ms, `;
    const sits = pin.sits === pin.step ? '' : `; it sits at step ${pin.sits}`;
    return `${clean(name)}, step ${pin.step}: ${lateness}${judgementWords[pin.judgement]}${sits}`;
  }
}

/** Strips of whole sectors, from the first joint on; the last sector runs through the barrel's zero. */
function stripsOf(barrel: BarrelView['barrel']): Strip[] {
  const strips: Strip[] = [];
  for (const { from, to } of sectorSpans(barrel)) {
    const last = strips.at(-1);
    if (last !== undefined && to - last.from <= stepsInStrip)
      strips[strips.length - 1] = { from: last.from, to };
    else strips.push({ from, to });
  }
  return strips;
}

/** Where a step lies on a strip, counted on past the barrel's zero; null where it is on another. */
function alongStrip(step: number, { from, to }: Strip, steps: number): number | null {
  const on = step < from ? step + steps : step;
  return on < to ? on : null;
}

export type BarrelColours = Readonly<
  Record<'ink' | 'quiet' | 'rule' | 'within' | 'late' | 'early' | 'ground', string>
>;
const printed: BarrelColours = { ...colours, ground: 'white' };

const upward = 'M-1,0.8H1L0,-1Z';
const downward = 'M-1,-0.8H1L0,1Z';

function mark(
  element: Pen,
  palette: BarrelColours,
  { judgement, ofTolerance }: LaidPin,
  [x, y]: readonly [number, number],
): Element {
  const size = Math.min(1, Math.abs(ofTolerance ?? 0) / largestLateness);
  const half = leastMark + (mostMark - leastMark) * size;
  const place = `translate(${x.toFixed(2)},${y.toFixed(2)}) scale(${half.toFixed(2)})`;
  return shape(element, palette, judgement, place);
}

/** A mark of half size 1 that `transform` puts where it belongs. */
function shape(element: Pen, palette: BarrelColours, judgement: Judgement, transform: string): Element {
  const outline = { fill: palette.ground, 'stroke-width': 0.3, transform };
  switch (judgement) {
    case 'late':
      return element('path', { d: upward, fill: palette.late, transform });
    case 'early':
      return element('path', { d: downward, fill: palette.early, transform });
    case 'maybe-late':
      return element('path', { ...outline, d: upward, stroke: palette.late });
    case 'maybe-early':
      return element('path', { ...outline, d: downward, stroke: palette.early });
    case 'within':
      return element('circle', { r: 1, fill: palette.within, transform });
    case 'maybe-either':
      return element('circle', { ...outline, r: 0.9, stroke: palette.quiet });
    case 'unknown':
      return element('path', {
        ...outline,
        d: 'M-0.8,-0.8L0.8,0.8M-0.8,0.8L0.8,-0.8',
        stroke: palette.quiet,
      });
  }
}

function arrow(
  element: Pen,
  palette: BarrelColours,
  [from, to]: readonly [number, number],
  y: number,
): Element {
  const way = Math.sign(to - from);
  const end = to - way * 5;
  const d = `M${from.toFixed(2)},${y}H${end.toFixed(2)}m${-4 * way},-3l${4 * way},3l${-4 * way},3`;
  return element('path', { d, fill: 'none', stroke: palette.ink, 'stroke-width': 1.3 });
}

function drawKey(element: Pen, palette: BarrelColours, baseline: number, isAstray: boolean): Element[] {
  const entries: readonly (readonly [Judgement, string])[] = [
    ['late', 'late'],
    ['early', 'early'],
    ['maybe-late', 'not decided (hollow)'],
    ['within', 'in tolerance'],
    ['maybe-either', 'too unsure to say'],
    ['unknown', 'not measured'],
  ];
  let x = labelWidth;
  const shapes = entries.flatMap(([judgement, words]) => {
    const at = x + 6;
    // Letters of this size are 6 px wide on average.
    x += words.length * 6 + 34;
    const label = { x: at + 10, y: baseline, 'font-size': 11, fill: palette.quiet };
    return [
      shape(element, palette, judgement, `translate(${at},${baseline - 4}) scale(5)`),
      element('text', label, words),
    ];
  });
  if (!isAstray) return shapes;
  const words = 'arrow: from the hole in which a pin sits to the one where it belongs';
  const below = { x: labelWidth, y: baseline + 18, 'font-size': 11, fill: palette.quiet };
  return [...shapes, element('text', below, words)];
}

/** The drawing in one sentence, for those who hear it. */
function spoken(pins: readonly LaidPin[]): string {
  const count = (test: (pin: LaidPin) => boolean) => pins.filter(test).length;
  return [
    `The barrel unrolled: ${pins.length} pins`,
    `${count(({ judgement }) => judgement === 'late')} late`,
    `${count(({ judgement }) => judgement === 'early')} early`,
    `${count(({ judgement }) => judgement === 'within')} in tolerance`,
    `${count(({ sits, step }) => sits !== step)} in another hole`,
  ].join(', ');
}
