/**
 * Several tunes on one barrel: it shifts sideways, and other pins meet the strikers. Each tune has a pattern of its own;
 * channels, sectors and adjusters are the same. A take is of one tune, and whatever asks for pins asks for that tune's.
 */
import type { Machine } from './machine.ts';

/** The machine with the pins of a tune; itself where it has one pattern, or the tune is none of its own (a report of before). */
export function ofTune(machine: Machine, tune: string | undefined): Machine {
  const { tunes } = machine;
  if (tunes === undefined || tune === undefined || tune === machine.tune) return machine;
  const known = byTune.get(machine) ?? new Map<string, Machine>();
  byTune.set(machine, known);
  let own = known.get(tune);
  if (own === undefined) {
    const found = tunes.find(({ name }) => name === tune);
    if (found === undefined) return machine;
    const { pins, patternFile, pattern } = found;
    own = { ...machine, description: { ...machine.description, pattern }, pins, patternFile, tune };
    known.set(tune, own);
  }
  return own;
}

/** The same value each time: what is worked out of a machine is kept by it. */
const byTune = new WeakMap<Machine, Map<string, Machine>>();

/** What of a report tells which tune it is of. */
interface WithPins {
  readonly tune?: string;
  readonly pins: readonly { readonly channel: string; readonly step: number }[];
}

/**
 * A report from when the machine had one pattern, as of the tune that has its pins now; itself where it says its tune, or no
 * tune has just these pins.
 */
export function withItsTune<R extends WithPins>(report: R, { description, tunes }: Machine): R {
  if (tunes === undefined || report.tune !== undefined || report.pins.length === 0) return report;
  const key = (channel: string, step: number) => `${channel} ${step}`;
  const own = new Set(report.pins.map(({ channel, step }) => key(channel, step)));
  const found = tunes.find(
    ({ pins }) =>
      pins.length === own.size &&
      pins.every(({ channel, step }) => own.has(key(description.channels[channel].id, step))),
  );
  return found === undefined ? report : { ...report, tune: found.name };
}

/** Names of the files that the pins stand in, as machine.jsonc has them. */
export function patternsOf({ description, tunes }: Machine): string[] {
  return tunes === undefined ? [description.pattern] : tunes.map(({ pattern }) => pattern);
}
