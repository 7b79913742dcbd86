import { randomBytes } from 'node:crypto';
import type { Pool, PoolClient } from 'pg';
import { UserError } from '../../exit-code.js';
import type { Access, Book } from '../book.js';
import { type Opening, Patience } from '../patience.js';
import { type Place, shownPlace } from '../place.js';
import { asUserError } from './errors.js';
import { MIGRATIONS } from './migrations.js';
import { PostgresBook } from './postgres-book.js';

/** Key of the lock under which the tables are made (any number that nothing else in the database uses). */
const LOCK = 0x746c6c62;
/** Milliseconds to wait for the server. */
const CONNECTS = 10_000;

export async function openPostgresBook(
  place: Place & { kind: 'server' },
  access: Access,
  opening: Opening = {},
): Promise<Book> {
  const patience = new Patience(opening);
  const { Pool } = await library();
  const shown = shownPlace(place);
  const pool = new Pool({
    connectionString: place.url,
    max: 2,
    connectionTimeoutMillis: CONNECTS,
    application_name: 'telltale',
    // No waiting without end; 0 would be that.
    options: `-c lock_timeout=${Math.max(1, patience.limit)} -c client_min_messages=warning`,
  });
  // A connection that breaks between two queries is met by the next one.
  pool.on('error', () => undefined);
  pool.on('connect', (client) => client.on('error', () => undefined));
  try {
    const version = await patience.during(versionOf(pool));
    if (version > MIGRATIONS.length)
      throw new UserError(
        'book-newer',
        `${shown}: found a book of version ${version}, expected at most ${MIGRATIONS.length}: it was written by a newer telltale; update telltale. Nothing was changed`,
      );
    if (version < MIGRATIONS.length) {
      if (version === 0 && access !== 'create')
        throw new UserError('no-book', `${shown}: there is no logbook yet; telltale track add FILE... begins one`);
      await patience.during(migrate(pool));
    }
    return new PostgresBook(shown, pool, patience);
  } catch (error) {
    await pool.end().catch(() => undefined);
    throw asUserError(error, shown);
  }
}

/** 0 = no book. */
async function versionOf(client: Pool | PoolClient): Promise<number> {
  const { rows } = await client.query("SELECT to_regclass('telltale.book') IS NOT NULL AS there");
  if (rows[0]?.there !== true) return 0;
  const found = await client.query("SELECT value FROM telltale.book WHERE key = 'version'");
  return Number(found.rows[0]?.value ?? 0);
}

/** All missing steps in one transaction; of several processes that start at once one does it, the others wait. */
async function migrate(pool: Pool): Promise<void> {
  const client = await pool.connect();
  try {
    // Before the transaction, whose beginning shows what was made while this process waited.
    await client.query('SELECT pg_advisory_lock($1)', [LOCK]);
    await client.query('BEGIN');
    const from = await versionOf(client);
    if (from < MIGRATIONS.length) {
      await client.query('CREATE SCHEMA IF NOT EXISTS telltale');
      await client.query('CREATE TABLE IF NOT EXISTS telltale.book (key text PRIMARY KEY, value text NOT NULL)');
      for (const step of MIGRATIONS.slice(from)) await client.query(step);
      const set = 'INSERT INTO telltale.book (key, value) VALUES ($1, $2) ON CONFLICT (key) DO';
      await client.query(`${set} UPDATE SET value = excluded.value`, ['version', String(MIGRATIONS.length)]);
      await client.query(`${set} NOTHING`, ['secret', randomBytes(32).toString('hex')]);
    }
    await client.query('COMMIT');
  } catch (error) {
    await client.query('ROLLBACK').catch(() => undefined);
    throw error;
  } finally {
    // The lock goes with the connection.
    client.release(true);
  }
}

async function library(): Promise<typeof import('pg')> {
  try {
    return (await import('pg')).default as unknown as typeof import('pg');
  } catch (error) {
    throw new UserError(
      'no-store',
      `a book on a server needs the package pg, which could not be loaded (${error instanceof Error ? error.message.split('\n')[0] : String(error)}); install it with: npm install pg`,
    );
  }
}
