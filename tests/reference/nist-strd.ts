/** Reads the NIST StRD sets beside this file and scores a result against a certified value. */
import { readFileSync } from 'node:fs';

export function readSets<T>(name: string): Record<string, T> {
  const file = new URL(`nist-strd/${name}.json`, import.meta.url);
  return (JSON.parse(readFileSync(file, 'utf8')) as { datasets: Record<string, T> }).datasets;
}

/** Log relative error, NIST's usual score: the number of right digits, 15 at most (what NIST prints). */
export function rightDigits(value: number, certified: string): number {
  const target = Number(certified);
  if (value === target) return 15;
  const error = Math.abs(value - target) / (target === 0 ? 1 : Math.abs(target));
  return Math.min(15, -Math.log10(error));
}
