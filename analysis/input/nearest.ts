/** Finds the name that was most likely meant, for the mend of a message about an unknown one. */

/** Names listed in a message at most; more would not be read. */
const listedNames = 8;

/** A machine with more channels is none; each comparison takes some µs. */
const comparedNames = 1000;

/** Nothing longer is a slip for a name; the time to compare goes with the length of both. */
const longestWord = 200;

/** The advice for an unknown name: the one that was probably meant, else those there are. */
export function insteadOf(word: string, names: readonly string[]): string {
  const meant = nearest(word, names);
  if (meant !== null) return `write "${meant}"`;
  if (names.length === 0) return 'remove it';
  const listed = names.slice(0, listedNames).map((name) => `"${name}"`);
  return `use one of ${listed.join(', ')}${names.length > listedNames ? ' …' : ''}`;
}

/** The nearest name by letters changed, added or left out, or null where none is near; case does not count. */
export function nearest(word: string, names: readonly string[]): string | null {
  if (word.length > longestWord) return null;
  // One slip in short words, one in three letters in longer ones, never all of it: beyond that a guess misleads.
  let least = Math.min(word.length, Math.max(1, Math.floor(word.length / 3)) + 1);
  let found: string | null = null;
  for (const name of names.slice(0, comparedNames)) {
    if (name.length > longestWord) continue;
    const distance = slips(word.toLowerCase(), name.toLowerCase());
    if (distance < least) [least, found] = [distance, name];
  }
  return found;
}

/** Levenshtein's distance (1966), one row of the table at a time. */
function slips(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 0; i < a.length; i++) {
    const next = [i + 1];
    for (let j = 0; j < b.length; j++) {
      next.push(Math.min(row[j] + (a[i] === b[j] ? 0 : 1), row[j + 1] + 1, next[j] + 1));
    }
    row = next;
  }
  return row[b.length];
}
