/**
 * Where a key leads in a list: Home and End to its ends, others by steps of their own.
 *
 * @param now   place of what is chosen; −1 where nothing is
 * @param steps by the key's name
 * @returns the place, within the list; null where the key leads nowhere
 */
export function placeByKey(
  key: string,
  now: number,
  count: number,
  steps: Readonly<Record<string, number>>,
): number | null {
  const next =
    key === 'Home' ? 0 : key === 'End' ? count - 1 : Object.hasOwn(steps, key) ? now + steps[key] : null;
  return next === null || count === 0 ? null : Math.max(0, Math.min(count - 1, next));
}
