/** How sentences in findings call things: as the person named them, by id where they gave no name. */
import type { Machine } from '../machine/machine.ts';

/** "Gong, near mallet (gong-a)", or "gong-a" where the channel has no name of its own. */
export function channelName({ description }: Machine, channel: number): string {
  const { id, name } = description.channels[channel];
  return name === undefined || name === id ? id : `${name} (${id})`;
}

/** "1 stroke", "3 strokes" */
export function counted(count: number, one: string, many = `${one}s`): string {
  return `${count} ${count === 1 ? one : many}`;
}

/** Up to `most` items in words, and how many more there are. */
export function listed(items: readonly string[], most = 8): string {
  const shown = items.slice(0, most).join(', ');
  return items.length > most ? `${shown} and ${items.length - most} more` : shown;
}

/** "+1.20", "−0.35": late is positive. */
export function signedMs(ms: number, places = 2): string {
  return `${ms < 0 ? '−' : '+'}${Math.abs(ms).toFixed(places)}`;
}

/** Begins a sentence. */
export function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
