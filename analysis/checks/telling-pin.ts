/** The pin that makes a pattern that repeats within a turn unlike itself. */
import type { Machine } from '../machine/machine.ts';

export interface ProposedPin {
  readonly channel: number;
  readonly step: number;
}

/**
 * In a pattern that a shift leaves as it is, any pin more has no likeness. It should be heard well: of a channel on the
 * barrel that strikes often, and as far as may be from other pins, its own above all.
 *
 * @returns null where no channel on the barrel has a step free
 */
export function tellingPin({ description, pins }: Machine): ProposedPin | null {
  const { channels, barrel } = description;
  const apart = (a: number, b: number) => {
    const by = Math.abs(a - b);
    return Math.min(by, barrel.steps - by);
  };
  const nearest = (step: number, those: readonly { readonly step: number }[]) =>
    those.reduce((least, pin) => Math.min(least, apart(step, pin.step)), barrel.steps);
  const countOf = channels.map((_, c) => pins.filter(({ channel }) => channel === c).length);
  const often = [...channels.keys()]
    .filter((c) => channels[c].onBarrel && countOf[c] > 0)
    .sort((a, b) => countOf[b] - countOf[a] || a - b);
  if (often.length === 0) return null;
  const [channel] = often;
  const own = pins.filter((pin) => pin.channel === channel);
  let best: ProposedPin | null = null;
  let most = 0;
  for (let step = 0; step < barrel.steps; step++) {
    // Its own nearest pin counts most, then silence around it.
    const room = 2 * nearest(step, own) + nearest(step, pins);
    if (nearest(step, own) > 0 && room > most) [best, most] = [{ channel, step }, room];
  }
  return best;
}
