import pg from 'pg';
import { afterAll, beforeAll, describe, it } from 'vitest';
import { openPostgresBook } from '../../src/book/postgres/open.js';
import { bookContract } from './contract.js';
import { noServer, type Server, startServer } from './server.js';

const reason = noServer();

describe.skipIf(reason !== undefined)('book on a server', () => {
  let server: Server;
  const made = new Set<string>();
  beforeAll(async () => {
    server = await startServer();
  });
  afterAll(() => server?.stop());

  bookContract('PostgreSQL book', () => ({
    open: (name, access, opening) => {
      if (!made.has(name)) server.create(name);
      made.add(name);
      return openPostgresBook({ kind: 'server', url: server.url(encodeURIComponent(name)) }, access, opening);
    },
    async hold(name) {
      const holder = new pg.Client({ connectionString: server.url(encodeURIComponent(name)) });
      await holder.connect();
      await holder.query('BEGIN; LOCK TABLE telltale.car, telltale.drive IN EXCLUSIVE MODE');
      return async () => {
        await holder.query('ROLLBACK');
        await holder.end();
      };
    },
  }));
});

describe.runIf(reason !== undefined)('book on a server', () => {
  it.skip(`is not tested here: ${reason}`, () => undefined);
});
