/** Waveforms over each other in one row, aligned at the instant they were due. */
import type { ClipMessage } from '../protocol/messages.ts';
import { type Colours, sized } from './theme.ts';

export interface Trace {
  readonly clip: ClipMessage;
  /** The instant this strike was due, s. */
  readonly dueS: number;
  readonly latenessMs: number;
  readonly chosen: boolean;
}

export interface TraceRow {
  readonly traces: readonly Trace[];
  readonly toleranceMs: number;
}

/** What of the time about the due instant is seen. */
export interface TraceView {
  readonly fromMs: number;
  readonly toMs: number;
}

/** The least and the greatest sample of each pixel's time; samples themselves once they stand apart. */
export function envelope(
  { samples, sampleRate, fromS }: ClipMessage,
  dueS: number,
  view: TraceView,
  width: number,
): { readonly min: Float32Array; readonly max: Float32Array } {
  const min = new Float32Array(width).fill(NaN);
  const max = new Float32Array(width).fill(NaN);
  const perPixel = ((view.toMs - view.fromMs) / 1000 / width) * sampleRate;
  const start = (dueS + view.fromMs / 1000 - fromS) * sampleRate;
  for (let x = 0; x < width; x++) {
    const from = start + x * perPixel;
    const to = from + perPixel;
    // Between two samples, the straight line between them stands for the sound.
    const a = valueAt(samples, from);
    if (Number.isNaN(a)) continue;
    let [low, high] = [a, a];
    for (let i = Math.max(0, Math.ceil(from)); i < to && i < samples.length; i++) {
      if (samples[i] < low) low = samples[i];
      if (samples[i] > high) high = samples[i];
    }
    min[x] = low;
    max[x] = high;
  }
  return { min, max };
}

function valueAt(samples: Float32Array, place: number): number {
  const i = Math.floor(place);
  if (i < 0 || i + 1 >= samples.length) return NaN;
  return samples[i] + (samples[i + 1] - samples[i]) * (place - i);
}

/** Share of the row's half-height that its loudest sample reaches. */
const fill = 0.92;
/** Height of the strip under the traces that carries each strike's own mark. */
const strip = 9;

export function drawRow(
  canvas: HTMLCanvasElement,
  row: TraceRow,
  view: TraceView,
  { width, height }: { readonly width: number; readonly height: number },
  colours: Colours,
): void {
  const pen = sized(canvas, width, height);
  if (pen === null) return;
  const span = view.toMs - view.fromMs;
  const x = (ms: number) => ((ms - view.fromMs) / span) * width;
  const middle = (height - strip) / 2;
  pen.fillStyle = colours.band;
  pen.fillRect(x(-row.toleranceMs), 0, x(row.toleranceMs) - x(-row.toleranceMs), height);

  const pixels = Math.max(1, Math.round(width));
  const shapes = row.traces.map((trace) => ({ trace, ...envelope(trace.clip, trace.dueS, view, pixels) }));
  let loudest = 1e-9;
  for (const { min, max } of shapes)
    for (let i = 0; i < pixels; i++) {
      if (max[i] > loudest) loudest = max[i];
      if (-min[i] > loudest) loudest = -min[i];
    }
  const y = (value: number) => middle - (value / loudest) * middle * fill;
  // The chosen one last, over the others.
  shapes.sort((a, b) => Number(a.trace.chosen) - Number(b.trace.chosen));
  const alpha = Math.max(0.14, Math.min(0.6, 2.2 / Math.max(1, shapes.length)));
  for (const { trace, min, max } of shapes) {
    pen.fillStyle = trace.chosen ? colours.accent : colours.ink;
    pen.globalAlpha = trace.chosen ? 0.95 : alpha;
    pen.beginPath();
    for (let i = 0; i < pixels; i++) {
      if (Number.isNaN(min[i])) continue;
      const top = y(max[i]);
      pen.rect(i, top - 0.5, 1, Math.max(1, y(min[i]) - top + 1));
    }
    pen.fill();
  }
  // Each strike's own instant as a short pin under the traces.
  for (const { trace } of shapes) {
    pen.globalAlpha = trace.chosen ? 1 : 0.65;
    pen.fillStyle = trace.chosen ? colours.accent : colours.ink;
    pen.fillRect(x(trace.latenessMs) - 0.75, height - strip + 1, 1.5, strip - 1);
  }
  pen.globalAlpha = 1;
  pen.fillStyle = colours.quiet;
  for (let top = 0; top < height; top += 6) pen.fillRect(x(0) - 0.5, top, 1, 3);
}
