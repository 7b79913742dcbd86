import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { isMainThread, parentPort, Worker } from 'node:worker_threads';
import { type Journal, openJournal } from './journal.js';
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
      journal: { type: 'string' },
      only: { type: 'string', multiple: true, default: [] },
      help: { type: 'boolean', default: false },
    },
  });
  if (values.help) {
    console.log(
      'npm run bench:detection -- [--seed S] [--drives N healthy drives, which scales all] [--healthy N healthy drives, apart from the scale; with --drives 0 there are no others] [--json FILE] [--markdown FILE] [--journal FILE: keeps each drive as it comes, and goes on from there] [--only RULE: puts in and judges no others]',
    );
    return;
  }
  const seed = whole(values.seed, '--seed');
  const drives = whole(values.drives, '--drives', values.healthy === undefined ? 1 : 0);
  const healthy = values.healthy === undefined ? drives : whole(values.healthy, '--healthy');
  const trials = plan(seed, drives, values.only, healthy);
  const journal =
    values.journal === undefined
      ? undefined
      : openJournal(values.journal, [programHash(), seed, drives, healthy, ...values.only].join(' '));
  const reports = await spread(trials, values.only, journal);
  const result = score(reports);
  const text = tables(result);
  console.log(text);
  if (values.json !== undefined)
    writeFileSync(values.json, `${JSON.stringify({ schema: 'telltale/detection@1', seed, ...result }, null, 1)}\n`);
  if (values.markdown !== undefined) writeFileSync(values.markdown, text);
}

/** Deals the trials to one worker a core; answers come back in the order of the trials, so that the result does not depend on timing. */
async function spread(
  trials: readonly Trial[],
  only: readonly string[],
  journal: Journal | undefined,
): Promise<Report[]> {
  const reports: Report[] = new Array<Report>(trials.length);
  for (const [index, report] of journal?.known ?? []) reports[index] = report;
  const waiting = trials.flatMap((_, index) => (reports[index] === undefined ? [index] : []));
  let next = 0;
  let done = 0;
  const started = Date.now();
  const hands = Math.min(availableParallelism(), waiting.length);
  await Promise.all(
    Array.from({ length: hands }, () => {
      const worker = new Worker(new URL(import.meta.url));
      return new Promise<void>((resolve, reject) => {
        const deal = (): void => {
          if (next >= waiting.length) {
            void worker.terminate().then(() => resolve());
            return;
          }
          const index = waiting[next++]!;
          worker.postMessage({ index, trial: trials[index], only });
        };
        worker.on('message', ({ index, report }: { index: number; report: Report }) => {
          reports[index] = report;
          journal?.add(index, report);
          done += 1;
          if (process.stderr.isTTY && done % 20 === 0) {
            const left = ((Date.now() - started) / done) * (waiting.length - done);
            process.stderr.write(`\r${done} of ${waiting.length} drives, ${Math.round(left / 1000)} s left   `);
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

/** Of the program as it runs: simulator, rules and all. */
function programHash(): string {
  return createHash('sha256')
    .update(readFileSync(fileURLToPath(import.meta.url)))
    .digest('hex');
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
