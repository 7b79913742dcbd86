// The statements of docs/logbook.md, run on a real server: a place adds and shows, and can change or remove nothing.
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Access, Book } from '../../src/book/book.js';
import { openPostgresBook } from '../../src/book/postgres/open.js';
import { drive } from './drives.js';
import { noServer, type Server, startServer } from './server.js';

const reason = noServer();
const statements = /```sql\n(CREATE ROLE[\s\S]*?)```/
  .exec(readFileSync(fileURLToPath(new URL('../../../../docs/logbook.md', import.meta.url)), 'utf8'))![1]!
  .split('\n')
  .filter((line) => !line.startsWith('--') && line.trim() !== '');

describe.skipIf(reason !== undefined)('roles of a workshop', () => {
  let server: Server;
  const as = async <T>(role: string, access: Access, act: (book: Book) => Promise<T>): Promise<T> => {
    const book = await openPostgresBook({ kind: 'server', url: server.url('workshop', role) }, access);
    try {
      return await act(book);
    } finally {
      await book.close();
    }
  };
  beforeAll(async () => {
    server = await startServer();
    for (const line of statements.slice(0, 2)) server.sql('postgres', line);
    await as('telltale_owner', 'create', (book) => book.add([drive(1)]));
    for (const line of statements.slice(2)) server.sql('workshop', line);
  });
  afterAll(() => server?.stop());

  it('a place adds, notes, keeps reports and backs up', () =>
    as('telltale_place', 'create', async (book) => {
      expect(await book.add([drive(1), drive(2), drive(1, 'new car')])).toHaveLength(2);
      expect(await book.note({ car: 'saloon', date: '2026-01-01', distance: null, kind: 'oil', text: '' })).toBe(true);
      await book.setProfile('saloon', '{}');
      for (const json of ['1', '2']) await book.keepReport('saloon', await book.revision('saloon'), 'p', json);
      expect(await book.report('saloon', 'p')).toBe('2');
      expect(await book.drives('saloon')).toHaveLength(2);
    }));

  it('a place cannot remove or change a drive', async () => {
    const denied = { code: 'book-read-only' };
    await as('telltale_place', 'write', async (book) => {
      await expect(book.forget({ car: 'saloon' })).rejects.toMatchObject(denied);
      await expect(book.forget({ car: 'saloon', hash: drive(1).hash })).rejects.toMatchObject(denied);
      await expect(
        book.removeNote({ car: 'saloon', date: '2026-01-01', distance: null, kind: 'oil', text: '' }),
      ).rejects.toMatchObject(denied);
    });
    expect(() => server.sql('workshop', 'SET ROLE telltale_place; UPDATE telltale.drive SET distance = 0')).toThrow(
      /denied/,
    );
    expect(() => server.sql('workshop', 'SET ROLE telltale_place; DROP TABLE telltale.value')).toThrow(/owner/);
    expect(await as('telltale_place', 'read', (book) => book.drives('saloon'))).toContainEqual(drive(1));
  });

  it('a reader shows and writes nothing', () =>
    as('telltale_reader', 'read', async (book) => {
      expect((await book.cars()).length).toBeGreaterThan(0);
      await expect(book.add([drive(9)])).rejects.toMatchObject({ code: 'book-read-only' });
    }));

  it('says what is wrong with an address, without its password', async () => {
    const tried = (url: string) => openPostgresBook({ kind: 'server', url }, 'read');
    await expect(tried(server.url('nowhere'))).rejects.toMatchObject({ code: 'no-book' });
    const secret = server
      .url('workshop')
      .replace('owner@', 'owner:geheim@')
      .replace(/:\d+\//, ':1/');
    const error = await tried(secret).then(
      () => undefined,
      (found: { code: string; message: string }) => found,
    );
    expect(error).toMatchObject({ code: 'book-unreachable' });
    expect(error!.message).not.toContain('geheim');
    server.sql('workshop', "UPDATE telltale.book SET value = '99' WHERE key = 'version'");
    await expect(tried(server.url('workshop'))).rejects.toMatchObject({ code: 'book-newer' });
  });
});

describe.runIf(reason !== undefined)('roles of a workshop', () => {
  it.skip(`are not tested here: ${reason}`, () => undefined);
});
