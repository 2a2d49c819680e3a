/** Numbers of every pin of the pattern: how late it strikes, how surely, and how alike from turn to turn. */
import type { Machine } from '../machine/machine.ts';
import { mean, standardDeviation } from '../numbers/statistics.ts';
import type { PinNumbers } from '../results/results.ts';
import { meanOf } from './estimate.ts';
import { reported } from './groups.ts';
import { chances, usedByPin } from './repeatability.ts';
import type { Strokes } from './strokes.ts';

/** In the pattern's order. The interval borrows the channel's repeatability: a pin alone strikes too seldom for its own. */
export function summarisePins(strokes: Strokes, machine: Machine): PinNumbers[] {
  const byPin = usedByPin(strokes, machine);
  const chanceOf = chances(strokes, machine);
  return machine.pins.map(({ channel, step, targetMs }) => {
    const hits = byPin[channel].get(step) ?? [];
    const latenessMs = hits.map((i) => strokes.latenessMs[i]);
    return {
      channel: machine.description.channels[channel].id,
      step,
      ...(targetMs === undefined ? {} : { targetMs }),
      count: hits.length,
      meanMs: hits.length > 0 ? mean(latenessMs) : null,
      ...reported(hits.length > 0 ? meanOf(strokes, machine, chanceOf, hits) : null),
      repeatabilityMs: hits.length > 1 ? standardDeviation(latenessMs) : null,
    };
  });
}
