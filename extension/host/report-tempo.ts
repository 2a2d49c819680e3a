/** Tempo over the take, from the reference's own strikes. */

import type { Report } from '../../analysis/results/results.ts';
import type { TempoPoint } from '../protocol/messages.ts';
import { studentTQuantile } from '../../analysis/numbers/inference.ts';

/** A window needs so many strikes for its slope to have an interval worth drawing. */
const fewestStrikes = 6;
/** Windows over a take: enough to see a drift or a wobble, few enough that each is sure. */
const mostWindows = 60;

/** From the strikes of a report's reference; empty where it has none, or no barrel. */
export function tempoCourseOf(report: Report): TempoPoint[] {
  const { barrel, channels = [], hits } = report;
  const reference = channels.find((channel) => channel.reference)?.id;
  if (barrel === undefined || reference === undefined) return [];
  const strikes = hits
    .filter(
      (hit) => hit.channel === reference && hit.state === 'used' && hit.turn !== null && hit.step !== null,
    )
    .sort((a, b) => a.timeS - b.timeS);
  return tempoCourse(
    Float64Array.from(strikes, ({ timeS }) => timeS),
    Float64Array.from(strikes, ({ turn, step }) => turn! * barrel.steps + step!),
    barrel.stepsPerBeat,
  );
}

/**
 * Windows of equally many strikes, each with the straight line through them (ordinary least squares, GUM H.3): time
 * against barrel position.
 *
 * @param timeS    ascending
 * @param position steps, unwrapped
 * `bpmCi95` is from the strikes' scatter about the window's line.
 *
 * @returns one point a window; empty where there are too few strikes
 */
export function tempoCourse(timeS: Float64Array, position: Float64Array, stepsPerBeat: number): TempoPoint[] {
  const count = timeS.length;
  const size = Math.max(fewestStrikes, Math.ceil(count / mostWindows));
  const windows = Math.floor(count / size);
  return Array.from({ length: windows }, (_, i) =>
    lineThrough(
      timeS.subarray(Math.floor((i * count) / windows), Math.floor(((i + 1) * count) / windows)),
      position.subarray(Math.floor((i * count) / windows), Math.floor(((i + 1) * count) / windows)),
      stepsPerBeat,
    ),
  ).filter((point) => point !== null);
}

function lineThrough(timeS: Float64Array, position: Float64Array, stepsPerBeat: number): TempoPoint | null {
  const n = timeS.length;
  const meanT = timeS.reduce((a, b) => a + b, 0) / n;
  const meanP = position.reduce((a, b) => a + b, 0) / n;
  let pp = 0;
  let pt = 0;
  for (let i = 0; i < n; i++) {
    pp += (position[i] - meanP) ** 2;
    pt += (position[i] - meanP) * (timeS[i] - meanT);
  }
  const slope = pt / pp; // s a step
  if (!(slope > 0)) return null;
  let left = 0;
  for (let i = 0; i < n; i++) left += (timeS[i] - meanT - slope * (position[i] - meanP)) ** 2;
  const slopeSd = Math.sqrt(left / (n - 2) / pp);
  const bpm = 60 / (slope * stepsPerBeat);
  return { timeS: meanT, bpm, bpmCi95: (bpm * studentTQuantile(0.975, n - 2) * slopeSd) / slope };
}
