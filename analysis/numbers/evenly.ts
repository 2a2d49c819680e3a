/** A few of many items, evenly from the whole list and in its order; all of them where they are no more than asked for. */

/** The first of each of `most` equal stretches; none where `most` is 0 or less. */
export function evenlyFrom<T>(items: readonly T[], most: number): T[] {
  if (items.length <= most) return [...items];
  return Array.from({ length: Math.max(0, most) }, (_, i) => items[Math.floor((i * items.length) / most)]);
}

/** The first and the last among them; the first alone where one is asked for. */
export function evenlyWithEnds<T>(items: ArrayLike<T>, most: number): T[] {
  if (items.length <= most) return Array.from(items);
  if (most === 1) return [items[0]];
  return Array.from({ length: most }, (_, i) => items[Math.round((i * (items.length - 1)) / (most - 1))]);
}
