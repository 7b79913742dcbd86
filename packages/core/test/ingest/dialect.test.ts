import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { readTable } from '../../src/ingest/index.js';
import { encode, type Row, type Spec, STEP, tableText } from './table-text.js';

const spec: fc.Arbitrary<Spec> = fc
  .record({
    delimiter: fc.constantFrom<Spec['delimiter'][]>(',', ';', '\t', '|'),
    decimal: fc.constantFrom<Spec['decimal'][]>('.', ','),
    encoding: fc.constantFrom<Spec['encoding'][]>(
      'utf-8',
      'utf-8-bom',
      'utf-16le',
      'utf-16be',
      'utf-16le-bom',
      'utf-16be-bom',
      'windows-1252',
    ),
    lineEnd: fc.constantFrom<Spec['lineEnd'][]>('\n', '\r\n', '\r', 'mixed'),
    preamble: fc.constantFrom<Spec['preamble'][]>('none', 'remarks', 'comments', 'pairs', 'long', 'blank-lines'),
    units: fc.constantFrom<Spec['units'][]>('header', 'row', 'row-after-source', 'row-before-source', 'row-above'),
    time: fc.constantFrom<Spec['time'][]>(
      'seconds',
      'milliseconds',
      'microseconds',
      'minutes',
      'clock',
      'iso',
      'date-time',
      'dotted',
      'date-and-time',
      'epoch-ms',
    ),
    quotes: fc.constantFrom<Spec['quotes'][]>('needed', 'all'),
    trailing: fc.boolean(),
    padded: fc.boolean(),
  })
  // A lone-CR file in which a comment holds another delimiter is fine; a semicolon file cannot have ';' comments.
  .filter((s) => !(s.delimiter === '\t' && s.padded));

const cell = fc.oneof(
  { weight: 4, arbitrary: fc.integer({ min: -4000, max: 4000 }).map((n) => n / 8) },
  { weight: 1, arbitrary: fc.constant(Number.NaN) },
);
const row: fc.Arbitrary<Row> = fc.record({
  temperature: cell,
  pressure: fc.integer({ min: 0, max: 30000 }).map((n) => n / 64),
  gear: fc.constantFrom('N', 'D', '1', '2', ''),
});

describe('dialects', () => {
  it('gives back every value of a table written in any combination of dialects', async () => {
    await fc.assert(
      fc.asyncProperty(
        spec,
        fc.array(row, { minLength: 12, maxLength: 40 }),
        fc.integer({ min: 1, max: 99 }),
        async (s, rows, cut) => {
          const { text, headerLine } = tableText(s, rows);
          const bytes = encode(text, s.encoding);
          async function* pieces() {
            for (let at = 0; at < bytes.length; at += 7 * cut) yield bytes.slice(at, at + 7 * cut);
          }
          for (const source of [bytes, pieces()]) {
            const result = await readTable(source, { name: 'generated' });
            if (!result.ok) throw new Error(`${result.fault.code}: ${result.fault.message}`);
            const { table } = result;
            expect(table.dialect.delimiter).toBe(s.delimiter);
            if (rows.some((r) => !Number.isInteger(r.pressure))) expect(table.dialect.decimal).toBe(s.decimal);
            expect(table.dialect.encoding).toBe(s.encoding.replace('-bom', ''));
            expect(table.dialect.headerLine).toBe(headerLine);
            expect(table.rows).toBe(rows.length);
            for (let i = 0; i < rows.length; i++) {
              if (s.time === 'minutes') expect(table.time[i]).toBeCloseTo(i * STEP, 9);
              else expect(table.time[i]).toBe(i * STEP);
            }
            const [temperature, pressure, gear] = table.columns.slice(-3);
            expect([...temperature!.values]).toEqual(rows.map((r) => r.temperature));
            expect([...pressure!.values]).toEqual(rows.map((r) => r.pressure));
            expect(pressure!.label.startsWith('Pressure, intake')).toBe(true);
            if (s.units === 'header') expect(temperature!.label).toBe('Coolant temperature [°C]');
            else expect([temperature!.unitCell, pressure!.unitCell]).toEqual(['[°C]', '[kPa]']);
            if (s.units.includes('source')) expect(pressure!.sourceCell).toBe('engine');
            rows.forEach((r, i) => {
              const text = gear!.textCodes?.[i] ?? 0;
              const read =
                text > 0 ? gear!.texts[text - 1] : Number.isNaN(gear!.values[i]) ? '' : String(gear!.values[i]);
              expect(read).toBe(r.gear);
            });
          }
        },
      ),
      { numRuns: 200 },
    );
  });
});
