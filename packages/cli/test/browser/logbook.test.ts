// The monthly page of the logbook in a browser: readable by everybody, in both themes, wide, narrow and on paper.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { carCourses, carPage, carReport, dueFor, fleetLine, fleetPage, fleetReport, RULES } from '@telltale/core';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { drive } from '../book/drives.js';
import { axe, BROWSER, launch, NOTE, openPage, PICTURES } from './chromium.js';

/** Two years of monthly drives whose idle trim climbs. */
const entries = Array.from({ length: 26 }, (_, n) =>
  drive(n, 'saloon', {
    measures: [
      { id: 'engine.idle.swing', value: 4 + ((n * 5) % 7) / 10, standardError: null, samples: null, unit: 'rpm' },
      {
        id: 'fuel.trim.idle.bank1',
        value: n / 4 + ((n * 7) % 5) / 20,
        standardError: 0.2,
        samples: 30,
        unit: '%',
      },
    ],
  }),
);
const notes = [{ car: 'saloon', date: '2021-01-20', distance: null, kind: 'oil' as const, text: '5W-40' }];
const due = dueFor({ car: 'saloon', entries, notes, asOf: '2022-06-01' });
const report = carReport('saloon', entries, notes, carCourses(entries, notes, RULES), due);

describe.skipIf(BROWSER === undefined)(`page of the logbook${NOTE}`, () => {
  let browser: Browser;
  let folder = '';
  beforeAll(async () => {
    browser = await launch();
    folder = mkdtempSync(join(tmpdir(), 'telltale-logbook-page-'));
    writeFileSync(join(folder, 'car.html'), carPage(report));
    writeFileSync(
      join(folder, 'fleet.html'),
      fleetPage(fleetReport([fleetLine(report), fleetLine({ ...report, car: 'b' })])),
    );
  });
  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true, force: true });
  });

  it.each([
    ['car', 'light', 1280],
    ['car', 'dark', 1280],
    ['car', 'light', 360],
    ['fleet', 'light', 1280],
    ['fleet', 'dark', 360],
  ] as const)(
    '%s, %s, %i wide: no violation that axe knows, nothing cut, nothing asked of a network',
    async (name, colorScheme, width) => {
      const { page, complaints } = await openPage(browser, join(folder, `${name}.html`), {
        colorScheme,
        viewport: { width, height: 900 },
      });
      try {
        expect(complaints).toEqual([]);
        expect(await axe(page)).toEqual([]);
        expect(await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth)).toBeLessThanOrEqual(
          0,
        );
        await page.screenshot({ path: join(PICTURES, `logbook-${name}-${colorScheme}-${width}.png`), fullPage: true });
      } finally {
        await page.context().close();
      }
    },
  );

  it('draws each course with its points inside the drawing', async () => {
    const { page } = await openPage(browser, join(folder, 'car.html'));
    try {
      const shown = await page.evaluate(() =>
        [...document.querySelectorAll('svg.still')].map((svg) => {
          const frame = svg.getBoundingClientRect();
          const points = [...svg.querySelectorAll('circle.point')].map((each) => each.getBoundingClientRect());
          return {
            points: points.length,
            inside: points.every(
              (p) => p.left >= frame.left && p.right <= frame.right && p.top >= frame.top && p.bottom <= frame.bottom,
            ),
          };
        }),
      );
      expect(shown).toEqual([
        { points: 26, inside: true },
        { points: 26, inside: true },
      ]);
    } finally {
      await page.context().close();
    }
  });
});
