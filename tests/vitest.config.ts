import { availableParallelism } from 'node:os';
import { defineConfig } from 'vitest/config';

/** Ends what hangs, and nothing else: on a busy machine a sound test takes many times as long as on a quiet one. */
const hangMs = 600_000;

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    include: ['tests/**/*.test.ts'],
    exclude: ['tests/host/**', 'tests/bench/**', ...(process.env.LONG ? [] : ['tests/**/*.long.test.ts'])],
    testTimeout: hangMs,
    hookTimeout: hangMs,
    maxWorkers: availableParallelism(),
  },
});
