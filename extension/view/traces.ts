/** Overlaid waveforms: a channel's hits by sector, or one pin through all takes, each aligned at its due time. */
import { evenlyWithEnds } from '../../analysis/numbers/evenly.ts';
import { type ClipWant, mostClips } from '../protocol/messages.ts';
import { none } from '../protocol/page-report.ts';
import type { Context } from './context.ts';
import { button, make, plain } from './element.ts';
import { type Trace, type TraceRow, drawRow } from './trace-drawing.ts';
import { coloursNow } from './theme.ts';

/** Fetched about each due time, ms: what zooming and moving can reach. */
const reachMs = { before: 60, after: 200 };
const narrowestMs = 1;
/** Overlaid in a row at most: more is a blur. */
const mostInRow = 24;
const rowHeight = 58;

interface Row extends TraceRow {
  readonly label: string;
  readonly words: string;
}

export class Traces {
  readonly element = make('div', { class: 'traces' });
  private readonly rowsBox = make('div', { class: 'trace-rows' });
  private readonly axis = make('div', { class: 'trace-axis', 'aria-hidden': 'true' });
  private readonly status = make('p', { class: 'quiet', role: 'status' });
  private rows: readonly { row: Row; canvas: HTMLCanvasElement }[] = [];
  private asked = '';

  constructor(private readonly context: Context) {
    this.element.append(this.controls(), this.status, this.rowsBox, this.axis);
    this.rowsBox.addEventListener('wheel', (event) => this.wheel(event), { passive: false });
    this.rowsBox.addEventListener('pointerdown', (event) => this.drag(event));
  }

  /** Shows what belongs to the choice; asks the editor for sound that is not here yet. */
  async show(): Promise<void> {
    const { channel, hit } = this.context.choice;
    if (channel === null) return;
    const { traces } = this.context.editor.state;
    const step = hit === null ? none : this.context.model.hits.step[hit];
    // The chosen stroke may be one that was not fetched, so it is part of what was asked for.
    const question = JSON.stringify([this.context.editor.run, traces, channel, hit]);
    if (question === this.asked) return this.draw();
    this.asked = question;
    this.status.textContent = 'Fetching sound…';
    const found =
      traces === 'takes' && step !== none
        ? await this.ofPin(channel, step)
        : await this.bySector(channel, hit);
    if (question !== this.asked) return;
    this.status.textContent = plain(
      found.why ?? (found.rows.length === 0 ? 'There is no sound to show for this choice.' : ''),
    );
    this.rows = found.rows.map((row) => ({ row, canvas: make('canvas', {}) }));
    this.rowsBox.replaceChildren(
      ...this.rows.map(({ row, canvas }) => {
        canvas.setAttribute('role', 'img');
        canvas.setAttribute('aria-label', plain(row.words));
        return make('div', { class: 'trace-row' }, make('span', { class: 'trace-label' }, row.label), canvas);
      }),
    );
    this.draw();
  }

  draw(): void {
    const view = this.view();
    const colours = coloursNow();
    const width = Math.max(120, this.rowsBox.clientWidth - labelWidth);
    for (const { row, canvas } of this.rows)
      drawRow(canvas, row, view, { width, height: rowHeight }, colours);
    this.drawAxis(view, width);
  }

  private view() {
    const { middleMs, spanMs } = this.context.editor.state;
    return { fromMs: middleMs - spanMs / 2, toMs: middleMs + spanMs / 2 };
  }

  private async bySector(channel: string, chosen: number | null) {
    const { model, editor } = this.context;
    const { hits } = model;
    const sectors = model.columns.map(({ sector }) => sector);
    const perRow = Math.max(1, Math.min(mostInRow, Math.floor(mostClips / Math.max(1, sectors.length))));
    const rows = sectors.flatMap((sector) => {
      const own = model
        .hitsOf(channel)
        .filter(
          (hit) =>
            model.sectorOf(hit) === sector &&
            hits.track[hit] !== none &&
            Number.isFinite(hits.latenessMs[hit]) &&
            (hit === chosen || model.whyOf(hit) === null),
        );
      const some = evenlyWithEnds(own, perRow);
      if (chosen !== null && own.includes(chosen) && !some.includes(chosen)) some[some.length - 1] = chosen;
      return some.length === 0 ? [] : [{ sector, some, of: own.length }];
    });
    const wants = rows.flatMap(({ some }) => some.map((hit) => this.wantOf(hits.timeS[hit], hit)));
    if (wants.length === 0) return { rows: [], why: null };
    const { clips, why } = await editor.clips(null, wants);
    const tolerance = model.channels.find(({ id }) => id === channel)?.toleranceMs ?? 0;
    let i = 0;
    const drawn = rows.map(({ sector, some, of }): Row => {
      const traces = some.flatMap((hit): Trace[] => {
        const clip = clips[i++];
        const latenessMs = hits.latenessMs[hit];
        const dueS = hits.timeS[hit] - latenessMs / 1000;
        return clip === null ? [] : [{ clip, dueS, latenessMs, chosen: hit === chosen }];
      });
      const words = `${traces.length} of ${of} strokes of ${model.nameOf(channel)} in sector ${sector}, over each other`;
      return { label: sector, words, traces, toleranceMs: tolerance };
    });
    return { rows: drawn.filter(({ traces }) => traces.length > 0), why };
  }

  private wantOf(timeS: number, hit: number): ClipWant {
    const { hits } = this.context.model;
    const dueS = timeS - hits.latenessMs[hit] / 1000;
    return { track: hits.track[hit], fromS: dueS - reachMs.before / 1000, toS: dueS + reachMs.after / 1000 };
  }

  private async ofPin(channel: string, step: number) {
    const { model, editor, choice } = this.context;
    const takes = await editor.pin(channel, step);
    const tolerance = model.channels.find(({ id }) => id === channel)?.toleranceMs ?? 0;
    const chosenS = choice.hit === null ? NaN : model.hits.timeS[choice.hit];
    let why: string | null = null;
    const rows: Row[] = [];
    for (const { take, name, strokes } of takes) {
      const wants = strokes.slice(0, mostClips).map(({ timeS, track, latenessMs }) => {
        const dueS = timeS - latenessMs / 1000;
        return { track, fromS: dueS - reachMs.before / 1000, toS: dueS + reachMs.after / 1000 };
      });
      if (wants.length === 0) continue;
      const found = await editor.clips(take, wants);
      why ??= found.why;
      const traces = found.clips.flatMap((clip, i): Trace[] => {
        const { timeS, latenessMs } = strokes[i];
        const own = take === model.message.take && timeS === chosenS;
        return clip === null ? [] : [{ clip, dueS: timeS - latenessMs / 1000, latenessMs, chosen: own }];
      });
      const words = `${traces.length} strokes of the pin of ${model.nameOf(channel)} at step ${step} in take ${name}`;
      if (traces.length > 0) rows.push({ label: name, words, traces, toleranceMs: tolerance });
    }
    return { rows, why };
  }

  private controls(): HTMLElement {
    const { editor } = this.context;
    const field = make('fieldset', { class: 'choice' }, make('legend', {}, 'Over each other'));
    for (const [value, words] of [
      ['sectors', 'this channel, by sector'],
      ['takes', 'this pin, in every take'],
    ] as const) {
      const input = make('input', { type: 'radio', name: 'traces', value });
      input.checked = editor.state.traces === value;
      input.addEventListener('change', () => {
        editor.keep({ traces: value });
        void this.show();
      });
      field.append(make('label', {}, input, ` ${words}`));
    }
    const zoom = make(
      'span',
      { class: 'zoom', role: 'group', 'aria-label': 'Part of the time that is seen' },
      button('Closer', () => this.look(0, 1 / 1.6)),
      button('Wider', () => this.look(0, 1.6)),
      button('Earlier', () => this.look(-0.25, 1)),
      button('Later', () => this.look(0.25, 1)),
      button('About due', () => {
        editor.keep({ middleMs: 10, spanMs: 60 });
        this.draw();
      }),
    );
    return make('div', { class: 'trace-controls' }, field, zoom);
  }

  /** @param shift of the view's width; @param factor by which the view widens about a place in it (0 to 1) */
  private look(shift: number, factor: number, about = 0.5): void {
    const { editor } = this.context;
    const { middleMs, spanMs } = editor.state;
    const whole = reachMs.before + reachMs.after;
    const span = Math.max(narrowestMs, Math.min(whole, spanMs * factor));
    const fixed = middleMs + (about - 0.5) * spanMs;
    const middle = fixed - (about - 0.5) * span + shift * spanMs;
    const least = -reachMs.before + span / 2;
    editor.keep({ spanMs: span, middleMs: Math.max(least, Math.min(reachMs.after - span / 2, middle)) });
    this.draw();
  }

  /** With Ctrl or Cmd, as zooming is everywhere; the wheel alone goes on scrolling the page. */
  private wheel(event: WheelEvent): void {
    if (!event.ctrlKey && !event.metaKey) return;
    event.preventDefault();
    const box = this.rowsBox.getBoundingClientRect();
    const about = (event.clientX - box.left - labelWidth) / Math.max(1, box.width - labelWidth);
    this.look(0, event.deltaY > 0 ? 1.2 : 1 / 1.2, Math.max(0, Math.min(1, about)));
  }

  private drag(event: PointerEvent): void {
    let last = event.clientX;
    const width = Math.max(1, this.rowsBox.clientWidth - labelWidth);
    this.rowsBox.setPointerCapture(event.pointerId);
    const move = (now: PointerEvent) => {
      this.look((last - now.clientX) / width, 1);
      last = now.clientX;
    };
    const done = () => {
      this.rowsBox.removeEventListener('pointermove', move);
      this.rowsBox.removeEventListener('pointerup', done);
      this.rowsBox.removeEventListener('pointercancel', done);
    };
    this.rowsBox.addEventListener('pointermove', move);
    this.rowsBox.addEventListener('pointerup', done);
    this.rowsBox.addEventListener('pointercancel', done);
  }

  private drawAxis({ fromMs, toMs }: { fromMs: number; toMs: number }, width: number): void {
    const span = toMs - fromMs;
    const rough = span / 8;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((times) => times * power).find((size) => size >= rough) ?? rough;
    const marks: HTMLElement[] = [];
    for (let n = Math.ceil(fromMs / step); n * step <= toMs; n++) {
      const ms = Number((n * step).toPrecision(6));
      if ((toMs - ms) / span < 0.02) continue; // its label would be cut off
      const words = n === 0 ? 'due' : `${ms > 0 ? '+' : '−'}${Math.abs(ms)}`;
      const label = make('span', {}, words);
      label.style.left = `${labelWidth + ((ms - fromMs) / span) * width}px`;
      marks.push(label);
    }
    const unit = make('span', { class: 'unit' }, 'ms');
    this.axis.replaceChildren(unit, ...(this.rows.length === 0 ? [] : marks));
  }
}

/** Left of the traces, px; style/traces.css has the same. */
const labelWidth = 96;
