/** What a label says on this machine: a hit of a channel, the start of a sector, or a note. */
import type { Machine } from '../../machine/machine.ts';
import type { Marker } from '../take.ts';

/**
 * @param labels take.jsonc's: label → channel or `sector:ID`; they come first, then the machine's own names
 */
export function meaningOf(
  label: string,
  labels: Readonly<Record<string, string>>,
  { description: { channels, barrel } }: Machine,
): Marker['meaning'] {
  const said = (Object.hasOwn(labels, label) ? labels[label] : label).trim().toLowerCase();
  const channel = [
    channels.findIndex(({ id }) => id.toLowerCase() === said),
    channels.findIndex(({ name }) => name?.trim().toLowerCase() === said),
  ].find((index) => index !== -1);
  if (channel !== undefined) return { kind: 'hit', channel };
  const sector = barrel.sectors.findIndex(
    ({ id }) => `sector:${id.toLowerCase()}` === said.replace(/\s+/g, ''),
  );
  return sector === -1 ? { kind: 'note' } : { kind: 'sector', sector };
}
