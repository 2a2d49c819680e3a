/** Normal deviates (mean 0, standard deviation 1) from a seed, the same on every machine; print the seed on failure. */
export function normalDeviates(seed: number): () => number {
  let state = seed >>> 0;
  // mulberry32, a public-domain generator: enough for a test of means, not for more
  const uniform = () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
  // Box–Muller
  return () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
}
