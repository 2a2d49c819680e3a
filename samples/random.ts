/**
 * samples/ makes takes whose truth is known: a machine is played (play.ts), its strikes are placed in tracks at exact
 * times (place.ts), and the tracks are written as files (wav.ts). The demo machine is made of these by make.ts.
 * Nothing here reads a clock or a file system: the same seed gives the same bytes everywhere.
 */

/** Seeded chance. Every method draws from the one stream, so the order of calls matters and is all that matters. */
export interface Random {
  /** 0 ≤ x < 1, 53 bits */
  uniform(): number;
  /** low ≤ x < high */
  between(low: number, high: number): number;
  /** Mean 0, standard deviation 1. */
  normal(): number;
  /** Whole number, 0 ≤ n < below */
  integer(below: number): number;
  pick<T>(from: readonly T[]): T;
  /** A new array in another order. */
  shuffle<T>(from: readonly T[]): T[];
  /** A stream of its own for one part of the work: what it draws does not disturb the others. */
  split(name: string): Random;
}

/** @param seed any whole number; only its low 32 bits count */
export function seededRandom(seed: number): Random {
  return randomFrom(xoshiro128(seedState(seed)), seed);
}

function randomFrom(next: () => number, seed: number): Random {
  let spare = NaN;
  const uniform = () => (next() >>> 5) / 2 ** 27 + (next() >>> 6) / 2 ** 53;
  const integer = (below: number) => Math.floor(uniform() * below);
  return {
    uniform,
    integer,
    between: (low, high) => low + (high - low) * uniform(),
    pick: (from) => from[integer(from.length)],
    shuffle(from) {
      // Fisher–Yates, from the end.
      const out = [...from];
      for (let i = out.length - 1; i > 0; i--) {
        const j = integer(i + 1);
        [out[i], out[j]] = [out[j], out[i]];
      }
      return out;
    },
    normal() {
      // Marsaglia & Bray 1964, the polar method: each round gives two.
      if (!Number.isNaN(spare)) {
        const value = spare;
        spare = NaN;
        return value;
      }
      for (;;) {
        const x = 2 * uniform() - 1;
        const y = 2 * uniform() - 1;
        const s = x * x + y * y;
        if (s > 0 && s < 1) {
          const scale = Math.sqrt((-2 * Math.log(s)) / s);
          spare = y * scale;
          return x * scale;
        }
      }
    },
    split(name) {
      let hash = seed ^ 0x811c9dc5;
      // FNV-1a over the name: only to give different names different seeds.
      for (const c of name) hash = Math.imul(hash ^ c.codePointAt(0)!, 0x01000193);
      return seededRandom(hash);
    },
  };
}

/**
 * xoshiro128** 1.1, Blackman & Vigna 2018 (prng.di.unimi.it, public domain): 32 bits a call, period 2^128 − 1.
 *
 * @param state four 32-bit words, not all 0; used up by the generator
 */
export function xoshiro128(state: Uint32Array): () => number {
  const s = state;
  return () => {
    const result = Math.imul(rotl(Math.imul(s[1], 5), 7), 9) >>> 0;
    const t = s[1] << 9;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = rotl(s[3], 11);
    return result;
  };
}

/** Spreads one word over four with the finisher of MurmurHash3, stepping by the golden ratio (splitmix32). */
function seedState(seed: number): Uint32Array {
  let z = seed >>> 0;
  return Uint32Array.from({ length: 4 }, () => {
    z = (z + 0x9e3779b9) >>> 0;
    let x = z;
    x = Math.imul(x ^ (x >>> 16), 0x85ebca6b);
    x = Math.imul(x ^ (x >>> 13), 0xc2b2ae35);
    return (x ^ (x >>> 16)) >>> 0;
  });
}

function rotl(x: number, k: number): number {
  return (x << k) | (x >>> (32 - k));
}
