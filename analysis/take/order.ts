/** The order of a machine's takes: by when they were recorded, then by name. */

/** What a take's place in the order rests on. */
export interface Ordered {
  readonly name: string;
  /** ISO 8601; null where nobody knows, which comes before all that are known. */
  readonly recorded: string | null;
}

/** Oldest first. A time without a zone is taken as UTC: the order must not depend on where it is asked for. */
export function byRecorded(a: Ordered, b: Ordered): number {
  return instant(a.recorded) - instant(b.recorded) || byName(a.name, b.name);
}

/** "take 2" comes before "take 10". */
export function byName(a: string, b: string): number {
  return collator.compare(a, b);
}

const collator = new Intl.Collator('en', { numeric: true });

/** Before every date that a person could mean; finite, so that two of them differ by 0. */
const unknownInstant = -1e18;

function instant(recorded: string | null): number {
  return recordedMs(recorded) ?? unknownInstant;
}

/** Ms since 1970; null where nobody knows. */
export function recordedMs(recorded: string | null): number | null {
  if (recorded === null) return null;
  const time = recorded.includes(':') && !/(Z|[+-]\d\d:?\d\d)$/.test(recorded) ? `${recorded}Z` : recorded;
  const value = Date.parse(time.replace(' ', 'T'));
  return Number.isNaN(value) ? null : value;
}

/**
 * Only `recorded` of a take.jsonc, for the order: faults elsewhere in it are told when the take is analysed.
 *
 * @param value the parsed contents, whatever they are
 */
export function recordedIn(value: unknown): string | null {
  if (typeof value !== 'object' || value === null || !('recorded' in value)) return null;
  return typeof value.recorded === 'string' ? value.recorded : null;
}

/** Reports of the takes that come before one, oldest first; of all others, where its own place is not known yet. */
export function reportsBefore<R>(
  takes: readonly { readonly name: string; readonly report: R | null }[],
  name: string,
): R[] {
  const own = takes.findIndex((take) => take.name === name);
  return (own < 0 ? takes : takes.slice(0, own)).flatMap(({ report }) => (report === null ? [] : [report]));
}
