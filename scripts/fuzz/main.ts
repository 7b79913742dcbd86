// `npm run fuzz -- --seed S --runs N [--first K]`: generated inputs through the reader; the same seed gives the same inputs.
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { recordingsAtHand } from './recordings.js';
import { trial } from './trial.js';

/** Resident memory that no number of small inputs may reach, MiB. */
const MEMORY = 1500;

async function main(): Promise<number> {
  const { values } = parseArgs({
    options: {
      seed: { type: 'string', default: '1' },
      runs: { type: 'string', default: '1000' },
      first: { type: 'string', default: '0' },
    },
  });
  const [seed, runs, first] = [Number(values.seed), Number(values.runs), Number(values.first)];
  if (![seed, runs, first].every((value) => Number.isInteger(value) && value >= 0)) {
    process.stderr.write('fuzz: expected --seed S --runs N [--first K], whole numbers of at least 0\n');
    return 2;
  }
  const recordings = recordingsAtHand(process.cwd());
  const began = performance.now();
  let failures = 0;
  let read = 0;
  let slowest = 0;
  for (let run = first; run < first + runs && failures < 10; run++) {
    const done = await trial(seed, run, recordings);
    if (done.read) read++;
    slowest = Math.max(slowest, done.milliseconds);
    if (done.failure !== undefined) {
      failures++;
      const folder = join(process.cwd(), 'node_modules', '.cache', 'telltale', 'fuzz');
      mkdirSync(folder, { recursive: true });
      const path = join(folder, `${seed}-${run}.bin`);
      writeFileSync(path, done.bytes);
      process.stderr.write(
        `fuzz: run ${run} of seed ${seed}: ${done.failure}\n      input: ${path}; again: npm run fuzz -- --seed ${seed} --first ${run} --runs 1\n`,
      );
    }
    if ((run + 1) % 5000 === 0) process.stderr.write(`fuzz: ${run + 1 - first} of ${runs}\n`);
  }
  const peak = process.resourceUsage().maxRSS / 1024;
  if (peak > MEMORY) {
    failures++;
    process.stderr.write(`fuzz: peak memory ${Math.round(peak)} MiB, expected less than ${MEMORY}\n`);
  }
  const seconds = (performance.now() - began) / 1000;
  process.stdout.write(
    `fuzz: seed ${seed}, ${runs} inputs (${read} read as tables, ${recordings.length} recordings mutated), ${failures} failures; ` +
      `slowest ${Math.round(slowest)} ms, peak ${Math.round(peak)} MiB, ${seconds.toFixed(1)} s\n`,
  );
  return failures === 0 ? 0 : 1;
}

process.exitCode = await main();
