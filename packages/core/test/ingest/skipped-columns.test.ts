import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { load } from '../../src/engine/load.js';
import { readTable } from '../../src/ingest/index.js';
import { neededColumns } from '../../src/recording/needed-columns.js';

const bytesOf = (text: string) => new TextEncoder().encode(text);
const cell = fc.oneof(
  { weight: 8, arbitrary: fc.double({ min: -1e6, max: 1e6, noNaN: true }).map((x) => x.toFixed(2)) },
  {
    weight: 1,
    arbitrary: fc.constantFrom(
      '',
      ' ',
      'on',
      'NA',
      '-',
      '12 kPa',
      '"3.5"',
      '"a,b"',
      '1.2.3',
      '"x\ny"',
      '1\r2',
      '7\r',
      '12345678901234567890\r1',
    ),
  },
);
const tables = fc
  .array(fc.tuple(cell, cell, cell), { minLength: 20, maxLength: 80 })
  .map((rows) => `time,a,b,c\n${rows.map((row, i) => `${i / 10},${row.join(',')}\n`).join('')}`);

describe('columns that nobody needs', () => {
  it('are passed over, and the others stay what they are, on both paths', async () => {
    const needed = () => Uint8Array.of(0, 0, 1, 0);
    await fc.assert(
      fc.asyncProperty(tables, async (text) => {
        const all = await readTable(bytesOf(text), { name: 'x' });
        const some = await readTable(bytesOf(text), { name: 'x', needed });
        const tolerant = await readTable(bytesOf(text), { name: 'x', needed, tolerant: true });
        expect(some).toEqual(tolerant);
        expect(some.ok).toBe(all.ok);
        if (!some.ok || !all.ok) return;
        expect(some.table.time).toEqual(all.table.time);
        expect(some.table.columns.map(({ values }) => values.length)).toEqual(
          all.table.columns.map(({ values, index }) => (index === 0 || index === 2 ? values.length : 0)),
        );
        expect(some.table.columns[2]).toEqual(all.table.columns[2]);
      }),
      { numRuns: 150 },
    );
  });

  it('are those that cannot become a channel, unless a map file says what they are', () => {
    const labels = ['Time [s]', 'Engine speed [rpm]', 'Adaptation word 3', 'GPS latitude', 'Coolant temperature'];
    const heads = labels.map((label, index) => ({ index, label, unitCell: '', sourceCell: '' }));
    expect([...neededColumns(heads, undefined)]).toEqual([0, 1, 0, 0, 1]);
    const columns = { 'Adaptation word 3': { channel: 'knockRetard' }, '#5': { channel: null } };
    expect([...neededColumns(heads, { columns })]).toEqual([0, 1, 1, 0, 0]);
  });

  const shared = fileURLToPath(new URL('../../../../../shared/data', import.meta.url));
  const real = existsSync(shared)
    ? readdirSync(shared, { recursive: true, encoding: 'utf8' }).filter((name) => name.endsWith('.csv'))
    : [];
  if (real.length === 0) console.warn(`skipped: no recordings at ${shared}`);
  it.skipIf(real.length === 0)('leave the report of real recordings as it is', async () => {
    for (const name of real) {
      const source = new Uint8Array(readFileSync(join(shared, name)));
      const all = await load({ name: 'x.csv', source }, {}, true);
      const some = await load({ name: 'x.csv', source }, {}, false);
      const { problems: ofAll, ...reportOfAll } = all.report;
      const { problems: ofSome, ...reportOfSome } = some.report;
      expect(reportOfSome, name).toEqual(reportOfAll);
      // What was found in columns that are not used is not told.
      for (const problem of ofSome) expect(ofAll, name).toContainEqual(problem);
      expect([...(some.recording?.channels ?? [])], name).toEqual([...(all.recording?.channels ?? [])]);
    }
  });
});
