import type { LogbookNote, MeasureValue } from '@telltale/core';
import type { Database, Statement } from 'better-sqlite3';
import type { Book, CarLine, StoredDrive } from '../book.js';
import { Patience } from '../patience.js';
import { type DriveRow, driveOf, type NoteRow, noteOf, rowOf } from '../rows.js';
import { asUserError, isBusy } from './errors.js';
import { library } from './library.js';

/** The book in one SQLite file. */
export class SqliteBook implements Book {
  private readonly statements = new Map<string, Statement<unknown[], unknown>>();
  /** Whether this process has seen to it that the book has a write-ahead log. */
  private logged = false;

  constructor(
    readonly place: string,
    private readonly database: Database,
    private readonly patience = new Patience(),
  ) {}

  async known(hashes: readonly string[]): Promise<ReadonlyMap<string, string>> {
    return this.guarded(() => {
      const find = this.sql('SELECT label FROM drive JOIN car ON car.id = drive.car WHERE hash = ?');
      const found = new Map<string, string>();
      for (const hash of hashes) {
        const row = find.get(hash) as { label: string } | undefined;
        if (row !== undefined) found.set(hash, row.label);
      }
      return found;
    });
  }

  async add(drives: readonly StoredDrive[]): Promise<readonly string[]> {
    return this.written(() => {
      const insert = this.sql(
        `INSERT INTO drive (hash, car, recorded_at, distance, engine_hours, ambient_temperature, load, altitude, fuel, level,
           coverage, index_low, index_high, findings, unproven, file, version, added_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (hash) DO NOTHING`,
      );
      const value = this.sql(
        'INSERT INTO value (drive, measure, value, standard_error, samples) VALUES (?, ?, ?, ?, ?)',
      );
      const added: string[] = [];
      const changed = new Set<string>();
      for (const drive of drives) {
        const { changes, lastInsertRowid } = insert.run(drive.hash, this.carId(drive.car), ...rowOf(drive));
        if (changes === 0) continue;
        for (const each of drive.measures)
          value.run(lastInsertRowid, this.measureId(each), each.value, each.standardError, each.samples);
        added.push(drive.hash);
        changed.add(drive.car);
      }
      for (const car of changed) this.revise(car);
      return added;
    });
  }

  async cars(): Promise<readonly CarLine[]> {
    return this.guarded(
      () =>
        this.sql(
          `SELECT label AS car,
             (SELECT count(*) FROM drive WHERE drive.car = car.id) AS drives,
             (SELECT count(*) FROM note WHERE note.car = car.id) AS notes,
             (SELECT min(recorded_at) FROM drive WHERE drive.car = car.id) AS first,
             (SELECT max(recorded_at) FROM drive WHERE drive.car = car.id) AS last
           FROM car ORDER BY label`,
        ).all() as CarLine[],
    );
  }

  async drives(car: string): Promise<readonly StoredDrive[]> {
    return this.guarded(() => {
      const rows = this.sql(
        `SELECT drive.*, car.label FROM drive JOIN car ON car.id = drive.car WHERE car.label = ?
         ORDER BY recorded_at, hash`,
      ).all(car) as (DriveRow & { id: number })[];
      const values = this.sql(
        `SELECT drive, name AS id, value.value, standard_error AS standardError, samples, unit
         FROM value JOIN measure ON measure.id = value.measure
         WHERE drive IN (SELECT drive.id FROM drive JOIN car ON car.id = drive.car WHERE car.label = ?)
         ORDER BY drive, name`,
      ).all(car) as (MeasureValue & { drive: number })[];
      const byDrive = new Map<number, MeasureValue[]>();
      for (const { drive, ...measure } of values) {
        const list = byDrive.get(drive);
        if (list === undefined) byDrive.set(drive, [measure]);
        else list.push(measure);
      }
      return rows.map((row) => driveOf(row, byDrive.get(row.id) ?? []));
    });
  }

  async notes(car: string): Promise<readonly LogbookNote[]> {
    return this.guarded(() =>
      (
        this.sql(
          'SELECT label, date, distance, kind, text FROM note JOIN car ON car.id = note.car WHERE label = ? ORDER BY date, kind, text',
        ).all(car) as NoteRow[]
      ).map(noteOf),
    );
  }

  async note(note: LogbookNote): Promise<boolean> {
    return this.written(() => {
      const { changes } = this.sql(
        'INSERT INTO note (car, date, distance, kind, text) VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING',
      ).run(this.carId(note.car), note.date, note.distance, note.kind, note.text);
      if (changes > 0) this.revise(note.car);
      return changes > 0;
    });
  }

  async removeNote(note: LogbookNote): Promise<boolean> {
    return this.written(() => {
      const { changes } = this.sql(
        'DELETE FROM note WHERE car = (SELECT id FROM car WHERE label = ?) AND date = ? AND kind = ? AND text = ?',
      ).run(note.car, note.date, note.kind, note.text);
      if (changes > 0) this.revise(note.car);
      return changes > 0;
    });
  }

  async profile(car: string): Promise<string | undefined> {
    return this.guarded(() => {
      const row = this.sql('SELECT profile FROM car WHERE label = ?').get(car) as
        | { profile: string | null }
        | undefined;
      return row?.profile ?? undefined;
    });
  }

  async setProfile(car: string, json: string): Promise<void> {
    await this.written(() => {
      this.sql('UPDATE car SET profile = ? WHERE id = ?').run(json, this.carId(car));
      this.revise(car);
    });
  }

  async forget(what: { readonly car: string; readonly hash?: string }): Promise<{ drives: number; notes: number }> {
    return this.written(() => {
      const { car, hash } = what;
      const mine = 'car = (SELECT id FROM car WHERE label = ?)';
      if (hash !== undefined) {
        const { changes } = this.sql(`DELETE FROM drive WHERE ${mine} AND hash = ?`).run(car, hash);
        if (changes > 0) this.revise(car);
        return { drives: changes, notes: 0 };
      }
      const drives = this.sql(`DELETE FROM drive WHERE ${mine}`).run(car).changes;
      const notes = this.sql(`DELETE FROM note WHERE ${mine}`).run(car).changes;
      this.sql('DELETE FROM car WHERE label = ?').run(car);
      return { drives, notes };
    });
  }

  async revision(car: string): Promise<number> {
    return this.guarded(() => {
      const row = this.sql('SELECT revision FROM car WHERE label = ?').get(car) as { revision: number } | undefined;
      return row?.revision ?? 0;
    });
  }

  async report(car: string, print: string): Promise<string | undefined> {
    return this.guarded(() => {
      const row = this.sql(
        `SELECT json FROM report JOIN car ON car.id = report.car WHERE label = ? AND print = revision || ' ' || ?`,
      ).get(car, print) as { json: string } | undefined;
      return row?.json;
    });
  }

  async keepReport(car: string, revision: number, print: string, json: string): Promise<void> {
    await this.written(() =>
      this.sql(
        `INSERT INTO report (car, print, json) SELECT id, ?, ? FROM car WHERE label = ? AND revision = ?
         ON CONFLICT (car) DO UPDATE SET print = excluded.print, json = excluded.json`,
      ).run(`${revision} ${print}`, json, car, revision),
    );
  }

  async secret(): Promise<string> {
    return this.guarded(() => {
      const row = this.sql("SELECT value FROM book WHERE key = 'secret'").get() as { value: string };
      return row.value;
    });
  }

  async adoptSecret(secret: string): Promise<void> {
    await this.written(() => this.sql("UPDATE book SET value = ? WHERE key = 'secret'").run(secret));
  }

  async backup(path: string): Promise<void> {
    try {
      await this.database.backup(path);
      // One plain file: what opens it needs nothing beside it.
      const copy = new (await library())(path);
      copy.pragma('journal_mode = DELETE');
      copy.close();
    } catch (error) {
      throw asUserError(error, this.place);
    }
  }

  async close(): Promise<void> {
    this.database.close();
  }

  private revise(car: string): void {
    this.sql('UPDATE car SET revision = revision + 1 WHERE label = ?').run(car);
  }

  private carId(label: string): number {
    this.sql('INSERT INTO car (label) VALUES (?) ON CONFLICT DO NOTHING').run(label);
    return (this.sql('SELECT id FROM car WHERE label = ?').get(label) as { id: number }).id;
  }

  private measureId({ id, unit }: MeasureValue): number {
    const find = this.sql('SELECT id FROM measure WHERE name = ?');
    const known = find.get(id) as { id: number } | undefined;
    if (known !== undefined) return known.id;
    return Number(this.sql('INSERT INTO measure (name, unit) VALUES (?, ?)').run(id, unit).lastInsertRowid);
  }

  private sql(text: string): Statement<unknown[], unknown> {
    let statement = this.statements.get(text);
    if (statement === undefined) {
      statement = this.database.prepare(text);
      this.statements.set(text, statement);
    }
    return statement;
  }

  /** Immediate: the lock is taken before anything is read, so that no two writers wait for each other. */
  private async written<T>(act: () => T): Promise<T> {
    const result = await this.guarded(() => this.database.transaction(act).immediate());
    this.keepLog();
    return result;
  }

  /**
   * A write-ahead log, so that readers never wait for a writer (sqlite.org/wal.html). The header of the file says so for all
   * who open it later; it is set only once a write went well, so that a book that cannot be written stays as it was.
   */
  private keepLog(): void {
    if (this.logged) return;
    this.logged = true;
    try {
      this.database.pragma('busy_timeout = 0');
      this.database.pragma('journal_mode = WAL');
    } catch {
      // Somebody reads it just now, or the disk cannot: the next writer tries again.
    } finally {
      this.database.pragma(`busy_timeout = ${this.patience.slice}`);
    }
  }

  private async guarded<T>(act: () => T): Promise<T> {
    try {
      return await this.patience.tried(act, isBusy);
    } catch (error) {
      throw asUserError(error, this.place);
    }
  }
}
