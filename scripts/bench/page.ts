// `npm run bench:page [-- --runs N] [--out FILE]`: the analyser page beside the command line, on a log of 100 MB. Both give
// the same bytes, or nothing is measured. Needs a Chromium (TELLTALE_CHROMIUM names another than Debian's).
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { availableParallelism, loadavg } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { chromium } from 'playwright-core';
import { ROWS, writeRecording } from './data.js';
import { median } from './measure.js';

const say = (text: string) => void process.stderr.write(`bench: ${text}\n`);
const telltale = join('packages', 'cli', 'bin', 'telltale.js');

interface InPage {
  readonly seconds: number;
  /** Longest task of the page's own thread, ms; 0 = none beyond 50 ms, which is where browsers begin to count. */
  readonly longest: number;
  readonly json: string;
}

async function inPage(browserPath: string, page: string, log: string, folder: string): Promise<InPage> {
  const browser = await chromium.launch({ executablePath: browserPath, args: ['--no-sandbox'] });
  try {
    const tab = await browser.newPage();
    await tab.goto(`file://${page}`);
    await tab.evaluate(() => {
      const tasks: number[] = [];
      (window as unknown as { tasks: number[] }).tasks = tasks;
      new PerformanceObserver((list) => {
        for (const { duration } of list.getEntries()) tasks.push(duration);
      }).observe({ type: 'longtask' });
    });
    await tab.setInputFiles('#files', log);
    const began = performance.now();
    await tab.click('#go');
    await tab.waitForSelector('#result[data-shown]', { timeout: 600_000 });
    const seconds = (performance.now() - began) / 1000;
    // The plots are made live after the report is there.
    await tab.waitForTimeout(3000);
    const longest = await tab.evaluate(() => Math.max(0, ...(window as unknown as { tasks: number[] }).tasks));
    const download = tab.waitForEvent('download');
    await tab.click('#save-json');
    const path = join(folder, 'page.json');
    await (await download).saveAs(path);
    return { seconds, longest, json: readFileSync(path, 'utf8') };
  } finally {
    await browser.close();
  }
}

function onCommandLine(log: string): { seconds: number; json: string } {
  const began = performance.now();
  const { status, stdout } = spawnSync(process.execPath, [telltale, 'assess', log, '--json', '--quiet'], {
    encoding: 'utf8',
    maxBuffer: 1 << 27,
  });
  if (status !== 0) throw new Error(`telltale assess ended with ${status}`);
  return { seconds: (performance.now() - began) / 1000, json: stdout };
}

async function main(): Promise<number> {
  const { values } = parseArgs({ options: { runs: { type: 'string', default: '3' }, out: { type: 'string' } } });
  const runs = Number(values.runs);
  const browser = process.env.TELLTALE_CHROMIUM ?? '/usr/bin/chromium';
  if (!(Number.isInteger(runs) && runs >= 1) || !existsSync(browser)) {
    say(`expected --runs N of at least 1, and a browser at ${browser}`);
    return 2;
  }
  const folder = join(process.cwd(), 'node_modules', '.cache', 'telltale', 'bench');
  mkdirSync(folder, { recursive: true });
  const log = join(folder, `plain-${ROWS}-1.csv`);
  writeRecording(log, 'plain', ROWS, 1);
  const page = join(folder, 'analyser.html');
  if (spawnSync(process.execPath, [telltale, 'page', page]).status !== 0) throw new Error('telltale page failed');
  const line: number[] = [];
  const tab: InPage[] = [];
  for (let k = 0; k < runs; k++) {
    const ours = onCommandLine(log);
    const theirs = await inPage(browser, page, log, folder);
    if (ours.json !== theirs.json) throw new Error('page and command line give other bytes');
    line.push(ours.seconds);
    tab.push(theirs);
    say(`${k + 1}/${runs} command line ${ours.seconds.toFixed(1)} s, page ${theirs.seconds.toFixed(1)} s`);
  }
  const [a, b] = [median(line), median(tab.map(({ seconds }) => seconds))];
  const longest = Math.max(...tab.map((each) => each.longest));
  const text = [
    `Assessing 100 MB, ${runs} runs in turn, medians; ${availableParallelism()} cores, load average ${loadavg()[0]!.toFixed(1)}; equal bytes.`,
    '',
    '| | s | times the command line | longest task of the page, ms |',
    '| --- | ---: | ---: | ---: |',
    `| command line | ${a.toFixed(1)} | 1.0 | |`,
    `| page in Chromium | ${b.toFixed(1)} | ${(b / a).toFixed(2)} (at most 2.5) | ${longest.toFixed(0)} (at most 200) |`,
    '',
  ].join('\n');
  process.stdout.write(text);
  if (values.out !== undefined) writeFileSync(values.out, text);
  return b / a <= 2.5 && longest <= 200 ? 0 : 1;
}

process.exitCode = await main();
