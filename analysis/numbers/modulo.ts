/** The remainder from 0 up to, not including, `by`, of a negative value too. */
export function modulo(value: number, by: number): number {
  return value - by * Math.floor(value / by);
}
