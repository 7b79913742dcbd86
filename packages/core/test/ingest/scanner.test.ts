import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { readTable } from '../../src/ingest/index.js';
import { dirtyTable, numberText } from './dirty-table.js';
import { bytes, tableOf } from './read.js';

describe('scanner', () => {
  it('gives the same table as the tolerant path on dirty tables, cut anywhere', async () => {
    await fc.assert(
      fc.asyncProperty(dirtyTable, fc.integer({ min: 1, max: 400 }), fc.boolean(), async (text, size, rate) => {
        const data = bytes(text);
        async function* pieces() {
          for (let at = 0; at < data.length; at += size) yield data.slice(at, at + size);
        }
        const options = rate ? { name: 'x', rate: 20 } : { name: 'x' };
        // The head is settled from the first bytes alike; a small bound makes the body begin within them.
        const slow = await readTable(data, { ...options, tolerant: true });
        expect(await readTable(data, options)).toEqual(slow);
        expect(await readTable(pieces(), options)).toEqual(slow);
      }),
      { numRuns: 700 },
    );
  });

  it('reads every accepted number as Number does', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(numberText, { minLength: 2, maxLength: 60 }), async (cells) => {
        const expected = cells.map((cell) => (Number.isFinite(Number(cell)) ? Number(cell) : Number.NaN));
        if (expected.every(Number.isNaN)) return;
        const table = await tableOf(`Time [s],Value\n${cells.map((cell, i) => `${i},${cell}`).join('\n')}\n`);
        expect([...table.columns[1]!.values].map((v) => (Object.is(v, -0) ? '-0' : String(v)))).toEqual(
          expected.map((v) => (Object.is(v, -0) ? '-0' : String(v))),
        );
      }),
      { numRuns: 500 },
    );
  });

  it('reads doubles of all sizes bit for bit', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.double({ noNaN: true, noDefaultInfinity: true }), { minLength: 2, maxLength: 50 }),
        async (numbers) => {
          const table = await tableOf(`Time [s],Value\n${numbers.map((n, i) => `${i},${n}`).join('\n')}\n`);
          numbers.forEach((n, i) => {
            expect(table.columns[1]!.values[i] === n).toBe(true);
          });
        },
      ),
    );
  });

  it('reads the middle and the end of a long stream like its beginning', async () => {
    const line = (i: number) =>
      `${(i / 100).toFixed(2)};${(i % 997) / 4};"${i % 13}";${i % 5 === 0 ? '' : (i % 101) - 50};${'PRND'[(i >> 8) % 4]}\r\n`.replaceAll(
        '.',
        ',',
      );
    const text = `Time [s];A;B;C;Gear\r\n${Array.from({ length: 60_000 }, (_, i) => line(i)).join('')}`;
    const data = bytes(text);
    async function* pieces() {
      for (let at = 0; at < data.length; at += 65_521) yield data.slice(at, at + 65_521);
    }
    const result = await readTable(pieces(), { name: 'long' });
    if (!result.ok) throw new Error(result.fault.message);
    const { table } = result;
    expect([table.rows, table.problems]).toEqual([60_000, []]);
    for (const i of [0, 12_345, 59_999]) {
      expect(table.time[i]).toBe(i / 100);
      expect(table.columns.slice(1, 3).map((c) => c.values[i])).toEqual([(i % 997) / 4, i % 13]);
      expect(table.columns[3]!.values[i]).toBe(i % 5 === 0 ? Number.NaN : (i % 101) - 50);
      expect(table.columns[4]!.texts[table.columns[4]!.textCodes![i]! - 1]).toBe('PRND'[(i >> 8) % 4]);
    }
  });
});
