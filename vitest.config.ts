import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

export default defineConfig({
  resolve: {
    // Tests run the sources, so a test never sees a stale build.
    alias: { '@telltale/core': fileURLToPath(new URL('packages/core/src/index.ts', import.meta.url)) },
  },
  test: {
    include: ['packages/*/test/**/*.test.ts', 'scripts/**/*.test.{ts,mjs}'],
    testTimeout: 180_000,
    hookTimeout: 300_000,
    // The two cores of a small machine: more workers only take turns.
    maxWorkers: 2,
    // Nothing keeps state in a module, so the files of a worker share what they load: half of the time was loading.
    isolate: false,
  },
});
