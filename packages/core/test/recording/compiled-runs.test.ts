import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { ColumnMemory } from '../../src/ingest/column-memory.js';
import { readTable } from '../../src/ingest/index.js';
import { buildRecording } from '../../src/recording/build.js';
import { runScannerOf } from '../../src/recording/compiled-runs.js';
import { scanRuns } from '../../src/recording/run.js';

/** Columns as they occur: levels that are held, slopes, empty cells, steps that are rounding only, and the odd extreme. */
const level = fc.oneof(
  { weight: 6, arbitrary: fc.integer({ min: -3, max: 3 }) },
  { weight: 4, arbitrary: fc.double({ noNaN: true, min: -1e4, max: 1e4 }) },
  { weight: 2, arbitrary: fc.constant(Number.NaN) },
  { weight: 1, arbitrary: fc.constantFrom(0, -0, 1e300, -1e300, 5e-324, Number.POSITIVE_INFINITY) },
);
const stretch = fc.tuple(level, fc.integer({ min: 1, max: 9 }), fc.constantFrom(0, 1e-10, 3e-10, 2e-9, 0.5));
const column = fc
  .array(stretch, { maxLength: 80 })
  .map((list) => list.flatMap(([x, length, step]) => Array.from({ length }, (_, k) => x * (1 + k * step))));

const memory = ColumnMemory.open(3, 1000, false, 0)!;

describe('runs found by compiled code', () => {
  it('are those that are found without it, in its memory and elsewhere', () => {
    const scanner = runScannerOf(new Float64Array(memory.memory.buffer, 0, 1))!;
    expect(scanner).toBeDefined();
    fc.assert(
      fc.property(column, fc.nat(2), (list, place) => {
        const own = Float64Array.from(list);
        const there = new Float64Array(memory.memory.buffer, memory.at + 8 * memory.stride * place, list.length);
        there.set(own);
        const plain = scanRuns(own, new Int32Array(list.length));
        const expected = { ...plain, starts: [...plain.starts.subarray(0, plain.count)] };
        for (const values of [own, there]) {
          const found = scanRuns(values, scanner.starts);
          expect({ ...found, starts: [...found.starts.subarray(0, found.count)] }).toEqual(expected);
        }
      }),
      { numRuns: 2000 },
    );
  });

  it('come with the longest step of what rises, which is 0 where it does not', () => {
    const scanner = runScannerOf(new Float64Array(memory.memory.buffer, 0, 1))!;
    const steps = fc.array(
      fc.oneof(
        { weight: 30, arbitrary: fc.double({ min: 0.001, max: 9, noNaN: true }) },
        fc.constantFrom(0, -1, Number.NaN),
      ),
      { minLength: 1, maxLength: 700 },
    );
    fc.assert(
      fc.property(steps, fc.nat(2), (list, place) => {
        const there = new Float64Array(memory.memory.buffer, memory.at + 8 * memory.stride * place, list.length);
        let at = 7;
        list.forEach((step, i) => {
          there[i] = at;
          at += step;
        });
        let longest = 0;
        let rises = true;
        for (let i = 1; i < there.length; i++) {
          const step = there[i]! - there[i - 1]!;
          rises &&= step > 0;
          longest = Math.max(longest, step);
        }
        expect(scanner.rise(there)).toBe(rises ? longest : 0);
        expect(scanner.rise(there.slice())).toBeUndefined();
      }),
      { numRuns: 1000 },
    );
  });

  it('are left to the other code where there are more values than room', () => {
    const scanner = runScannerOf(new Float64Array(memory.memory.buffer, 0, 1))!;
    expect(scanner.scan(new Float64Array(memory.stride + 1))).toBeUndefined();
    expect(runScannerOf(new Float64Array(4))).toBeUndefined();
  });

  it('give the same recording', async () => {
    const noise = (i: number) => (i * 7919) % 97;
    const rows = Array.from({ length: 3000 }, (_, i) =>
      [
        i / 20,
        800 + 40 * noise(i >> 2),
        i % 5 === 0 ? 70 + (i >> 8) : '',
        noise(i) === 3 ? 255 : 30 + (noise(i) >> 5),
        0,
      ].join(','),
    );
    const text = new TextEncoder().encode(
      `Time [s],Engine speed [rpm],Coolant temperature [degC],Vehicle speed [km/h],Knock retard cylinder 1 [deg]\n${rows.join('\n')}\n`,
    );
    const built = async (inPlaceBytes: number) => {
      const read = await readTable(text, { name: 'x', size: text.length, limits: { inPlaceBytes } });
      if (!read.ok) throw new Error(read.fault.message);
      expect(runScannerOf(read.table.columns[1]!.values) !== undefined).toBe(inPlaceBytes === 0);
      return buildRecording(read.table, {});
    };
    const placed = await built(0);
    expect(placed.ok).toBe(true);
    expect(placed).toEqual(await built(1e9));
  });
});
