/** One row of a table that a person keeps as text. */
export interface TableRow {
  /** Of the file, from 1. */
  readonly line: number;
  readonly cells: readonly string[];
}
