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

/** Names of the files that the pins stand in, as machine.jsonc has them. */
export function patternsOf({ description, tunes }: Machine): string[] {
  return tunes === undefined ? [description.pattern] : tunes.map(({ pattern }) => pattern);
}
