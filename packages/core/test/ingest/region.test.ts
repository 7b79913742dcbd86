import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type RegionFile,
  type RegionHelper,
  type RegionResult,
  readTable,
  scanRegion,
} from '../../src/ingest/index.js';
import { bytes } from './read.js';

async function* cut(data: Uint8Array, size: number): AsyncGenerator<Uint8Array> {
  const buffer = new Uint8Array(size);
  for (let at = 0; at < data.length; at += size) {
    const piece = data.subarray(at, at + size);
    buffer.set(piece);
    yield buffer.subarray(0, piece.length);
  }
}

/** Bytes in memory as a second thread reads them. */
const fileOf = (data: Uint8Array, size: number): RegionFile => ({
  pieces: (from) => cut(data.subarray(from), size),
  fill(into, from) {
    const bytes = data.subarray(from, from + into.length);
    into.set(bytes);
    return bytes.length;
  },
});

/** What a second thread does, in this one. */
function helperOf(data: Uint8Array, size: number): { helper: RegionHelper; results: RegionResult[] } {
  const results: RegionResult[] = [];
  const helper: RegionHelper = {
    minimum: 0,
    warm: () => undefined,
    close: () => undefined,
    async scan(job) {
      const result = await scanRegion(job, fileOf(data, size));
      results.push(result);
      return result;
    },
  };
  return { helper, results };
}

const plainRow = (i: number) => `${i},${(i % 97) / 4},${-i}`;
const table = (count: number, row = plainRow, end = '\n') =>
  `Time [s],a,b${end}${Array.from({ length: count }, (_, i) => row(i) + end).join('')}`;

async function both(text: string, size = 100) {
  const data = bytes(text);
  const { helper, results } = helperOf(data, size);
  const one = await readTable(data, { name: 'x' });
  const two = await readTable(cut(data, size), { name: 'x', helper, size: data.length });
  // Rows that are written in place, by both threads, and by one.
  const placed = { name: 'x', size: data.length, limits: { inPlaceBytes: 0 } };
  expect(await readTable(cut(data, size), placed)).toEqual(one);
  expect(await readTable(cut(data, size), { ...placed, helper })).toEqual(one);
  return { one, two, results: results.slice(0, 1) };
}

describe('a second thread', () => {
  it('leaves bytes unread that only a hash would need, where nobody wants one', async () => {
    const data = bytes(table(20_000));
    const { helper } = helperOf(data, 1000);
    let given = 0;
    let closed = false;
    async function* counted(): AsyncGenerator<Uint8Array> {
      try {
        for await (const piece of cut(data, 1000)) {
          given += piece.length;
          yield piece;
        }
      } finally {
        closed = true;
      }
    }
    const hashed = await readTable(cut(data, 1000), { name: 'x', helper, size: data.length });
    const plain = await readTable(counted(), { name: 'x', helper, size: data.length, hasher: null });
    expect(plain).toEqual({ ...hashed, sha256: '' });
    expect(hashed.sha256).toMatch(/^[0-9a-f]{64}$/);
    expect(closed).toBe(true);
    expect(given).toBeLessThan(0.7 * data.length);
  });

  it('reads the later rows of a plain table', async () => {
    const { one, two, results } = await both(table(2000));
    expect(two).toEqual(one);
    expect(results).toHaveLength(1);
    expect(results[0]!.rows).toBeGreaterThan(800);
    if (!two.ok) throw new Error(two.fault.message);
    expect(two.table.columns[1]!.values[1999]).toBe((1999 % 97) / 4);
  });

  it.each([
    ['CR LF', table(2000, plainRow, '\r\n')],
    ['CR', table(2000, plainRow, '\r')],
    ['blank lines', table(2000, (i) => (i % 50 === 7 ? `\n${plainRow(i)}` : plainRow(i)))],
    ['a text in the later rows', table(2000, (i) => `${i},${i === 1700 ? 'ON' : i},2`)],
    ['texts everywhere', table(2000, (i) => `${i},${i % 3 === 0 ? 'D' : 'N'},2`)],
    [
      'a cell of many lines across the place of the split',
      table(400, (i) => `${i},"${i > 150 && i < 260 ? '\n1,2,3\n4,5,6\n' : 5}",2`),
    ],
    ['rows that grow longer', table(2000, (i) => `${i},${'9'.repeat(1 + Math.floor(i / 200))},1`)],
    ['rows that grow shorter', table(2000, (i) => `${i},0.${'9'.repeat(14 - Math.floor(i / 200))},1`)],
    ['short rows at the end', `${table(1500)}1500,3\n1501,4,5\n1502`],
    ['no line end at the end', table(2000).trimEnd()],
  ])('gives the same table with %s', async (_name, text) => {
    for (const size of [64, 1000, 100_000]) {
      const { one, two } = await both(text, size);
      expect(two).toEqual(one);
    }
  });

  it('begins where the rows of the first end, so that nothing has to be moved', async () => {
    const data = bytes(table(20_000));
    for (const inPlaceBytes of [0, 1e9]) {
      const { helper, results } = helperOf(data, 1000);
      await readTable(cut(data, 1000), { name: 'x', helper, size: data.length, limits: { inPlaceBytes } });
      expect(results[0]!.firstRow + results[0]!.rows).toBe(20_000);
    }
  });

  it('may be late: then its rows are moved to those of the first', async () => {
    const data = bytes(table(20_000));
    const one = await readTable(data, { name: 'x' });
    for (const inPlaceBytes of [0, 1e9]) {
      const { helper, results } = helperOf(data, 1000);
      const late: RegionHelper = {
        ...helper,
        scan: (job) => new Promise((resolve) => setTimeout(() => resolve(helper.scan(job)), 20)),
      };
      const options = { name: 'x', helper: late, size: data.length, limits: { inPlaceBytes } };
      expect(await readTable(cut(data, 1000), options)).toEqual(one);
      expect(results[0]!.firstRow + results[0]!.rows).toBeGreaterThan(20_000);
    }
  });

  it('is not needed: when it fails, the first thread reads everything', async () => {
    const data = bytes(table(500));
    const helper: RegionHelper = {
      minimum: 0,
      warm: () => undefined,
      close: () => undefined,
      scan: () => Promise.reject(new Error('no thread')),
    };
    const one = await readTable(data, { name: 'x' });
    expect(await readTable(cut(data, 77), { name: 'x', helper, size: data.length })).toEqual(one);
  });

  it('gives the same table on dirty tables', async () => {
    const cell = fc.oneof(
      { weight: 20, arbitrary: fc.integer({ min: -9999, max: 9999 }).map(String) },
      { weight: 20, arbitrary: fc.double({ noNaN: true, min: -1e6, max: 1e6 }).map((x) => x.toFixed(3)) },
      { weight: 1, arbitrary: fc.constantFrom('', '"1"', ' 2 ', 'ON', '"a\nb"', '"', '1e5', '12345678901234567890') },
    );
    const rows = fc.array(fc.tuple(cell, cell), { minLength: 4, maxLength: 120 });
    await fc.assert(
      fc.asyncProperty(rows, fc.integer({ min: 20, max: 900 }), async (list, size) => {
        const { one, two } = await both(
          `Time [s],a,b\n${list.map(([a, b], i) => `${i},${a},${b}`).join('\n')}\n`,
          size,
        );
        expect(two).toEqual(one);
      }),
      { numRuns: 300 },
    );
  });
});
