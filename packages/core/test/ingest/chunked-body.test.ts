import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Play, secondThread } from '../../../../scripts/fuzz/second-thread.js';
import { type ReadingHelper, type ReadOptions, readTable } from '../../src/ingest/index.js';
import { bytes } from './read.js';

async function* cut(data: Uint8Array, size: number): AsyncGenerator<Uint8Array> {
  const buffer = new Uint8Array(size);
  for (let at = 0; at < data.length; at += size) {
    const piece = data.subarray(at, at + size);
    buffer.set(piece);
    yield buffer.subarray(0, piece.length);
  }
}

const plainRow = (i: number) => `${i},${(i % 97) / 4},${-i}`;
const table = (count: number, row = plainRow, end = '\n') =>
  `Time [s],a,b${end}${Array.from({ length: count }, (_, i) => row(i) + end).join('')}`;

/** Chunks of so many bytes, in columns that both threads write to. */
const inChunks = (data: Uint8Array, chunkBytes: number) => ({
  name: 'x',
  size: data.length,
  limits: { inPlaceBytes: 0, chunkBytes },
});

/** Numbers that look random, the same ones each time. */
function chances(seed: number): () => number {
  let state = seed;
  return () => {
    state = (Math.imul(state, 1_103_515_245) + 12_345) & 0x7fffffff;
    return state / 0x80000000;
  };
}

async function both(text: string, chunkBytes: number, play: Partial<Play> = {}, options: Partial<ReadOptions> = {}) {
  const data = bytes(text);
  const { helper, chunks } = secondThread(data, { chance: chances(chunkBytes), ...play });
  const one = await readTable(data, { name: 'x', ...options });
  const two = await readTable(cut(data, 100), { ...inChunks(data, chunkBytes), helper, ...options });
  return { one, two, chunks: chunks() };
}

describe('two threads that take turns', () => {
  it.each([20, 100, 1000, 5000])('read a plain table in chunks of %d bytes', async (chunkBytes) => {
    const { one, two, chunks } = await both(table(4000), chunkBytes);
    expect(two).toEqual(one);
    const all = Math.floor((bytes(table(4000)).length - 13) / chunkBytes);
    // Neither of them reads all.
    expect(chunks).toBeGreaterThan(0);
    expect(chunks).toBeLessThan(0.9 * all);
    if (!two.ok) throw new Error(two.fault.message);
    expect(two.table.columns[1]!.values[3999]).toBe((3999 % 97) / 4);
  });

  it('read the rest of the file only for its hash, and not where nobody wants one', async () => {
    const data = bytes(table(20_000));
    const { helper } = secondThread(data, { chance: () => 0.5 });
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
    const options = inChunks(data, 1000);
    const hashed = await readTable(cut(data, 1000), { ...options, helper });
    const ahead = { ...helper, bytes: (from: number) => cut(data.subarray(from), 777) };
    expect(await readTable(cut(data, 1000), { ...options, helper: ahead })).toEqual(hashed);
    const plain = await readTable(counted(), { ...options, helper, hasher: null });
    expect(plain).toEqual({ ...hashed, sha256: '' });
    expect(hashed).toEqual(await readTable(data, { name: 'x' }));
    expect(closed).toBe(true);
    expect(given).toBeLessThan(0.5 * data.length);
  });

  it.each([
    ['CR LF', table(2000, plainRow, '\r\n')],
    ['CR', table(2000, plainRow, '\r')],
    ['blank lines', table(2000, (i) => (i % 50 === 7 ? `\n${plainRow(i)}` : plainRow(i)))],
    ['a text in the later rows', table(2000, (i) => `${i},${i === 1700 ? 'ON' : i},2`)],
    ['a text in the first row', table(2000, (i) => `${i},${i === 0 ? 'ON' : i},2`)],
    ['texts everywhere', table(2000, (i) => `${i},${i % 3 === 0 ? 'D' : 'N'},2`)],
    ['empty cells', table(2000, (i) => `${i},${i % 7 === 0 ? '' : i},${i > 1990 ? '' : 1}`)],
    [
      'cells of many lines that look like rows',
      table(400, (i) => `${i},"${i > 150 && i < 260 ? '\n1,2,3\n4,5,6\n' : 5}",2`),
    ],
    ['a cell of many chunks', table(400, (i) => `${i},"${i === 150 ? '\n1,2,3\n4,5,6'.repeat(20) : 5}",2`)],
    ['rows that grow longer', table(2000, (i) => `${i},${'9'.repeat(1 + Math.floor(i / 200))},1`)],
    ['rows that grow shorter', table(2000, (i) => `${i},0.${'9'.repeat(14 - Math.floor(i / 200))},1`)],
    ['one long line', table(2000, (i) => (i === 900 ? `${i},${' '.repeat(6000)}1,2` : plainRow(i)))],
    ['wider rows', table(2000, (i) => (i % 300 === 299 ? `${i},1,2,3` : plainRow(i)))],
    ['short rows at the end', `${table(1500)}1500,3\n1501,4,5\n1502`],
    ['a remark at the end', `${table(1500)}# the end\n`],
    ['no line end at the end', table(2000).trimEnd()],
    ['a clock that starts again', table(2000, (i) => `${i % 1500},1,2`)],
  ])('give the same table with %s', async (_name, text) => {
    for (const chunkBytes of [30, 500, 4000, 1e6]) {
      const { one, two } = await both(text, chunkBytes);
      expect(two).toEqual(one);
    }
  });

  it('give the same table where rows come to more than there is room for', async () => {
    // The room is that for rows as long as those of the head, which is 64 KB.
    const text = table(12_000, (i) => (i < 2500 ? `${i},${'1'.repeat(14)},${'2'.repeat(14)}` : `${i},1,2`));
    for (const chunkBytes of [1000, 5000]) {
      const { one, two, chunks } = await both(text, chunkBytes);
      expect(two).toEqual(one);
      expect(chunks).toBeGreaterThan(5);
    }
  });

  it('are two again behind what only one can read', async () => {
    const text = table(4000, (i) => (i === 40 ? `${i},ON,2` : plainRow(i)));
    const { one, two, chunks } = await both(text, 200);
    expect(two).toEqual(one);
    expect(chunks).toBeGreaterThan(0.2 * (bytes(text).length / 200));
  });

  it('leave the time column as it is written', async () => {
    const { two } = await both(
      table(500, (i) => `${i + 5},1,2`),
      200,
    );
    if (!two.ok) throw new Error(two.fault.message);
    expect([two.table.time[0], two.table.time[499]]).toEqual([0, 499]);
    expect([two.table.columns[0]!.values[0], two.table.columns[0]!.values[499]]).toEqual([5, 504]);
  });

  it.each(['shorter', 'longer'])('read a file that becomes %s meanwhile up to where it ends', async (how) => {
    const text = table(600);
    const whole = bytes(text);
    const cutAt = whole.length - 3000;
    const { helper } = secondThread(whole, { chance: () => 0.5, late: true });
    for (let after = 1; after < 60; after += 3) {
      let calls = 0;
      const changing: ReadingHelper = {
        ...helper,
        scan: () => Promise.reject(new Error('no thread')),
        fill(into, from) {
          const now = ++calls > after === (how === 'shorter') ? cutAt : whole.length;
          const here = whole.subarray(0, now).subarray(from, from + into.length);
          into.set(here);
          return here.length;
        },
      };
      const size = how === 'shorter' ? whole.length : cutAt;
      const two = await readTable(cut(whole.subarray(0, size), 100), {
        ...inChunks(whole, 200),
        size,
        helper: changing,
        hasher: null,
      });
      if (!two.ok) throw new Error(two.fault.message);
      const { rows, columns } = two.table;
      expect(rows).toBeGreaterThan(100);
      // Every row that was read is one of the file, but the last, which may be cut.
      for (let i = 0; i < rows - 1; i++) expect(columns[2]!.values[i]).toBe(0 - i);
    }
  });

  it('read no row twice where the file is cut behind what they have read', async () => {
    const whole = bytes(table(600));
    const begin = bytes(table(0)).length;
    const border = begin + 200 * Math.floor((whole.length - begin) / 200);
    const { helper } = secondThread(whole, { chance: () => 0.5 });
    let now = whole.length;
    const cutting: ReadingHelper = {
      ...helper,
      fill(into, from) {
        // Asked for when the last chunk is read.
        if (from === border - 1) now = border + 1;
        return helper.fill(into.subarray(0, Math.max(0, now - from)), from);
      },
    };
    const options = { ...inChunks(whole, 200), helper: cutting, hasher: null };
    const two = await readTable(cut(whole, 100), options);
    if (!two.ok) throw new Error(two.fault.message);
    const lines = new TextDecoder().decode(whole.subarray(begin, border)).split('\n').length;
    expect([two.table.rows, two.table.problems]).toEqual([lines, []]);
  });

  it('leave out rows behind the bytes that were hashed', async () => {
    const whole = bytes(table(2000));
    const hashedTo = whole.length - 777;
    const { helper } = secondThread(whole, { chance: () => 0.5 });
    const ahead = { ...helper, bytes: (from: number) => cut(whole.subarray(from, hashedTo), 500) };
    const options = { ...inChunks(whole, 200), size: hashedTo - 100 };
    const two = await readTable(cut(whole.subarray(0, hashedTo), 100), { ...options, helper: ahead });
    expect(two).toEqual(await readTable(whole.slice(0, hashedTo), { name: 'x' }));
  });

  it('know which columns have empty cells, however chunks are refused', async () => {
    const text = table(400, (i) => `${i},${i === 20 ? '' : 3},${i % 100 === 99 ? 'ON' : 4}`);
    for (let seed = 0; seed < 300; seed++) {
      const { one, two } = await both(text, 60, { chance: chances(seed) });
      expect(two).toEqual(one);
    }
  });

  it('give the same table where columns are passed over', async () => {
    const needed = () => Uint8Array.of(1, 0, 1);
    for (const text of [
      table(1000),
      table(1000, (i) => `${i},,2`),
      table(1000, (i) => `${i},${i === 990 ? 7 : ''},`),
      // What looks like a value of the second column stands in a cell of many lines.
      table(300, (i) => (i === 150 ? `${i},,"${'\n1,2,3'.repeat(40)}"` : `${i},,5`)),
    ]) {
      for (let seed = 0; seed < 40; seed++) {
        const { one, two } = await both(text, 20 + 3 * seed, { chance: chances(seed) }, { needed });
        expect(two).toEqual(one);
      }
    }
  });

  it('may be one thread, when the other comes late', async () => {
    const { one, two } = await both(table(3000), 300, { late: true });
    expect(two).toEqual(one);
  });

  it('may be one thread from any step on, when the other dies', async () => {
    const needed = () => Uint8Array.of(1, 0, 1);
    const texts = [
      table(300, (i) => (i === 200 ? `${i},ON,2` : plainRow(i))),
      table(300, (i) => `${i},${i === 60 ? 7 : ''},${i === 90 ? '' : 5}`),
    ];
    for (let dies = 0; dies < 80; dies++) {
      for (const text of texts) {
        for (const options of [{}, { needed }]) {
          const { one, two } = await both(text, 60, { dies }, options);
          expect(two).toEqual(one);
        }
      }
    }
  });

  it('are one where the second thread cannot be had', async () => {
    const data = bytes(table(500));
    const { helper } = secondThread(data, { chance: () => 0.5 });
    const none: ReadingHelper = { ...helper, scan: () => Promise.reject(new Error('no thread')) };
    const one = await readTable(data, { name: 'x' });
    expect(await readTable(cut(data, 77), { ...inChunks(data, 100), helper: none })).toEqual(one);
  });

  it('tell how far they are', async () => {
    const data = bytes(table(60_000));
    const { helper } = secondThread(data, { chance: () => 0.5 });
    const told: number[] = [];
    const telling = { ...helper, reached: (byte: number) => void told.push(byte) };
    await readTable(cut(data, 1000), { ...inChunks(data, 500), helper: telling });
    expect(told.length).toBeGreaterThan(5);
    expect(told).toEqual([...told].sort((a, b) => a - b));
    expect(told.at(-1)).toBe(data.length);
  });

  it('tell when the file cannot be read', async () => {
    const data = bytes(table(500));
    const { helper } = secondThread(data, { chance: () => 0.5, late: true });
    const broken: ReadingHelper = {
      ...helper,
      fill: () => {
        throw new Error('EIO');
      },
    };
    await expect(readTable(cut(data, 1000), { ...inChunks(data, 100), helper: broken })).rejects.toThrow('EIO');
    // Also in the middle, and the second thread comes to its end.
    const own = secondThread(data, { chance: () => 0.5 });
    let left = 7;
    let ended = false;
    const breaking: ReadingHelper = {
      ...own.helper,
      fill: (into, from) => {
        if (left-- === 0) throw new Error('EIO');
        return own.helper.fill(into, from);
      },
      scan: (job) => own.helper.scan(job).finally(() => (ended = true)),
    };
    await expect(readTable(cut(data, 1000), { ...inChunks(data, 100), helper: breaking })).rejects.toThrow('EIO');
    await expect.poll(() => ended).toBe(true);
  });

  it('give the same table on dirty tables', async () => {
    const cell = fc.oneof(
      { weight: 20, arbitrary: fc.integer({ min: -9999, max: 9999 }).map(String) },
      { weight: 20, arbitrary: fc.double({ noNaN: true, min: -1e6, max: 1e6 }).map((x) => x.toFixed(3)) },
      { weight: 1, arbitrary: fc.constantFrom('', '"1"', ' 2 ', 'ON', '"a\nb"', '"', '1e5', '12345678901234567890') },
    );
    const rows = fc.array(fc.tuple(cell, cell), { minLength: 4, maxLength: 120 });
    const size = fc.integer({ min: 10, max: 900 });
    await fc.assert(
      fc.asyncProperty(rows, size, fc.nat(), fc.boolean(), fc.boolean(), async (list, chunkBytes, seed, late, all) => {
        const text = `Time [s],a,b\n${list.map(([a, b], i) => `${i},${a},${b}`).join('\n')}\n`;
        const needed = () => Uint8Array.of(1, 0, 1);
        const options = all ? {} : { needed };
        const { one, two } = await both(text, chunkBytes, { chance: chances(seed), late }, options);
        expect(two).toEqual(one);
      }),
      { numRuns: 300 },
    );
  });
});
