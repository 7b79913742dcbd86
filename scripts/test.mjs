// `npm test`: install, build, the checks, then the tests. Arguments go to the test runner.
import { existsSync, mkdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { build } from './build.mjs';
import { check } from './check.mjs';
import { cache, digest, filesBelow, readJson, readStamp, root, runTool, say, writeStamp } from './house.mjs';
import { setup } from './setup.mjs';

const report = join(cache, 'vitest.json');

/** Repeats the tests although nothing changed since they passed. */
const AGAIN = '--again';

/** Every file that a test can see: the checkout, the open recordings beside it, and the runtime. */
function testedFiles() {
  const shared = join(root, '..', 'shared');
  return `${process.version} ${digest([...filesBelow(root), ...(existsSync(shared) ? filesBelow(shared) : [])])}`;
}

/** Counts of the test runner's own report. A file that failed to load has no test in it, but is a failure. */
function tally(code) {
  if (!existsSync(report)) return { passed: 0, failed: 1, skipped: 0 };
  const found = readJson(report);
  const broken = found.testResults.filter(
    (file) => file.status === 'failed' && !file.assertionResults.some((one) => one.status === 'failed'),
  );
  const failed = found.numFailedTests + broken.length;
  return {
    passed: found.numPassedTests,
    // The runner may fail without a failed test: an unhandled rejection, or no test found.
    failed: failed === 0 && code !== 0 ? 1 : failed,
    skipped: found.numPendingTests + found.numTodoTests,
  };
}

async function main() {
  const began = performance.now();
  const lines = [];
  const totals = { passed: 0, failed: 0, skipped: 0 };
  const add = (name, part) => {
    lines.push(
      `  ${name}: ${part.passed} passed, ${part.failed} failed${part.skipped ? `, ${part.skipped} skipped` : ''}`,
    );
    for (const key of Object.keys(totals)) totals[key] += part[key] ?? 0;
  };
  const steps = [
    ['set-up', async () => ((await setup()) === 0 ? { passed: 1, failed: 0 } : { passed: 0, failed: 1 })],
    ['build', async () => ((await build()) === 0 ? { passed: 1, failed: 0 } : { passed: 0, failed: 1 })],
    ['checks', () => check({ remember: process.env.CI === undefined })],
    [
      'tests',
      async () => {
        const given = process.argv.slice(2).filter((part) => part !== AGAIN);
        const whole = given.length === 0 && process.env.CI === undefined;
        const files = whole ? testedFiles() : '';
        const last = readStamp('tests.json');
        if (whole && !process.argv.includes(AGAIN) && last?.files === files) {
          say(`tests: passed before on exactly these files, not repeated (npm test -- ${AGAIN} repeats them)`);
          return last.part;
        }
        mkdirSync(cache, { recursive: true });
        rmSync(report, { force: true });
        const args = ['run', '--reporter=default', '--reporter=json', `--outputFile.json=${report}`, ...given];
        const { code } = await runTool('vitest/vitest.mjs', args);
        const part = tally(code);
        if (whole && part.failed === 0) writeStamp('tests.json', { files, part });
        return part;
      },
    ],
  ];
  for (const [name, step] of steps) {
    const part = await step();
    add(name, part);
    // Without packages nothing else can run; everything after that is worth knowing even when a step failed.
    if (name === 'set-up' && part.failed > 0) break;
  }
  const seconds = ((performance.now() - began) / 1000).toFixed(1);
  say(
    ['', `telltale: ${totals.failed === 0 ? 'everything passed' : 'something failed'} (${seconds} s)`, ...lines].join(
      '\n',
    ),
  );
  process.stdout.write(`${totals.passed} passed, ${totals.failed} failed\n`);
  writeStamp('summary.json', totals);
  return totals.failed === 0 ? 0 : 1;
}

process.exitCode = await main();
