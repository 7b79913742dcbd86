import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from '../../src/program.js';
import { axe, BROWSER, launch, NOTE, openPage, PICTURES } from './chromium.js';

const root = fileURLToPath(new URL('../../../..', import.meta.url));
const demo = (name: string): string => join(root, 'test-data', name);
const folder = mkdtempSync(join(tmpdir(), 'telltale-page-'));
const report = join(folder, 'report.html');
const silent = { out: () => undefined, err: () => undefined, width: 80, color: false, live: false };

let browser: Browser;

describe.skipIf(BROWSER === undefined)(`the report in a browser${NOTE}`, () => {
  beforeAll(async () => {
    const files = ['demo.csv', 'demo.stored.csv', 'demo.codes.csv'].map(demo);
    await run(['assess', ...files, '--vehicle', demo('demo.vehicle.yaml'), '--html', report], silent, '0');
    browser = await launch();
  });
  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true, force: true });
  });

  it('says verdict, three reasons and what to do before anything is scrolled', async () => {
    const { page, complaints } = await openPage(browser, report);
    const seen = await page.evaluate(() =>
      [...document.querySelectorAll('h1, .verdict .badge, .reasons li, [aria-labelledby=next] li')].flatMap((each) =>
        each.getBoundingClientRect().bottom <= innerHeight ? [each.textContent] : [],
      ),
    );
    expect(seen[0]).toMatch(/^Buyer: negotiate/);
    expect(seen[1]).toBe('repair');
    expect(seen).toHaveLength(8);
    expect(seen[2]).toMatch(/131\.2 °C at 12:08/);
    await page.waitForTimeout(1500);
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it('leads from the drive to the evidence, zooms, and reads a value that stands in the log', async () => {
    const { page, complaints } = await openPage(browser, report, { reducedMotion: 'reduce' });
    await page.click('#drives a[data-from^="680"]');
    const plot = page.locator('#transmission-over-temperature-1');
    const live = plot.locator('.live');
    await live.waitFor();
    expect(await page.evaluate(() => document.activeElement?.className)).toBe('live');
    const top = await plot.evaluate((each) => each.getBoundingClientRect().top);
    expect(top).toBeGreaterThanOrEqual(0);
    expect(top).toBeLessThan(200);
    const range = async () => [
      Number(await live.getAttribute('data-from')),
      Number(await live.getAttribute('data-to')),
    ];
    const [from, to] = (await range()) as [number, number];
    expect(from).toBeGreaterThan(640);
    expect(from).toBeLessThan(680.8);
    expect(to).toBeGreaterThan(763.8);
    expect(to).toBeLessThan(805);

    await live.getByRole('button', { name: /^Zoom in/ }).click();
    const closer = (await range()) as [number, number];
    expect(closer[1] - closer[0]).toBeCloseTo((to - from) / 2, 1);
    await page.keyboard.press('Tab');
    await live.focus();
    await page.keyboard.press('0');
    const all = (await range()) as [number, number];
    expect(all[0]).toBeLessThan(from);

    // Drag over a third of the plot.
    const over = plot.locator('.u-over').first();
    const box = (await over.boundingBox())!;
    await page.mouse.move(box.x + box.width / 3, box.y + 60);
    await page.mouse.down();
    await page.mouse.move(box.x + (2 * box.width) / 3, box.y + 70, { steps: 5 });
    await page.mouse.up();
    const dragged = (await range()) as [number, number];
    expect(dragged[1] - dragged[0]).toBeCloseTo((all[1] - all[0]) / 3, 0);

    await page.mouse.move(box.x + box.width / 2, box.y + 60);
    const read = await live.locator('.read').textContent();
    const [, clock, shown] = /^(\d+:\d\d\.\d).*?transmission oil temperature ([\d.]+) °C/.exec(read!)!;
    const [minutes, seconds] = clock!.split(':').map(Number) as [number, number];
    expect(near(minutes * 60 + seconds, 0.6)).toContain(Number(shown));

    // The keyboard reads too, and says what it reads.
    await live.focus();
    await page.keyboard.press('ArrowRight');
    expect(await live.locator('.read').getAttribute('aria-live')).toBe('polite');
    expect(await live.locator('.read').textContent()).not.toBe(read);
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it.each(['light', 'dark'] as const)(
    'has no violation that axe knows, and no text that is cut, in the %s theme',
    async (colorScheme) => {
      for (const [name, viewport] of [
        ['desktop', { width: 1280, height: 900 }],
        ['phone', { width: 390, height: 844 }],
      ] as const) {
        const { page, complaints } = await openPage(browser, report, { colorScheme, viewport });
        await page.waitForTimeout(1500);
        await page.screenshot({ path: join(PICTURES, `report-${name}-${colorScheme}.png`) });
        await page.screenshot({ path: join(PICTURES, `report-${name}-${colorScheme}-whole.png`), fullPage: true });
        expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(viewport.width);
        expect(await axe(page)).toEqual([]);
        expect(complaints).toEqual([]);
        await page.context().close();
      }
    },
  );

  it.each(['A4', 'Letter'] as const)(
    'prints to %s on two to six pages, in light ink from a dark screen, with nothing cut',
    async (format) => {
      const { page, complaints } = await openPage(browser, report, { colorScheme: 'dark' });
      await page.waitForTimeout(1500);
      const path = join(PICTURES, `report-${format}.pdf`);
      const pdf = await page.pdf({ path, format, printBackground: true });
      const pages = pdf.toString('latin1').match(/\/Type\s*\/Page\b(?!s)/g)!.length;
      expect(pages).toBeGreaterThanOrEqual(2);
      expect(pages).toBeLessThanOrEqual(6);
      await page.emulateMedia({ media: 'print' });
      const width = format === 'A4' ? 710 : 732; // 210 and 216 mm less two margins of 11 mm, at 96 dpi
      await page.setViewportSize({ width, height: 1000 });
      const { wide, ground, plots } = await page.evaluate(() => ({
        wide: [...document.querySelectorAll('body *')]
          .filter(
            (each) =>
              each.getBoundingClientRect().right > innerWidth + 1 && getComputedStyle(each).position !== 'absolute',
          )
          .map((each) => `${each.tagName} ${each.className} ${each.textContent?.slice(0, 40)}`),
        ground: getComputedStyle(document.body).backgroundColor,
        plots: [...document.querySelectorAll('.plot > svg')].every((each) => each.getBoundingClientRect().height > 40),
      }));
      expect(wide).toEqual([]);
      expect(ground).toBe('rgb(255, 255, 255)');
      expect(plots).toBe(true);
      expect(complaints).toEqual([]);
      await page.context().close();
    },
  );

  it('runs nothing that stands in a heading or a cell, and asks for nothing', async () => {
    const hostile = `<img src=http://127.0.0.1:9/x onerror=alert(1)></script><script>alert(2)</script>`;
    const rows = Array.from({ length: 300 }, (_, i) => `${i / 10},${800 + (i % 90)},${(i * 3) % 30},"${hostile}"`);
    const log = join(folder, 'hostile & <b>.csv');
    writeFileSync(log, `time [s],Engine speed [rpm],Vehicle speed [km/h],"${hostile}"\n${rows.join('\n')}\n`);
    const spoilt = join(folder, 'hostile.html');
    await run(['assess', log, '--html', spoilt], silent, '0');
    const { page, complaints } = await openPage(browser, spoilt);
    await page.waitForTimeout(800);
    expect(await page.textContent('main')).toContain('onerror=alert(1)');
    expect(await page.evaluate(() => document.querySelectorAll('img, script:not([type])').length)).toBe(1);
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it('reads a value where a finger taps, and zooms by its buttons', async () => {
    const { page, complaints } = await openPage(browser, report, {
      viewport: { width: 390, height: 844 },
      hasTouch: true,
      isMobile: true,
      reducedMotion: 'reduce',
    });
    const live = page.locator('#transmission-over-temperature-1 .live');
    await live.waitFor();
    const over = live.locator('.u-over').first();
    await over.scrollIntoViewIfNeeded();
    await over.tap({ position: { x: 120, y: 50 } });
    expect(await live.locator('.read').textContent()).toMatch(/^\d+:\d\d\.\d.*transmission oil temperature [\d.]+ °C/);
    await live.getByRole('button', { name: /^Zoom in/ }).tap();
    expect(Number(await live.getAttribute('data-to')) - Number(await live.getAttribute('data-from'))).toBeLessThan(90);
    expect(complaints).toEqual([]);
    await page.context().close();
  });

  it('shows a shortlist, and a plan, that anybody can use', async () => {
    const shortlist = join(folder, 'shortlist.html');
    const plan = join(folder, 'plan.html');
    const cars = ['sound', 'honest'].map((name) => demo(join('candidates', name)));
    await run(['shortlist', ...cars, '--prices', demo('candidates/prices.yaml'), '--html', shortlist], silent, '0');
    await run(['plan', '--vehicle', demo('demo.vehicle.yaml'), '--html', plan], silent, '0');
    for (const [name, file] of [
      ['shortlist', shortlist],
      ['plan', plan],
    ] as const)
      for (const [colorScheme, viewport] of [
        ['light', { width: 1280, height: 900 }],
        ['dark', { width: 390, height: 844 }],
      ] as const) {
        const { page, complaints } = await openPage(browser, file, { colorScheme, viewport });
        await page.screenshot({ path: join(PICTURES, `${name}-${colorScheme}.png`) });
        expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(viewport.width);
        expect(await axe(page)).toEqual([]);
        expect(complaints).toEqual([]);
        await page.context().close();
      }
  });

  it('is readable where no script runs', async () => {
    const { page } = await openPage(browser, report, { javaScriptEnabled: false });
    expect(await page.locator('#transmission-over-temperature-1 > svg.still').isVisible()).toBe(true);
    await page.context().close();
  });
});

/** Values of the transmission fluid in the log within so many seconds, as a report writes them. */
function near(t: number, seconds: number): number[] {
  const [head = '', ...rows] = readFileSync(demo('demo.csv'), 'utf8')
    .trim()
    .split(/\r?\n/)
    .filter((line) => !line.startsWith('#'));
  const names = head.split(',');
  const column = names.findIndex((name) => /transmission.*(temp|fluid)|TFT/i.test(name));
  return rows.flatMap((row) => {
    const cells = row.split(',');
    return Math.abs(Number(cells[0]) - t) <= seconds ? [Number(cells[column])] : [];
  });
}
