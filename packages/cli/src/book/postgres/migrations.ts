/**
 * Steps from one version of the book to the next, all in the schema `telltale`; the version is their count. Like the steps of
 * the SQLite book, and under the same numbers. A step that was published is never changed.
 */
export const MIGRATIONS: readonly string[] = [
  // 1: cars, drives and their measures
  `
  CREATE TABLE telltale.car (id integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY, label text NOT NULL UNIQUE);
  CREATE TABLE telltale.measure (
    id integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    name text NOT NULL UNIQUE,
    unit text NOT NULL
  );
  CREATE TABLE telltale.drive (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    hash text NOT NULL UNIQUE,
    car integer NOT NULL REFERENCES telltale.car (id),
    recorded_at text COLLATE "C" NOT NULL,
    distance double precision,
    engine_hours double precision,
    ambient_temperature double precision,
    load double precision,
    altitude double precision,
    fuel double precision,
    level text NOT NULL,
    coverage double precision NOT NULL,
    index_low double precision NOT NULL,
    index_high double precision NOT NULL,
    findings text NOT NULL,
    unproven text NOT NULL
  );
  CREATE INDEX drive_by_car ON telltale.drive (car, recorded_at, hash);
  CREATE TABLE telltale.value (
    drive bigint NOT NULL REFERENCES telltale.drive (id) ON DELETE CASCADE,
    measure integer NOT NULL REFERENCES telltale.measure (id),
    value double precision NOT NULL,
    standard_error double precision,
    samples double precision,
    PRIMARY KEY (drive, measure)
  );
  `,
  // 2: the owner's notes, and the profile of a car
  `
  CREATE TABLE telltale.note (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    car integer NOT NULL REFERENCES telltale.car (id),
    date text COLLATE "C" NOT NULL,
    distance double precision,
    kind text NOT NULL,
    text text NOT NULL,
    UNIQUE (car, date, kind, text)
  );
  ALTER TABLE telltale.car ADD COLUMN profile text;
  `,
  // 3: where a drive came from
  `
  ALTER TABLE telltale.drive ADD COLUMN file text NOT NULL DEFAULT '';
  ALTER TABLE telltale.drive ADD COLUMN version text NOT NULL DEFAULT '';
  ALTER TABLE telltale.drive ADD COLUMN added_at text NOT NULL DEFAULT '';
  `,
  // 4: reports that were computed, by the revision of the car that they are of
  `
  ALTER TABLE telltale.car ADD COLUMN revision bigint NOT NULL DEFAULT 0;
  CREATE TABLE telltale.report (
    car integer PRIMARY KEY REFERENCES telltale.car (id) ON DELETE CASCADE,
    print text NOT NULL,
    json text NOT NULL
  );
  `,
];
