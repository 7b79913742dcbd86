import fc from 'fast-check';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { FastRows, rowsModule, WINDOW } from '../../src/ingest/fast-rows.js';
import { readTable } from '../../src/ingest/index.js';

afterEach(() => {
  vi.unstubAllGlobals();
  vi.resetModules();
});

/** Cells as loggers write them, and as they should not. */
const digits = (least: number, most: number) =>
  fc.array(fc.integer({ min: 0, max: 9 }), { minLength: least, maxLength: most }).map((list) => list.join(''));
const plain = fc
  .tuple(fc.constantFrom('', '-', '+'), digits(1, 17), fc.option(digits(0, 9), { nil: undefined }))
  .map(([sign, whole, fraction]) => (fraction === undefined ? sign + whole : `${sign}${whole}.${fraction}`));
const cell = fc.oneof(
  { weight: 12, arbitrary: plain },
  { weight: 2, arbitrary: fc.constantFrom('', '0', '-0', '.5', '-.25', '5.', '000012.50', '99999999', '100000000') },
  { weight: 2, arbitrary: plain.map((text) => ` ${text}\t`) },
  { weight: 2, arbitrary: plain.map((text) => `"${text}"`) },
  {
    weight: 1,
    arbitrary: fc.constantFrom(
      '-',
      '.',
      '1.2.3',
      '1e3',
      '12-3',
      'NaN',
      'on',
      '1:2',
      '/',
      '--1',
      '1 2',
      '1\r',
      '\r',
      '"1"\r',
    ),
  },
);
const tables = fc
  .record({
    rows: fc.array(fc.tuple(cell, cell, cell), { minLength: 40, maxLength: 160 }),
    end: fc.constantFrom('\n', '\r\n'),
  })
  .map(({ rows, end }) => `time,a,b,c${end}${rows.map((row, i) => `${i / 10},${row.join(',')}${end}`).join('')}`);

/** Columns as a logger writes them: each with its decimals, in quotes or not; now and then something else, or another line end. */
const styled = fc
  .record({
    seed: fc.array(fc.integer({ min: -99_999_999, max: 99_999_999 }), { minLength: 120, maxLength: 400 }),
    decimals: fc.array(fc.integer({ min: 0, max: 9 }), { minLength: 2, maxLength: 2 }),
    quoted: fc.boolean(),
    end: fc.constantFrom('\n', '\r\n'),
    odd: fc.array(fc.tuple(fc.nat(), fc.nat(2), cell), { maxLength: 6 }),
    ends: fc.array(fc.nat(), { maxLength: 4 }),
  })
  .map(({ seed, decimals, quoted, end, odd, ends }) => {
    const written = (text: string) => (quoted ? `"${text}"` : text);
    const rows = seed.map((value, i) => {
      const cells = decimals.map((places) => written((value / 10 ** places).toFixed(places)));
      return [written((i / 10).toFixed(1)), ...cells];
    });
    for (const [row, column, text] of odd) rows[row % rows.length]![column] = text;
    const changed = new Set(ends.map((row) => row % rows.length));
    const other = end === '\n' ? '\r\n' : '\n';
    return `time,a,b${end}${rows.map((cells, i) => cells.join(',') + (changed.has(i) ? other : end)).join('')}`;
  });

const bytesOf = (text: string) => new TextEncoder().encode(text);

async function valuesOf(read: typeof readTable, text: string, tolerant = false, inPlaceBytes = 4e6) {
  const result = await read(bytesOf(text), { name: 'x', tolerant, limits: { inPlaceBytes } });
  if (!result.ok) return result.fault;
  return result.table.columns.map(({ values, filled, rejected }) => ({ values: [...values], filled, rejected }));
}

describe('rows by compiled code', () => {
  it('give what the tolerant path gives, for any cells', async () => {
    await fc.assert(
      fc.asyncProperty(tables, async (text) => {
        const tolerant = await valuesOf(readTable, text, true);
        expect(await valuesOf(readTable, text)).toEqual(tolerant);
        expect(await valuesOf(readTable, text, false, 0)).toEqual(tolerant);
      }),
      { numRuns: 150 },
    );
  });

  it('give what the tolerant path gives, for columns of settled decimals', async () => {
    await fc.assert(
      fc.asyncProperty(styled, async (text) => {
        const tolerant = await valuesOf(readTable, text, true);
        expect(await valuesOf(readTable, text)).toEqual(tolerant);
        expect(await valuesOf(readTable, text, false, 0)).toEqual(tolerant);
      }),
      { numRuns: 200 },
    );
  });

  it('give what the scanner gives where no compiled code is to be had', async () => {
    const texts = fc.sample(tables, 60);
    const fast = [];
    for (const text of texts) fast.push(await valuesOf(readTable, text));
    vi.stubGlobal('WebAssembly', undefined);
    vi.resetModules();
    const without = await import('../../src/ingest/index.js');
    const rows = await import('../../src/ingest/fast-rows.js');
    const form = { width: 2, delimiter: 44, decimal: 46, blank: 9, timeColumn: 0 };
    expect(rows.FastRows.open(form)).toBeUndefined();
    for (const [k, text] of texts.entries()) expect(await valuesOf(without.readTable, text)).toEqual(fast[k]);
  });

  it('can be had with memory of its own and with memory that threads share', () => {
    for (const shared of [false, true]) {
      const memory = new WebAssembly.Memory({ initial: 1, maximum: 1, shared });
      expect(() => new WebAssembly.Instance(rowsModule(shared)!, { env: { memory } })).not.toThrow();
    }
  });

  it('keep what they noted where they are given up', async () => {
    const rows = Array.from({ length: 400 }, (_, i) => (i % 2 === 0 ? `${i},on,${i}` : `${i},1,${i < 128 ? '' : i}`));
    const text = `time,a,b\n${rows.join('\n')}\n`;
    const tolerant = await valuesOf(readTable, text, true);
    expect(tolerant).toMatchObject([{ filled: 400 }, { filled: 400 }, { filled: 336 }]);
    for (const inPlaceBytes of [0, 4e6]) expect(await valuesOf(readTable, text, false, inPlaceBytes)).toEqual(tolerant);
  });

  it('take a minus alone for no number, also in a column that nobody needs', async () => {
    const text = `time,a,b\n${Array.from({ length: 300 }, (_, i) => `${i / 10},${i},${i % 2 === 0 ? '-' : '--'}\n`).join('')}`;
    for (const tolerant of [false, true]) {
      const needed = () => Uint8Array.of(1, 1, 0);
      const result = await readTable(bytesOf(text), { name: 'x', tolerant, needed });
      expect(result.ok && result.table.columns.map(({ filled }) => filled)).toEqual([300, 300, 0]);
    }
  });

  it('round as Number does, and take rows one block after the other', () => {
    const form = { width: 2, delimiter: 44, decimal: 46, blank: 9, timeColumn: 0 };
    const rows = FastRows.open(form)!;
    const cells = ['0.1', '0.3', '-2.675', '123456.78', '99999999', '0.0000001', '4.35', '-0', '1.005', '8.41'];
    const text = cells.map((written, i) => `${i},${written}\n`).join('');
    const bytes = bytesOf(text);
    const first = rows.read(bytes, 0, bytes.length - 1, 0, 8);
    expect(rows.taken).toBe(8);
    const { stride } = rows;
    const seen = [...rows.block.slice(stride, stride + 8)];
    rows.read(bytes, first, bytes.length - 1, 0, 8);
    expect(rows.taken).toBe(2);
    seen.push(...rows.block.slice(stride, stride + 2));
    for (const [i, written] of cells.entries()) expect(Object.is(seen[i], Number(written)), written).toBe(true);
  });

  it('leave a row with another width, a word, or no time where it begins', () => {
    const form = { width: 2, delimiter: 44, decimal: 46, blank: 9, timeColumn: 0 };
    for (const odd of ['2,1,3', '2', '2,on', ',5', '2,1e3', '']) {
      const rows = FastRows.open(form)!;
      const bytes = bytesOf(`0,1\n1,2\n${odd}\n3,4\n`);
      const next = rows.read(bytes, 0, bytes.length - 1, 0, 8);
      expect([rows.taken, next], odd).toEqual([2, 8]);
    }
  });

  it('notes empty cells, and needs a line end within its window', () => {
    const form = { width: 3, delimiter: 59, decimal: 44, blank: 9, timeColumn: 0 };
    const rows = FastRows.open(form)!;
    const bytes = bytesOf('0;;1,5\n1;;2,5\n');
    rows.read(bytes, 0, bytes.length - 1, 0, 8);
    expect([rows.taken, ...rows.gaps]).toEqual([2, 0, 1, 0]);
    expect([...rows.block.slice(2 * rows.stride, 2 * rows.stride + 2)]).toEqual([1.5, 2.5]);
    rows.reset();
    const long = bytesOf(`0;${' '.repeat(WINDOW)}1;2\n`);
    expect(rows.read(long, 0, long.length - 1, 0, 8)).toBe(0);
  });
});
