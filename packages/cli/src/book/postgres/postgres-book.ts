import type { LogbookNote, MeasureValue } from '@telltale/core';
import type { Pool, PoolClient } from 'pg';
import type { Book, CarLine, StoredDrive } from '../book.js';
import { copyBook } from '../copy.js';
import { Patience } from '../patience.js';
import { type DriveRow, driveOf, type NoteRow, noteOf, rowOf } from '../rows.js';
import { asUserError } from './errors.js';

/** Times that a transaction is tried that collided with another one (40001, 40P01 of Appendix A of the manual). */
const TRIES = 5;

const COLUMNS = [
  'recorded_at',
  'distance',
  'engine_hours',
  'ambient_temperature',
  'load',
  'altitude',
  'fuel',
  'level',
  'coverage',
  'index_low',
  'index_high',
  'findings',
  'unproven',
  'file',
  'version',
  'added_at',
];

/** The book on a PostgreSQL server, in the schema `telltale`. */
export class PostgresBook implements Book {
  constructor(
    readonly place: string,
    /** A single client where all has to be read as of one moment. */
    private readonly pool: Pool | PoolClient,
    private readonly patience = new Patience(),
  ) {}

  async known(hashes: readonly string[]): Promise<ReadonlyMap<string, string>> {
    const rows = await this.rows<{ hash: string; label: string }>(
      'SELECT hash, label FROM telltale.drive JOIN telltale.car ON car.id = drive.car WHERE hash = ANY ($1)',
      [hashes],
    );
    return new Map(rows.map(({ hash, label }) => [hash, label]));
  }

  async add(drives: readonly StoredDrive[]): Promise<readonly string[]> {
    // In one order for all writers, so that two with the same drives wait for each other and do not lock each other out.
    const sorted = [...drives].sort((a, b) => (a.hash < b.hash ? -1 : 1));
    const measures = new Map(sorted.flatMap((drive) => drive.measures.map(({ id, unit }) => [id, unit])));
    const names = [...measures.keys()].sort();
    return this.written(async (client) => {
      const cars = await this.ids(client, 'car', 'label', [...new Set(sorted.map(({ car }) => car))].sort());
      const measureIds = await this.ids(
        client,
        'measure',
        'name',
        names,
        names.map((name) => measures.get(name)!),
      );
      const added: string[] = [];
      const changed = new Set<string>();
      for (const drive of sorted) {
        const places = COLUMNS.map((_, i) => `$${i + 3}`).join(', ');
        const { rows } = await client.query(
          `INSERT INTO telltale.drive (hash, car, ${COLUMNS.join(', ')}) VALUES ($1, $2, ${places})
           ON CONFLICT (hash) DO NOTHING RETURNING id`,
          [drive.hash, cars.get(drive.car), ...rowOf(drive)],
        );
        const id = rows[0]?.id as string | undefined;
        if (id === undefined) continue;
        await client.query(
          `INSERT INTO telltale.value (drive, measure, value, standard_error, samples)
           SELECT $1, * FROM unnest($2::integer[], $3::double precision[], $4::double precision[], $5::double precision[])`,
          [
            id,
            drive.measures.map((each) => measureIds.get(each.id)),
            drive.measures.map(({ value }) => value),
            drive.measures.map(({ standardError }) => standardError),
            drive.measures.map(({ samples }) => samples),
          ],
        );
        added.push(drive.hash);
        changed.add(drive.car);
      }
      await revise(client, [...changed]);
      return added;
    });
  }

  async cars(): Promise<readonly CarLine[]> {
    return this.rows<CarLine & object>(
      `SELECT label AS car, coalesce(d.n, 0)::integer AS drives, coalesce(n.n, 0)::integer AS notes, d.first, d.last
       FROM telltale.car
       LEFT JOIN (SELECT car, count(*) AS n, min(recorded_at) AS first, max(recorded_at) AS last
                  FROM telltale.drive GROUP BY car) d ON d.car = car.id
       LEFT JOIN (SELECT car, count(*) AS n FROM telltale.note GROUP BY car) n ON n.car = car.id
       ORDER BY label COLLATE "C"`,
      [],
    );
  }

  async drives(car: string): Promise<readonly StoredDrive[]> {
    const rows = await this.rows<DriveRow & { id: string }>(
      `SELECT drive.*, label FROM telltale.drive JOIN telltale.car ON car.id = drive.car WHERE label = $1
       ORDER BY recorded_at, hash COLLATE "C"`,
      [car],
    );
    const values = await this.rows<MeasureValue & { drive: string }>(
      `SELECT value.drive, name AS id, value.value, standard_error AS "standardError", samples, unit
       FROM telltale.value JOIN telltale.measure ON measure.id = value.measure
       WHERE drive = ANY ($1::bigint[]) ORDER BY drive, name COLLATE "C"`,
      [rows.map(({ id }) => id)],
    );
    const byDrive = new Map<string, MeasureValue[]>();
    for (const { drive, ...measure } of values) {
      const list = byDrive.get(drive);
      if (list === undefined) byDrive.set(drive, [measure]);
      else list.push(measure);
    }
    return rows.map((row) => driveOf(row, byDrive.get(row.id) ?? []));
  }

  async notes(car: string): Promise<readonly LogbookNote[]> {
    const rows = await this.rows<NoteRow & object>(
      `SELECT label, date, distance, kind, text FROM telltale.note JOIN telltale.car ON car.id = note.car
       WHERE label = $1 ORDER BY date, kind COLLATE "C", text COLLATE "C"`,
      [car],
    );
    return rows.map(noteOf);
  }

  async note(note: LogbookNote): Promise<boolean> {
    return this.written(async (client) => {
      const cars = await this.ids(client, 'car', 'label', [note.car]);
      const { rowCount } = await client.query(
        `INSERT INTO telltale.note (car, date, distance, kind, text) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING`,
        [cars.get(note.car), note.date, note.distance, note.kind, note.text],
      );
      if ((rowCount ?? 0) > 0) await revise(client, [note.car]);
      return (rowCount ?? 0) > 0;
    });
  }

  async removeNote(note: LogbookNote): Promise<boolean> {
    return this.written(async (client) => {
      const { rowCount } = await client.query(
        `DELETE FROM telltale.note WHERE car = (SELECT id FROM telltale.car WHERE label = $1)
           AND date = $2 AND kind = $3 AND text = $4`,
        [note.car, note.date, note.kind, note.text],
      );
      if ((rowCount ?? 0) > 0) await revise(client, [note.car]);
      return (rowCount ?? 0) > 0;
    });
  }

  async profile(car: string): Promise<string | undefined> {
    const rows = await this.rows<{ profile: string | null }>('SELECT profile FROM telltale.car WHERE label = $1', [
      car,
    ]);
    return rows[0]?.profile ?? undefined;
  }

  async setProfile(car: string, json: string): Promise<void> {
    await this.written(async (client) => {
      const cars = await this.ids(client, 'car', 'label', [car]);
      await client.query('UPDATE telltale.car SET profile = $1 WHERE id = $2', [json, cars.get(car)]);
      await revise(client, [car]);
    });
  }

  async forget({
    car,
    hash,
  }: {
    readonly car: string;
    readonly hash?: string;
  }): Promise<{ drives: number; notes: number }> {
    return this.written(async (client) => {
      const mine = 'car = (SELECT id FROM telltale.car WHERE label = $1)';
      if (hash !== undefined) {
        const { rowCount } = await client.query(`DELETE FROM telltale.drive WHERE ${mine} AND hash = $2`, [car, hash]);
        if ((rowCount ?? 0) > 0) await revise(client, [car]);
        return { drives: rowCount ?? 0, notes: 0 };
      }
      // A drive that another process adds meanwhile waits here and is then refused by its car: half of a car is never left.
      await client.query('SELECT id FROM telltale.car WHERE label = $1 FOR UPDATE', [car]);
      const drives = await client.query(`DELETE FROM telltale.drive WHERE ${mine}`, [car]);
      const notes = await client.query(`DELETE FROM telltale.note WHERE ${mine}`, [car]);
      await client.query('DELETE FROM telltale.car WHERE label = $1', [car]);
      return { drives: drives.rowCount ?? 0, notes: notes.rowCount ?? 0 };
    });
  }

  async revision(car: string): Promise<number> {
    const rows = await this.rows<{ revision: string }>('SELECT revision FROM telltale.car WHERE label = $1', [car]);
    return Number(rows[0]?.revision ?? 0);
  }

  async report(car: string, print: string): Promise<string | undefined> {
    const rows = await this.rows<{ json: string }>(
      `SELECT json FROM telltale.report JOIN telltale.car ON car.id = report.car
       WHERE label = $1 AND print = revision || ' ' || $2`,
      [car, print],
    );
    return rows[0]?.json;
  }

  async keepReport(car: string, revision: number, print: string, json: string): Promise<void> {
    await this.written((client) =>
      client.query(
        `INSERT INTO telltale.report (car, print, json) SELECT id, $1, $2 FROM telltale.car WHERE label = $3 AND revision = $4
         ON CONFLICT (car) DO UPDATE SET print = excluded.print, json = excluded.json`,
        [`${revision} ${print}`, json, car, revision],
      ),
    );
  }

  async secret(): Promise<string> {
    const rows = await this.rows<{ value: string }>("SELECT value FROM telltale.book WHERE key = 'secret'", []);
    return rows[0]!.value;
  }

  async adoptSecret(secret: string): Promise<void> {
    await this.written((client) => client.query("UPDATE telltale.book SET value = $1 WHERE key = 'secret'", [secret]));
  }

  async backup(path: string): Promise<void> {
    const { openSqliteBook } = await import('../sqlite/open.js');
    const client = await (this.pool as Pool).connect().catch((error: unknown) => {
      throw asUserError(error, this.place);
    });
    try {
      // All of it is read as it stood at the first query.
      await client.query('BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY');
      const copy = await openSqliteBook(path, 'create');
      try {
        await copyBook(new PostgresBook(this.place, client), copy);
      } finally {
        await copy.close();
      }
      await client.query('COMMIT');
    } catch (error) {
      throw asUserError(error, this.place);
    } finally {
      client.release(true);
    }
  }

  async close(): Promise<void> {
    if ('end' in this.pool) await (this.pool as Pool).end();
  }

  /** Ids of rows by their name, made where they are missing; a row that another transaction makes meanwhile is waited for. */
  private async ids(
    client: PoolClient,
    table: 'car' | 'measure',
    column: 'label' | 'name',
    names: readonly string[],
    units?: readonly string[],
  ): Promise<Map<string, number>> {
    const select = `SELECT id, ${column} AS name FROM telltale.${table} WHERE ${column} = ANY ($1)`;
    const found = await client.query<{ id: number; name: string }>(select, [names]);
    if (found.rows.length < names.length) {
      await (units === undefined
        ? client.query(
            `INSERT INTO telltale.${table} (${column}) SELECT unnest($1::text[]) ON CONFLICT (${column}) DO NOTHING`,
            [names],
          )
        : client.query(
            `INSERT INTO telltale.${table} (${column}, unit) SELECT * FROM unnest($1::text[], $2::text[])
             ON CONFLICT (${column}) DO NOTHING`,
            [names, units],
          ));
      found.rows = (await client.query<{ id: number; name: string }>(select, [names])).rows;
    }
    return new Map(found.rows.map(({ id, name }) => [name, id]));
  }

  private async rows<Row extends object>(text: string, values: unknown[]): Promise<Row[]> {
    try {
      return (await this.patience.during(this.pool.query<Row & Record<string, unknown>>(text, values))).rows as Row[];
    } catch (error) {
      throw asUserError(error, this.place);
    }
  }

  private written<T>(act: (client: PoolClient) => Promise<T>): Promise<T> {
    return this.patience.during(this.transaction(act));
  }

  private async transaction<T>(act: (client: PoolClient) => Promise<T>): Promise<T> {
    for (let tries = 1; ; tries++) {
      const client = await (this.pool as Pool).connect().catch((error: unknown) => {
        throw asUserError(error, this.place);
      });
      try {
        await client.query('BEGIN');
        const result = await act(client);
        await client.query('COMMIT');
        client.release();
        return result;
      } catch (error) {
        const clean = await client.query('ROLLBACK').then(
          () => true,
          () => false,
        );
        client.release(!clean);
        const code = (error as { code?: unknown }).code;
        const collided = code === '40001' || code === '40P01' || code === '23503';
        if (!collided || tries >= TRIES) throw asUserError(error, this.place);
      }
    }
  }
}

/** In one order for all writers. */
async function revise(client: PoolClient, cars: readonly string[]): Promise<void> {
  for (const car of [...cars].sort())
    await client.query('UPDATE telltale.car SET revision = revision + 1 WHERE label = $1', [car]);
}
