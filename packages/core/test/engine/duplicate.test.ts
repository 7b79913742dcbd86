import { gzipSync } from 'node:zlib';
import { expect, test } from 'vitest';
import { assess } from '../../src/engine/assess.js';

const text = (delimiter: string, rows: number): string =>
  `time [s],Engine speed [rpm],Vehicle speed [km/h]\n${Array.from({ length: rows }, (_, i) => `${i},${800 + (i % 9)},${i % 70}`).join('\n')}\n`.replaceAll(
    ',',
    delimiter,
  );
const bytes = (content: string): Uint8Array => new TextEncoder().encode(content);

test('the same recording is counted once, also compressed or in another dialect', async () => {
  const { inputs } = await assess([
    { name: 'a.csv', source: bytes(text(',', 100)) },
    { name: 'a copy.csv', source: bytes(text(',', 100)) },
    { name: 'a.csv.gz', source: new Uint8Array(gzipSync(text(';', 100))) },
    { name: 'b.csv', source: bytes(text(',', 101)) },
  ]);
  const marked = inputs.map(({ problems }) => problems.some(({ code }) => code === 'duplicate-input'));
  expect(marked).toEqual([false, true, true, false]);
});
