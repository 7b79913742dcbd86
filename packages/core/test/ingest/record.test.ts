import { readdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import fc from 'fast-check';
import Papa from 'papaparse';
import { describe, expect, it } from 'vitest';
import { guessEncoding, textDecoder, utf16AsUtf8 } from '../../src/ingest/encoding.js';
import { afterRecord, recordEnd, splitCells } from '../../src/ingest/record.js';
import { shared, sharedText } from './shared.js';

/** Records and cells of a whole text, as the reader cuts them. */
async function cells(bytes: Uint8Array, delimiter = ','): Promise<string[][]> {
  const guess = guessEncoding(bytes, false);
  let body = bytes.subarray(guess.mark);
  let decode = textDecoder(guess.encoding);
  if (guess.encoding === 'utf-16le' || guess.encoding === 'utf-16be') {
    async function* one() {
      yield body;
    }
    const parts: number[] = [];
    for await (const part of utf16AsUtf8(one(), guess.encoding)) parts.push(...part);
    body = Uint8Array.from(parts);
    decode = textDecoder('utf-8');
  }
  const out: string[][] = [];
  for (let at = 0; at < body.length; ) {
    const end = recordEnd(body, at, body.length, delimiter.charCodeAt(0), true);
    out.push(splitCells(decode(body.subarray(at, end)), delimiter));
    at = afterRecord(body, end, body.length);
  }
  return out;
}

const fromHex = (hex: string) => Uint8Array.from(hex.match(/../g) ?? [], (pair) => Number.parseInt(pair, 16));

interface EdgeCases {
  own: {
    name: string;
    bytes_hex: string;
    expected_records?: string[][];
    expected_records_delimiter_semicolon?: string[][];
  }[];
}

describe('the public CSV cases', () => {
  // Source: npm csv-spectrum 2.0.0. One case has a defect upstream: its CSV holds 2095257564 where its JSON says 1234567890.
  const folder = dirname(createRequire(import.meta.url).resolve('csv-spectrum'));
  const names = readdirSync(join(folder, 'csvs')).map((file) => file.replace(/\.csv$/, ''));
  it.each(names.filter((name) => name !== 'location_coordinates'))('csv-spectrum %s', async (name) => {
    const [header, ...rows] = await cells(readFileSync(join(folder, 'csvs', `${name}.csv`)));
    const expected = JSON.parse(readFileSync(join(folder, 'json', `${name}.json`), 'utf8'));
    expect(rows.map((row) => Object.fromEntries(header!.map((label, i) => [label, row[i]])))).toEqual(expected);
  });
});

describe.skipIf(!shared.present)(`published CSV edge cases ${shared.present ? '' : shared.why}`, () => {
  const cases: EdgeCases = shared.present ? JSON.parse(sharedText('validation/csv-edge-cases.json')) : { own: [] };

  // Source: RFC 4180 section 2 and the Unicode Standard. Blanks around cells are taken off, as numbers need it.
  it.each(cases.own)('constructed $name', async (c) => {
    const semicolon = c.expected_records_delimiter_semicolon;
    const expected = (semicolon ?? c.expected_records)!.map((record) => record.map((cell) => cell.trim()));
    expect(await cells(fromHex(c.bytes_hex), semicolon === undefined ? ',' : ';')).toEqual(expected);
  });
});

describe('records', () => {
  const text = fc.string({
    unit: fc.constantFrom('a', '1', '.', ' ', '"', ',', ';', '\n', '\r\n', 'é', '°'),
    maxLength: 12,
  });

  it('reads what papaparse reads, when the text is well formed', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.array(text, { minLength: 2, maxLength: 5 }), { minLength: 1, maxLength: 6 }),
        async (rows) => {
          const csv = rows.map((r) => r.map((c) => `"${c.replaceAll('"', '""')}"`).join(',')).join('\n');
          const expected = Papa.parse<string[]>(csv, { delimiter: ',', newline: '\n' }).data.map((r) =>
            r.map((c) => c.trim()),
          );
          expect(await cells(new TextEncoder().encode(csv))).toEqual(expected);
        },
      ),
      { numRuns: 500 },
    );
  });

  it('lets no stray quote swallow the file', async () => {
    const csv = `a,b\n1,"2\n${'3,4\n'.repeat(500)}`;
    expect(await cells(new TextEncoder().encode(csv))).toHaveLength(502);
  });

  it('takes time in proportion to the text, also for stray quotes everywhere', () => {
    const time = (n: number) => {
      const bytes = new TextEncoder().encode('"a,'.repeat(n));
      const start = performance.now();
      for (
        let at = 0;
        at < bytes.length;
        at = afterRecord(bytes, recordEnd(bytes, at, bytes.length, 44, true), bytes.length)
      );
      return performance.now() - start;
    };
    time(20_000);
    expect(time(200_000)).toBeLessThan(Math.max(20 * time(20_000), 400));
  });
});
