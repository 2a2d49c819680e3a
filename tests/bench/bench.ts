/**
 * tests/bench/ measures what a test should not time: how exact hearing is on many takes, how long it takes, which
 * library is faster. `npm run bench` runs all, `npm run bench fft` those whose name holds a word. Each *.bench.ts has
 * a function as its default export that measures and returns tables; nothing else is needed to add one.
 */

export interface Table {
  readonly title: string;
  readonly columns: readonly string[];
  readonly rows: readonly (readonly string[])[];
  /** What a reader needs to know beside the figures: what was measured, what is missing and why. */
  readonly notes?: readonly string[];
}

export type Bench = () => Promise<readonly Table[]>;

/** What was given as `name=value` behind the benchmark's name. */
export function option(name: string, otherwise: string): string {
  const given = process.argv.slice(2).find((word) => word.startsWith(`${name}=`));
  return given === undefined ? otherwise : given.slice(name.length + 1);
}

/** A sign of life between tables, on standard error: at most so often, ms. */
const tellEveryMs = 10_000;
let toldAt = performance.now();

/** Says how far a long benchmark is, where the last word was a while ago. */
export function tell(what: string, done: number, of: number): void {
  if (performance.now() - toldAt < tellEveryMs) return;
  toldAt = performance.now();
  console.error(`  ${what}: ${done} of ${of}`);
}

/** Columns padded to their widest cell; the first to the left, figures to the right. */
export function printed({ title, columns, rows, notes = [] }: Table): string {
  const widths = columns.map((column, i) => Math.max(column.length, ...rows.map((row) => row[i].length)));
  const line = (cells: readonly string[]) =>
    cells
      .map((cell, i) => (i === 0 ? cell.padEnd(widths[i]) : cell.padStart(widths[i])))
      .join('  ')
      .trimEnd();
  const rule = widths.map((width) => '-'.repeat(width)).join('  ');
  return [
    '',
    title,
    '',
    line(columns),
    rule,
    ...rows.map(line),
    ...notes.map((note) => `  ${note}`),
    '',
  ].join('\n');
}

/** A number with so many significant digits, plainly written; "–" where there is none. */
export function figure(value: number, digits = 3): string {
  if (!Number.isFinite(value)) return '–';
  return value === 0 ? '0' : Number(value.toPrecision(digits)).toString();
}
