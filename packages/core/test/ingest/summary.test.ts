import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { readTable, summariseTable } from '../../src/ingest/index.js';
import { dirtyTable } from './dirty-table.js';
import { bytes, tableOf } from './read.js';

async function summaryOf(source: Parameters<typeof summariseTable>[0]) {
  const summary = await summariseTable(source, { name: 'test' });
  if (!summary.ok) throw new Error(summary.fault.message);
  return summary;
}

describe('a summary', () => {
  it('holds what the whole table holds, over more rows than are held at a time', async () => {
    const rows = 20_000;
    const cell = (i: number) => (i % 7 === 0 ? '' : `${(i * 7919) % 10_007}`);
    const text = `time [s],a,b [rpm]\n${Array.from({ length: rows }, (_, i) => `${i / 50},${cell(i)},${i === 9000 ? 'off' : -i / 8}\n`).join('')}`;
    const summary = await summaryOf(bytes(text));
    const table = await tableOf(text);
    expect(summary.rows).toBe(rows);
    table.columns.forEach(({ values, label, filled, textCodes }, i) => {
      const numbers = [...values].filter((x) => !Number.isNaN(x));
      const column = summary.columns[i]!;
      expect(column.label).toBe(label);
      expect(column.numbers).toBe(numbers.length);
      expect(column.numbers + (textCodes === undefined ? 0 : 1)).toBe(filled);
      expect(column.min).toBe(Math.min(...numbers));
      expect(column.max).toBe(Math.max(...numbers));
      expect(column.mean).toBeCloseTo(numbers.reduce((a, b) => a + b, 0) / numbers.length, 6);
    });
  });

  it('is the same for rows of all kinds, and refuses what the table refuses', async () => {
    await fc.assert(
      fc.asyncProperty(dirtyTable, async (text) => {
        const whole = await readTable(bytes(text), { name: 'test' });
        const summary = await summariseTable(bytes(text), { name: 'test' });
        expect(summary.sha256).toBe(whole.sha256);
        if (!summary.ok) {
          expect(whole.ok).toBe(false);
          return;
        }
        // Rows without a usable time count here, and are left out there.
        if (whole.ok) expect(summary.rows).toBeGreaterThanOrEqual(whole.table.rows);
        const slow = await summariseTable(bytes(text), { name: 'test', tolerant: true });
        expect(slow).toEqual(summary);
      }),
      { numRuns: 60 },
    );
  });
});

describe('a blob', () => {
  const text = `time [s],a\n${Array.from({ length: 9000 }, (_, i) => `${i / 10},${i}\n`).join('')}`;

  it('is read like its bytes', async () => {
    const blob = new Blob([text]);
    expect(await readTable(blob, { name: 'test' })).toEqual(await readTable(bytes(text), { name: 'test' }));
    expect((await summaryOf(blob)).rows).toBe(9000);
  });

  it('is read through the reader of its stream alone, as some browsers have nothing else', async () => {
    const reader = new Blob([text]).stream().getReader();
    const bare = {
      size: text.length,
      stream: () => ({ getReader: () => ({ read: () => reader.read(), cancel: () => reader.cancel() }) }),
    };
    expect((await summaryOf(bare)).rows).toBe(9000);
  });
});
