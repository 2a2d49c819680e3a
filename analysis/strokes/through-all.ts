/** The course by all channels' strokes, those left out that lie too far off to be chance. */
import type { Hits } from '../hits/hits.ts';
import type { Machine } from '../machine/machine.ts';
import { fitCourse, type Course } from './course.ts';
import { dueTimeS, type MatchedHit } from './match.ts';
import { roundingStep } from './resolution.ts';
import type { ThroughReference } from './through-reference.ts';
import { wildStrokes } from './wild.ts';

/**
 * @param pairs strokes of all channels
 * @param first a course through the reference's alone, and which of them it took
 */
export function throughAll(
  machine: Machine,
  hits: Hits,
  pairs: readonly MatchedHit[],
  { rotation, hits: ofReference }: ThroughReference,
): Course | null {
  const { channels, barrel } = machine.description;
  const late = pairs
    .filter(({ hit }) => hits.why[hit] === null)
    .map((pair) => ({ ...pair, latenessS: hits.timeS[pair.hit] - dueTimeS(pair.due, rotation.timeAt) }));
  const others = late.filter(({ due }) => due.channel !== machine.reference);
  const wild = new Set(wildStrokes(others));
  const fitted = new Set(ofReference);
  const own = late
    .filter(({ hit, due }) => (due.channel === machine.reference ? fitted.has(hit) : !wild.has(hit)))
    .sort((a, b) => a.due.position - b.due.position);
  return fitCourse({
    position: Float64Array.from(own, ({ due }) => due.position),
    timeS: Float64Array.from(own, ({ hit, due }) => hits.timeS[hit] - due.targetS),
    latenessS: Float64Array.from(own, ({ latenessS }) => latenessS),
    channel: Int32Array.from(own, ({ due }) => due.channel),
    step: Float64Array.from(own, ({ due }) => due.step),
    sector: Int32Array.from(own, ({ due }) => (channels[due.channel].onBarrel ? due.sector : -1)),
    timeSdS: Float64Array.from(own, ({ hit }) => hits.timeSdS[hit]),
    hit: Int32Array.from(own, ({ hit }) => hit),
    reference: machine.reference,
    channels: channels.length,
    stepsPerTurn: barrel.steps,
    stood: rotation.stood,
    timesStepMs: 1000 * roundingStep(hits, late),
  });
}
