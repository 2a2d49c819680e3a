/**
 * Every stroke of every channel, a panel for each: along the barrel, or over the take. A panel is drawn when it comes
 * near the screen; strokes are dots on a canvas, so that thousands cost no more than a few.
 */
import { placeByKey } from './place-by-key.ts';
import { type Reading, judgementWords, plural, withInterval } from '../../analysis/report/reading.ts';
import type { Context, Part } from './context.ts';
import { make, plain, section } from './element.ts';
import { type PanelShape, drawPanelPlot, headroom } from './panel-plot.ts';
import { latenessFigure, strokeWords } from './stroke-words.ts';
import { coloursNow, sized } from './theme.ts';

const height = 176;
/** A click chooses the nearest stroke this near, px. */
const nearEnough = 24;
/** More dots than this in a panel are drawn smaller and fainter, so that where they gather still shows. */
const manyStrokes = 600;

interface Drawn {
  readonly x: (hit: number) => number;
  readonly y: (hit: number) => number;
}

export function panelsPart(context: Context, chosenStroke: HTMLElement): Part {
  const { model, editor } = context;
  const list = make('div', { class: 'panels' });
  const element = section('channels', 'Every stroke', layoutChoice(), list);
  const panels = new Map(
    model.channels
      .filter(
        ({ id }) => model.hitsOf(id).length > 0 || model.readings.some(({ channel }) => channel.id === id),
      )
      .map((channel) => [channel.id, onePanel(channel.id)]),
  );
  list.append(...[...panels.values()].map(({ box }) => box));
  const near = new IntersectionObserver(
    (entries) => {
      for (const { target, isIntersecting } of entries) {
        const panel = panels.get((target as HTMLElement).dataset.channel ?? '');
        if (isIntersecting) panel?.draw();
      }
    },
    { rootMargin: '400px' },
  );
  for (const { box } of panels.values()) near.observe(box);

  return {
    element,
    chosen(from) {
      const { channel, hit } = context.choice;
      for (const [id, panel] of panels) panel.mark(id === channel ? hit : null);
      const panel = channel === null ? undefined : panels.get(channel);
      if (panel !== undefined) panel.box.append(chosenStroke);
      if (from === 'map' || from === 'list') panel?.box.scrollIntoView({ block: 'start' });
    },
    redraw() {
      for (const panel of panels.values()) panel.stale();
      // An observer speaks up again for what is on the screen.
      for (const { box } of panels.values()) {
        near.unobserve(box);
        near.observe(box);
      }
    },
    end: () => near.disconnect(),
  };

  function layoutChoice(): HTMLElement {
    const field = make('fieldset', { class: 'choice' }, make('legend', {}, 'Strokes stand'));
    for (const [value, words] of [
      ['barrel', 'at their pin along the barrel'],
      ['time', 'at their time in the take'],
    ] as const) {
      const input = make('input', { type: 'radio', name: 'along', value });
      input.checked = editor.state.along === value;
      input.addEventListener('change', () => {
        editor.keep({ along: value });
        for (const panel of panels.values()) panel.stale();
        for (const { box } of panels.values()) {
          near.unobserve(box);
          near.observe(box);
        }
      });
      field.append(make('label', {}, input, ` ${words}`));
    }
    return field;
  }

  function onePanel(channelId: string) {
    const channel = model.channels.find(({ id }) => id === channelId)!;
    const readings = model.readings.filter((reading) => reading.channel.id === channelId);
    const hits = model.hitsOf(channelId).filter((hit) => Number.isFinite(model.hits.latenessMs[hit]));
    const used = hits.filter((hit) => model.whyOf(hit) === null);
    const limitMs = limitOf(readings, used, channel.toleranceMs, model.hits.latenessMs);
    const canvas = make('canvas', { class: 'dots', 'aria-hidden': 'true' });
    const ring = make('div', { class: 'ring', hidden: true, 'aria-hidden': 'true' });
    const plate = make('div', { class: 'plate-plot' });
    const keys = make(
      'div',
      {
        class: 'sheet',
        role: 'slider',
        tabindex: 0,
        'aria-label': `Strokes of ${channel.name}, in time order`,
        'aria-valuemin': 1,
        'aria-valuemax': Math.max(1, hits.length),
        'aria-valuenow': 1,
        'aria-valuetext': hits.length === 0 ? 'no strokes' : 'none chosen; arrow keys choose',
      },
      plate,
      canvas,
      ring,
    );
    keys.style.height = `${height}px`;
    const box = make(
      'article',
      { class: 'panel', 'data-channel': channelId, 'aria-label': channel.name },
      make(
        'h3',
        {},
        channel.name,
        channel.reference ? make('span', { class: 'tag' }, 'reference') : null,
        channel.meant === undefined ? null : make('span', { class: 'tag' }, channel.meant),
        make(
          'span',
          { class: 'quiet' },
          ` tolerance ±${channel.toleranceMs.toFixed(2)} ms · ${plural(used.length, 'stroke')}${hits.length > used.length ? `, ${hits.length - used.length} set aside` : ''}`,
        ),
      ),
      keys,
    );
    let drawn: Drawn | null = null;
    let chosen: number | null = null;

    keys.addEventListener('pointerdown', (event) => {
      const at = keys.getBoundingClientRect();
      const hit = nearest(event.clientX - at.left, event.clientY - at.top);
      if (hit !== null) context.choose({ channel: channelId, hit }, 'panel');
    });
    keys.addEventListener('keydown', (event) => {
      const now = chosen === null ? -1 : hits.indexOf(chosen);
      const steps = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10 };
      const next = placeByKey(event.key, now, hits.length, steps);
      if (next === null) return;
      event.preventDefault();
      context.choose({ channel: channelId, hit: hits[next] }, 'keys');
    });
    return { box, draw, mark, stale: () => (drawn = null) };

    function nearest(x: number, y: number): number | null {
      if (drawn === null) return null;
      let best: number | null = null;
      let least = nearEnough ** 2;
      for (const hit of hits) {
        const distance = (drawn.x(hit) - x) ** 2 + (drawn.y(hit) - y) ** 2;
        if (distance < least) [best, least] = [hit, distance];
      }
      return best;
    }

    function draw(): void {
      if (drawn !== null) return;
      const byTime = editor.state.along === 'time';
      const endS = byTime ? model.endS * 1.01 : null;
      const shape: PanelShape = {
        width: Math.max(240, keys.clientWidth),
        height,
        left: 40,
        right: 10,
        top: 8,
        bottom: byTime ? 24 : 36,
      };
      const panel = { channel, readings, columns: model.columns, endS, limitMs, shape };
      plate.replaceChildren(drawPanelPlot(panel, panelWords(channel.name, readings)));
      const [from, to] =
        endS === null
          ? [model.columns[0]?.from ?? 0, model.columns.at(-1)?.to ?? 1]
          : [0, Math.max(1e-3, endS)];
      const wide = shape.width - shape.left - shape.right;
      const tall = shape.height - shape.top - shape.bottom;
      const edge = limitMs * (headroom - 0.03);
      const place = byTime ? (hit: number) => model.hits.timeS[hit] : (hit: number) => model.placeOf(hit);
      drawn = {
        x: (hit) => shape.left + ((place(hit) - from) / (to - from)) * wide,
        y: (hit) => {
          const ms = Math.max(-edge, Math.min(edge, model.hits.latenessMs[hit]));
          return shape.top + (0.5 - ms / (2 * limitMs * headroom)) * tall;
        },
      };
      drawDots(shape, drawn);
      mark(chosen);
    }

    function drawDots(shape: PanelShape, { x, y }: Drawn): void {
      const context2d = sized(canvas, shape.width, shape.height);
      if (context2d === null) return;
      const colours = coloursNow();
      const many = hits.length > manyStrokes;
      const size = many ? 2 : 3.4;
      context2d.fillStyle = colours.ink;
      context2d.strokeStyle = colours.quiet;
      context2d.globalAlpha = many ? Math.max(0.16, Math.min(0.5, manyStrokes / hits.length)) : 0.55;
      for (const hit of hits) {
        if (model.hits.why[hit] < 0) context2d.fillRect(x(hit) - size / 2, y(hit) - size / 2, size, size);
      }
      // A hit set aside is a small cross: seen, not counted.
      context2d.globalAlpha = 0.8;
      context2d.beginPath();
      for (const hit of hits) {
        if (model.hits.why[hit] < 0) continue;
        const [cx, cy] = [x(hit), y(hit)];
        context2d.moveTo(cx - 2.5, cy - 2.5);
        context2d.lineTo(cx + 2.5, cy + 2.5);
        context2d.moveTo(cx + 2.5, cy - 2.5);
        context2d.lineTo(cx - 2.5, cy + 2.5);
      }
      context2d.stroke();
    }

    function mark(hit: number | null): void {
      chosen = hit;
      const place = hit === null ? -1 : hits.indexOf(hit);
      ring.hidden = hit === null || place < 0 || drawn === null;
      if (hit === null || place < 0) return;
      keys.setAttribute('aria-valuenow', `${place + 1}`);
      keys.setAttribute('aria-valuetext', plain(strokeWords(model, hit)));
      if (drawn === null) return;
      ring.style.transform = `translate(${drawn.x(hit)}px, ${drawn.y(hit)}px)`;
      ring.dataset.figure = latenessFigure(model.hits.latenessMs[hit]);
    }
  }
}

/** The outermost fiftieth of the strokes does not set the scale; it is drawn at the edge. */
function limitOf(
  readings: readonly Reading[],
  used: Int32Array,
  toleranceMs: number,
  latenessMs: Float64Array,
): number {
  const means = readings.map(({ group }) => Math.abs(group.meanMs ?? 0) + (group.ci95Ms ?? 0));
  const sizes = Float64Array.from(used, (hit) => Math.abs(latenessMs[hit])).sort();
  return Math.max(1.3 * toleranceMs, ...means, sizes[Math.floor(0.98 * (sizes.length - 1))] ?? 0);
}

function panelWords(name: string, readings: readonly Reading[]): string {
  const sectors = readings.map(
    ({ sector, group, judgement }) =>
      `sector ${sector} ${group.meanMs === null ? '' : `${withInterval(group.meanMs, group.ci95Ms)} ms, `}${judgementWords[judgement].toLowerCase()}`,
  );
  return `${name}: ${sectors.join('; ')}`;
}
