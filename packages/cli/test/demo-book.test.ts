// The owner's demo: months whose wear is known, as a book that is in version control.
import { copyFileSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { CarReport } from '@telltale/core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { run } from '../src/program.js';

const at = (name: string) => fileURLToPath(new URL(`../../../test-data/${name}`, import.meta.url));
const truth = JSON.parse(readFileSync(at('demo.book.json'), 'utf8')) as {
  months: number;
  drifts: Record<string, { direction: string; from: string }>;
};

let folder = '';
let report: CarReport;
let text = '';
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-demo-book-'));
  const book = join(folder, 'book.sqlite');
  copyFileSync(at('demo.book.sqlite'), book);
  const said = async (...argv: string[]): Promise<string> => {
    let out = '';
    const terminal = {
      out: (part: string) => (out += part),
      err: () => undefined,
      width: 80,
      color: false,
      live: false,
    };
    expect(await run(['track', ...argv, '--book', book, '--date', '2025-05-01'], terminal as never, '0.0.0')).toBe(0);
    return out;
  };
  report = JSON.parse(await said('report', '--json')) as CarReport;
  text = await said('report');
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

it('finds the wear that there is, its direction and its beginning, and no other', () => {
  const drifting = report.measures.filter(({ state }) => state === 'drifting');
  expect(drifting.map(({ id }) => id).sort()).toEqual(Object.keys(truth.drifts).sort());
  for (const { id, says } of drifting) {
    const { direction, from } = truth.drifts[id]!;
    expect(says, id).toContain(direction === 'higher' ? 'It rises' : 'It falls');
    const [, earliest, latest] = /\((\d{4}-\d{2}) to (\d{4}-\d{2})\)/.exec(says)!;
    expect(earliest! <= from.slice(0, 7) && from.slice(0, 7) <= latest!, `${id}: ${says}`).toBe(true);
  }
});

it('tells where limits are met by date and distance, what was done, and what is due', () => {
  expect(report.drives).toBe(truth.months);
  const crank = report.measures.find(({ id }) => id === 'electrical.charging.crank')!;
  expect(crank.forecast?.date?.low).toMatch(/^2025-/);
  expect(crank.forecast?.distance?.low).toBeGreaterThan(report.distance!.last);
  expect(report.notes.map(({ kind }) => kind)).toEqual(expect.arrayContaining(['oil', 'fluid', 'tyres']));
  expect(report.due?.fluid?.since).toBe('2023-09-02');
  expect(text).toContain('Meets the limit');
  expect(text).not.toMatch(/undefined|NaN|null/);
  expect(Math.max(...text.split('\n').map((line) => line.length))).toBeLessThanOrEqual(80);
});
