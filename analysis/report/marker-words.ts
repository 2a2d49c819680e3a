/** How a marker file was read, in words: a column that was taken for another one is seen at a glance. */
import type { Report } from '../results/results.ts';
import { plural } from './reading.ts';

type MarkerFile = NonNullable<Report['markerFiles']>[number];

/** "24 markers, delimited text, times from “Anfang” in s, labels from “Name”" */
export function markerWords({ count, format, time, unit, end, label }: MarkerFile): string {
  const from = (what: string, column: string | null | undefined) =>
    column ? [`${what} from “${column}”`] : [];
  return [
    plural(count, 'marker'),
    format,
    ...from('times', time).map((words) => (unit === undefined ? words : `${words} in ${unit}`)),
    ...from('ends', end),
    ...from('labels', label),
  ].join(', ');
}
