import { writeFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { parseArgs } from 'node:util';
import { isMainThread, parentPort, Worker } from 'node:worker_threads';
import { plan, type Trial } from './plan.js';
import { score } from './score.js';
import { tables } from './table.js';
import { type Report, run } from './trial.js';

/** Measures how often the rules find injected faults and cry wolf on healthy drives. See `--help`. */
async function main(): Promise<void> {
  const { values } = parseArgs({
    options: {
      seed: { type: 'string', default: '1' },
      drives: { type: 'string', default: '1500' },
      healthy: { type: 'string' },
      json: { type: 'string' },
      markdown: { type: 'string' },
      only: { type: 'string', multiple: true, default: [] },
      help: { type: 'boolean', default: false },
    },
  });
  if (values.help) {
    console.log(
      'npm run bench:detection -- [--seed S] [--drives N healthy drives, which scales all] [--healthy N healthy drives, apart from the scale; with --drives 0 there are no others] [--json FILE] [--markdown FILE] [--only RULE: puts in and judges no others]',
    );
    return;
  }
  const seed = whole(values.seed, '--seed');
  const drives = whole(values.drives, '--drives', values.healthy === undefined ? 1 : 0);
  const healthy = values.healthy === undefined ? drives : whole(values.healthy, '--healthy');
  const trials = plan(seed, drives, values.only, healthy);
  const reports = await spread(trials, values.only);
  const result = score(reports);
  const text = tables(result);
  console.log(text);
  if (values.json !== undefined)
    writeFileSync(values.json, `${JSON.stringify({ schema: 'telltale/detection@1', seed, ...result }, null, 1)}\n`);
  if (values.markdown !== undefined) writeFileSync(values.markdown, text);
}

/** Deals the trials to one worker a core; answers come back in the order of the trials, so that the result does not depend on timing. */
async function spread(trials: readonly Trial[], only: readonly string[]): Promise<Report[]> {
  const reports: Report[] = new Array<Report>(trials.length);
  let next = 0;
  let done = 0;
  const started = Date.now();
  const hands = Math.min(availableParallelism(), trials.length);
  await Promise.all(
    Array.from({ length: hands }, () => {
      const worker = new Worker(new URL(import.meta.url));
      return new Promise<void>((resolve, reject) => {
        const deal = (): void => {
          if (next >= trials.length) {
            void worker.terminate().then(() => resolve());
            return;
          }
          worker.postMessage({ index: next, trial: trials[next], only });
          next += 1;
        };
        worker.on('message', ({ index, report }: { index: number; report: Report }) => {
          reports[index] = report;
          done += 1;
          if (process.stderr.isTTY && done % 20 === 0) {
            const left = ((Date.now() - started) / done) * (trials.length - done);
            process.stderr.write(`\r${done} of ${trials.length} drives, ${Math.round(left / 1000)} s left   `);
          }
          deal();
        });
        worker.on('error', reject);
        deal();
      });
    }),
  );
  return reports;
}

function whole(text: string, name: string, least = 1): number {
  const value = Number(text);
  if (!Number.isInteger(value) || value < least)
    throw new Error(`${name} ${text}: expected a whole number from ${least}`);
  return value;
}

if (isMainThread) {
  await main();
} else {
  parentPort?.on('message', ({ index, trial, only }: { index: number; trial: Trial; only: readonly string[] }) => {
    run(trial, only).then(
      (report) => parentPort?.postMessage({ index, report }),
      (error: unknown) => {
        throw new Error(`trial ${JSON.stringify(trial.wish)}: ${String(error)}`);
      },
    );
  });
}
