import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openBook } from '../../packages/cli/src/book/open.js';
import { noServer, type Server, startServer } from '../../packages/cli/test/book/server.js';
import { bundledWriter, checkout } from './bundle.js';
import { killDrive } from './drive.js';
import { seeded } from './random.js';
import { killTrial } from './trial.js';

/** Kills in a run of all tests; the published runs have two hundred and more: node scripts/run.mjs scripts/kill/main.ts */
const KILLS = 12;

let folder = '';
let writer: [string, string];
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'telltale-kill-'));
  writer = [process.execPath, await bundledWriter(checkout(import.meta.url))];
});
afterAll(() => {
  rmSync(folder, { recursive: true, force: true });
  rmSync(writer[1], { force: true });
});

it('a killed writer loses nothing and leaves nothing half: SQLite', async () => {
  const book = join(folder, 'book.sqlite');
  const result = await killTrial({ book, kills: KILLS, random: seeded(7), writer });
  expect(result.faults).toEqual([]);
  expect(result.midWrite).toBeGreaterThan(KILLS / 2);
  expect(result.kept).toBeGreaterThanOrEqual(result.named);
});

it('sees what is lost, and what is half', async () => {
  const book = join(folder, 'tampered.sqlite');
  const own = await openBook(book, 'create');
  const { measures, ...rest } = killDrive(999_999);
  await own.add([{ ...rest, measures: measures.slice(1) }]);
  await own.close();
  const { faults } = await killTrial({ book, kills: 1, random: seeded(7), writer });
  expect(faults).toContain('kill 1: drive 999999 is half or changed');
});

const reason = noServer();
describe.skipIf(reason !== undefined)('on a server', () => {
  let server: Server;
  beforeAll(async () => {
    server = await startServer();
    server.create('killed');
  });
  afterAll(() => server?.stop());

  it('a killed writer, and a server that breaks off, lose nothing and leave nothing half: PostgreSQL', async () => {
    const book = server.url('killed');
    const result = await killTrial({
      book,
      kills: KILLS,
      random: seeded(7),
      writer,
      breakServer: () => server.breakOff(),
    });
    expect(result.faults).toEqual([]);
    expect(result.midWrite).toBeGreaterThan(KILLS / 2);
  });
});
describe.runIf(reason !== undefined)('on a server', () => {
  it.skip(`is not tested here: ${reason}`, () => undefined);
});
