/**
 * Chance of the workshops' own: sfc32 (C. Doty-Humphrey's small fast counting generator, from memory) with normal numbers by
 * Marsaglia's polar method. The rest of the project draws from another generator, so no stream here can be in step with it.
 */
export interface Chance {
  /** 0 ≤ x < 1 */
  uniform(): number;
  between(low: number, high: number): number;
  /** Mean 0, standard deviation 1. */
  normal(): number;
  /** 0 ≤ n < below */
  whole(below: number): number;
  pick<T>(from: readonly T[]): T;
  /** A stream of its own: what it draws does not disturb this one. */
  apart(name: string): Chance;
}

export function chance(seed: number, name = ''): Chance {
  let a = seed | 0;
  let b = hash(name);
  let c = 0x9e3779b9 | 0;
  let counter = 1;
  const next = () => {
    const out = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (((c << 21) | (c >>> 11)) + out) | 0;
    return (out >>> 0) / 2 ** 32;
  };
  for (let i = 0; i < 20; i++) next();
  const own: Chance = {
    uniform: next,
    between: (low, high) => low + (high - low) * next(),
    whole: (below) => Math.floor(next() * below),
    pick: (from) => from[Math.floor(next() * from.length)],
    normal: () => {
      for (;;) {
        const x = 2 * next() - 1;
        const y = 2 * next() - 1;
        const s = x * x + y * y;
        if (s > 0 && s < 1) return x * Math.sqrt((-2 * Math.log(s)) / s);
      }
    },
    apart: (part) => chance(seed, `${name}/${part}`),
  };
  return own;
}

/** FNV-1a, 32 bits. */
function hash(text: string): number {
  let h = 0x811c9dc5;
  for (const letter of text) h = Math.imul(h ^ letter.codePointAt(0)!, 0x01000193);
  return h | 0;
}
