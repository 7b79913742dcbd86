// Adds drives to a book without end, and names each on standard output once the book has said that it is kept. To be killed.
// Usage: node scripts/run.mjs scripts/kill/writer.ts BOOK FIRST
import { writeSync } from 'node:fs';
import { openBook } from '../../packages/cli/src/book/open.js';
import { killDrive } from './drive.js';

const [place, first] = process.argv.slice(2);
if (place === undefined || first === undefined) throw new Error('expected BOOK FIRST');
const book = await openBook(place, 'create');
for (let n = Number(first); ; ) {
  const batch = Array.from({ length: 1 + (n % 9) }, (_, i) => killDrive(n + i));
  n += batch.length;
  await book.add(batch);
  writeSync(1, `${batch.map(({ hash }) => hash).join(' ')}\n`);
}
