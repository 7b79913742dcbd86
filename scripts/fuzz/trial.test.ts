import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { recordingsAtHand } from './recordings.js';
import { inputOf, trial } from './trial.js';

const recordings = recordingsAtHand(fileURLToPath(new URL('../..', import.meta.url)));

describe('fuzz', () => {
  it('reads 400 generated inputs in three ways, alike and without an exception', async () => {
    let read = 0;
    for (let run = 0; run < 400; run++) {
      const done = await trial(20_251, run, recordings);
      expect(done.failure, `npm run fuzz -- --seed 20251 --first ${run} --runs 1`).toBeUndefined();
      if (done.read) read++;
    }
    // Else it shows only that rubbish is refused.
    expect(read).toBeGreaterThan(100);
  }, 120_000);

  it('makes the same input of the same seed and run', () => {
    for (let run = 0; run < 20; run++) expect(inputOf(7, run, recordings)).toEqual(inputOf(7, run, recordings));
    expect(inputOf(7, 0, recordings)).not.toEqual(inputOf(8, 0, recordings));
  });
});
