/** `telltale logbook` in the header of the file (SQLite: PRAGMA application_id), so that no other database is taken for one. */
export const APPLICATION_ID = 0x746c6c62;

/**
 * Steps from one version of the book to the next; the version is their count. A step that was published is never changed:
 * books of every version lie in `test-data/books`, and tests open each.
 */
export const MIGRATIONS: readonly string[] = [
  // 1: cars, drives and their measures
  `
  CREATE TABLE book (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;
  CREATE TABLE car (id INTEGER PRIMARY KEY, label TEXT NOT NULL UNIQUE) STRICT;
  CREATE TABLE measure (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, unit TEXT NOT NULL) STRICT;
  CREATE TABLE drive (
    id INTEGER PRIMARY KEY,
    hash TEXT NOT NULL UNIQUE,
    car INTEGER NOT NULL REFERENCES car (id),
    recorded_at TEXT NOT NULL,
    distance REAL,
    engine_hours REAL,
    ambient_temperature REAL,
    load REAL,
    altitude REAL,
    fuel REAL,
    level TEXT NOT NULL,
    coverage REAL NOT NULL,
    index_low REAL NOT NULL,
    index_high REAL NOT NULL,
    findings TEXT NOT NULL,
    unproven TEXT NOT NULL
  ) STRICT;
  CREATE INDEX drive_by_car ON drive (car, recorded_at, hash);
  CREATE TABLE value (
    drive INTEGER NOT NULL REFERENCES drive (id) ON DELETE CASCADE,
    measure INTEGER NOT NULL REFERENCES measure (id),
    value REAL NOT NULL,
    standard_error REAL,
    samples REAL,
    PRIMARY KEY (drive, measure)
  ) STRICT, WITHOUT ROWID;
  `,
  // 2: the owner's notes, and the profile of a car
  `
  CREATE TABLE note (
    id INTEGER PRIMARY KEY,
    car INTEGER NOT NULL REFERENCES car (id),
    date TEXT NOT NULL,
    distance REAL,
    kind TEXT NOT NULL,
    text TEXT NOT NULL,
    UNIQUE (car, date, kind, text)
  ) STRICT;
  ALTER TABLE car ADD COLUMN profile TEXT;
  `,
  // 3: where a drive came from
  `
  ALTER TABLE drive ADD COLUMN file TEXT NOT NULL DEFAULT '';
  ALTER TABLE drive ADD COLUMN version TEXT NOT NULL DEFAULT '';
  ALTER TABLE drive ADD COLUMN added_at TEXT NOT NULL DEFAULT '';
  `,
  // 4: reports that were computed, by the revision of the car that they are of
  `
  ALTER TABLE car ADD COLUMN revision INTEGER NOT NULL DEFAULT 0;
  CREATE TABLE report (
    car INTEGER PRIMARY KEY REFERENCES car (id) ON DELETE CASCADE,
    print TEXT NOT NULL,
    json TEXT NOT NULL
  ) STRICT;
  `,
];
