import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from '../../src/program.js';
import { axe, BROWSER, launch, NOTE, openPage, PICTURES } from './chromium.js';

const root = fileURLToPath(new URL('../../../..', import.meta.url));
const candidates = join(root, 'test-data', 'candidates');
const folder = mkdtempSync(join(tmpdir(), 'telltale-analyser-'));
const analyser = join(folder, 'telltale.html');
const MOST_BYTES = 1_500_000;

async function told(...argv: string[]): Promise<string> {
  let out = '';
  const terminal = {
    out: (text: string) => {
      out += text;
    },
    err: () => undefined,
    width: 80,
    color: false,
    live: false,
  };
  await run(argv, terminal, '0');
  return out;
}

async function assessed(page: Page, paths: readonly string[]): Promise<void> {
  await page.setInputFiles('#files', [...paths]);
  await page.click('#go');
  await page.waitForSelector('#result[data-shown], #trouble p', { timeout: 120_000 });
}

async function saved(page: Page, button: string): Promise<string> {
  const download = page.waitForEvent('download');
  await page.click(button);
  const path = join(folder, 'saved');
  await (await download).saveAs(path);
  return readFileSync(path, 'utf8');
}

beforeAll(async () => {
  mkdirSync(folder, { recursive: true });
  await told('page', analyser);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('telltale page', () => {
  it('writes one file of at most 1.5 MB that allows its own scripts and no network, the same each time', async () => {
    expect(statSync(analyser).size).toBeLessThanOrEqual(MOST_BYTES);
    const html = readFileSync(analyser, 'utf8');
    const policy = /Content-Security-Policy" content="([^"]+)"/.exec(html)![1]!;
    expect(policy).toMatch(
      /^default-src 'none'; style-src 'sha256-[^']+'; script-src 'sha256-[^']+'; worker-src blob:;/,
    );
    expect(policy).not.toMatch(/unsafe|http|\*|connect/);
    await told('page', join(folder, 'again.html'));
    expect(readFileSync(join(folder, 'again.html'), 'utf8')).toBe(html);
  });
});

describe.skipIf(BROWSER === undefined)(`the analyser in a browser${NOTE}`, () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  });
  afterAll(async () => browser?.close());

  it.each(['sound', 'honest', 'prepared'])(
    'gives the JSON of the command line for the candidate %s, byte for byte',
    async (name) => {
      const { page, complaints } = await openPage(browser, analyser, { acceptDownloads: true });
      const files = readdirSync(join(candidates, name)).map((each) => join(candidates, name, each));
      await assessed(page, files.reverse());
      expect(await page.textContent('#trouble')).toBe('');
      const json = await saved(page, '#save-json');
      const side = (kind: string): string[] => {
        const path = files.find(
          (each) => each.endsWith('.yaml') && readFileSync(each, 'utf8').includes(`telltale/${kind}@`),
        );
        return path === undefined ? [] : [`--${kind}`, path];
      };
      const cli = await told(
        'assess',
        join(candidates, name),
        ...side('vehicle'),
        ...side('map'),
        ...side('sheet'),
        '--json',
      );
      expect(json).toBe(cli);
      // The saved report is the one that the command line writes.
      const html = await saved(page, '#save-report');
      const report = join(folder, `${name}.html`);
      await told(
        'assess',
        join(candidates, name),
        ...side('vehicle'),
        ...side('map'),
        ...side('sheet'),
        '--html',
        report,
      );
      expect(html).toBe(readFileSync(report, 'utf8'));
      expect(complaints).toEqual([]);
      await page.context().close();
    },
  );

  it.each([
    ['light', { width: 1280, height: 900 }],
    ['dark', { width: 390, height: 844 }],
  ] as const)('has no violation that axe knows, before and after, in the %s theme', async (colorScheme, viewport) => {
    const { page, complaints } = await openPage(browser, analyser, { colorScheme, viewport });
    expect(await axe(page)).toEqual([]);
    await page.screenshot({ path: join(PICTURES, `analyser-${colorScheme}.png`) });
    await assessed(page, [join(root, 'test-data', 'demo.csv'), join(root, 'test-data', 'demo.vehicle.yaml')]);
    await page.waitForTimeout(1000);
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(viewport.width);
    expect(await axe(page)).toEqual([]);
    await page.screenshot({ path: join(PICTURES, `analyser-report-${colorScheme}.png`) });
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it('takes files that are dropped anywhere on the page', async () => {
    const { page, complaints } = await openPage(browser, analyser);
    const text = readFileSync(join(root, 'test-data', 'demo.codes.csv'), 'utf8');
    const transfer = await page.evaluateHandle((content) => {
      const data = new DataTransfer();
      data.items.add(new File([content], 'codes.csv', { type: 'text/csv' }));
      return data;
    }, text);
    await page.dispatchEvent('body', 'drop', { dataTransfer: transfer });
    await page.waitForSelector('#list li');
    expect(await page.textContent('#list')).toContain('codes.csv');
    await page.click('#go');
    await page.waitForSelector('#result[data-shown]', { timeout: 120_000 });
    expect(await page.textContent('#result')).toContain('P0218');
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it('can be used by keyboard alone, stops when told, and takes other files afterwards', async () => {
    const { page, complaints } = await openPage(browser, analyser);
    await page.focus('#files');
    await page.setInputFiles('#files', join(root, 'test-data', 'demo.csv'));
    await page.focus('#go');
    await page.keyboard.press('Enter');
    await page.waitForSelector('#work:not([hidden])');
    expect(await page.evaluate(() => document.activeElement?.id)).toBe('stop');
    await page.keyboard.press('Enter');
    await page.waitForSelector('#form:not([hidden])');
    expect(await page.textContent('#status')).toBe('Stopped');
    await page.click('#go');
    await page.waitForSelector('#result[data-shown]', { timeout: 120_000 });
    await page.click('#again');
    expect(await page.locator('#files').isVisible()).toBe(true);
    expect(await page.textContent('#result')).toBe('');
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it('tells what is wrong with files instead of judging them, and runs nothing of theirs', async () => {
    const { page, complaints } = await openPage(browser, analyser);
    const bad = join(folder, 'car<img src=x onerror=alert(1)>.yaml');
    writeFileSync(bad, 'schema: telltale/vehicle@1\nengine: { cylinders: many }\n');
    await assessed(page, [bad, join(root, 'test-data', 'demo.csv')]);
    expect(await page.textContent('#trouble')).toMatch(/onerror.*:2:\d+: .*cylinders/);
    await page.click('#clear');
    const empty = join(folder, 'nothing.csv');
    writeFileSync(empty, 'nothing');
    await assessed(page, [empty]);
    expect(await page.textContent('#trouble')).toContain('nothing.csv');
    await page.click('#clear');
    const hostile = bad.replace('.yaml', '.csv');
    writeFileSync(hostile, hostileLog());
    await assessed(page, [hostile]);
    expect(await page.textContent('#result')).toContain('<script>alert(3)');
    expect(await page.locator('#result img, #result script').count()).toBe(0);
    expect(complaints).toEqual([]);
    await page.context().close();
  });
});

function hostileLog(): string {
  const rows = Array.from({ length: 300 }, (_, i) => `${i / 10},${800 + (i % 90)},${(i * 3) % 30},x`);
  return `time [s],Engine speed [rpm],Vehicle speed [km/h],"<script>alert(3)</script><img src=x onerror=alert(4)>"\n${rows.join('\n')}\n`;
}
