import { existsSync, mkdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Browser, type BrowserContextOptions, chromium, type Page } from 'playwright-core';

/** Where a Chromium may stand; `TELLTALE_CHROMIUM` names another. Nothing is downloaded. */
const PLACES = [
  process.env.TELLTALE_CHROMIUM,
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome',
];

export const BROWSER = PLACES.find((path) => path !== undefined && path !== '' && existsSync(path));
if (BROWSER === undefined)
  console.warn(
    'tests: no Chromium found, the pages are not tried in a browser: apt-get install chromium, or set TELLTALE_CHROMIUM',
  );

/** Beside the name of each group of tests, so that a run says plainly what it did not do. */
export const NOTE =
  BROWSER === undefined ? ' (skipped: no Chromium found; apt-get install chromium, or TELLTALE_CHROMIUM=path)' : '';

const root = fileURLToPath(new URL('../../../..', import.meta.url));
/** Pictures of the pages: what a person looks at after a run. */
export const PICTURES = join(root, 'node_modules', '.cache', 'telltale', 'pages');

export async function launch(): Promise<Browser> {
  mkdirSync(PICTURES, { recursive: true });
  // The sandbox needs rights that a build machine's root has not; the pages are our own.
  return chromium.launch({ executablePath: BROWSER!, args: ['--no-sandbox', '--disable-dev-shm-usage'] });
}

/** What a page did that it must not: messages of its console, errors, requests that leave the file. */
export interface Watched {
  readonly page: Page;
  readonly complaints: string[];
}

export async function openPage(browser: Browser, file: string, options: BrowserContextOptions = {}): Promise<Watched> {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, ...options });
  const page = await context.newPage();
  const complaints: string[] = [];
  const own = `file://${file}`;
  page.on('console', (message) => complaints.push(`${message.type()}: ${message.text()}`));
  page.on('pageerror', (error) => complaints.push(`error: ${error.message}`));
  page.on('dialog', (dialog) => {
    complaints.push(`dialog: ${dialog.message()}`);
    void dialog.dismiss();
  });
  page.on('request', (request) => {
    if (request.url().split('#')[0] !== own && !request.url().startsWith('blob:'))
      complaints.push(`request: ${request.url()}`);
  });
  await page.goto(own);
  return { page, complaints };
}

const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** Violations that axe finds, one line each. @param page any page; its policy is not asked, as the script comes from outside */
export async function axe(page: Page): Promise<string[]> {
  await page.evaluate(axeSource);
  return page.evaluate(async () => {
    const { axe: tool } = window as unknown as {
      axe: { run(): Promise<{ violations: { id: string; nodes: { html: string; failureSummary: string }[] }[] }> };
    };
    const { violations } = await tool.run();
    return violations.map(
      ({ id, nodes }) =>
        `${id} (${nodes.length}): ${nodes[0]?.html.slice(0, 160)} ${nodes[0]?.failureSummary.slice(0, 200)}`,
    );
  });
}
