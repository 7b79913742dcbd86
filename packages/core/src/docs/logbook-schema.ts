import * as z from 'zod';
import { NOTE_KINDS } from '../logbook/entry.js';

const LEVEL = z.enum(['sound', 'watch', 'repair', 'stop', 'unproven']);
const SEVERITY = z.enum(['watch', 'repair', 'stop']);
const TEXTS = z.array(z.string());
/** ISO 8601 date, or date and time. */
const DATE = z.string().regex(/^\d{4}-\d{2}-\d{2}/);
const INDEX = z.strictObject({ low: z.number(), high: z.number() });
const RANGE = z.strictObject({ low: z.number().nullable(), value: z.number().nullable(), high: z.number().nullable() });
const DATES = z.strictObject({ low: DATE.nullable(), value: DATE.nullable(), high: DATE.nullable() });
const FINDING = z.strictObject({ rule: z.string(), severity: SEVERITY, summary: z.string() });

const NOTE = z.strictObject({
  car: z.string(),
  date: DATE,
  distance: z.number().nullable(),
  kind: z.enum(NOTE_KINDS),
  text: z.string(),
});

const CAR_DUE = z.strictObject({
  car: z.string(),
  last: DATE.nullable(),
  fluid: z
    .strictObject({
      since: DATE.nullable(),
      distance: z.number().nullable(),
      factor: z.number(),
      drives: z.int(),
      used: z.strictObject({ value: z.number(), low: z.number(), high: z.number().nullable() }).nullable(),
      left: z.number().nullable(),
    })
    .nullable(),
  next: z.strictObject({
    date: DATE,
    overdue: z.boolean(),
    reasons: TEXTS,
    open: TEXTS,
    phases: z.array(z.strictObject({ id: z.string(), title: z.string(), minutes: z.number() })),
  }),
});

const COURSE = z.strictObject({
  id: z.string(),
  name: z.string(),
  unit: z.string(),
  worse: z.enum(['higher', 'lower', 'either']),
  limit: z.strictObject({ value: z.number(), name: z.string(), source: z.string() }).nullable(),
  state: z.enum(['drifting', 'changed', 'steady', 'weather-or-wear', 'too-few-drives']),
  says: z.string(),
  drives: z.int(),
  drivesNeeded: z.int(),
  slope: z.strictObject({ ...RANGE.shape, per: z.enum(['year', '10000 km']) }).nullable(),
  forecast: z.strictObject({ date: DATES.nullable(), distance: RANGE.nullable() }).nullable(),
  alarm: DATE.nullable(),
  changes: z.array(DATE),
  baselines: z.array(z.strictObject({ date: DATE, kind: z.enum(NOTE_KINDS) })),
  points: z.array(
    z.strictObject({
      at: DATE,
      distance: z.number().nullable(),
      value: z.number(),
      standardError: z.number().nullable(),
    }),
  ),
  band: z.array(z.strictObject({ at: DATE, low: z.number(), value: z.number(), high: z.number() })),
  ahead: z.array(z.strictObject({ at: DATE, low: z.number(), value: z.number(), high: z.number() })),
});

const LOGBOOK = z.strictObject({
  schema: z.literal('telltale/logbook@1'),
  car: z.string(),
  drives: z.int(),
  first: DATE.nullable(),
  last: DATE.nullable(),
  distance: z.strictObject({ first: z.number(), last: z.number() }).nullable(),
  latest: z
    .strictObject({
      level: LEVEL,
      coverage: z.number().min(0).max(1),
      index: INDEX,
      findings: z.array(FINDING),
      unproven: TEXTS,
    })
    .nullable(),
  since: z
    .strictObject({
      from: DATE,
      to: DATE,
      level: z.strictObject({ before: LEVEL, now: LEVEL }),
      appeared: z.array(FINDING),
      gone: z.array(z.strictObject({ rule: z.string(), severity: SEVERITY })),
      alarms: TEXTS,
      notes: z.array(NOTE),
    })
    .nullable(),
  measures: z.array(COURSE),
  notes: z.array(NOTE),
  due: CAR_DUE.optional(),
  cautions: TEXTS,
});

const FLEET = z.strictObject({
  schema: z.literal('telltale/fleet@1'),
  cars: z.array(
    z.strictObject({
      car: z.string(),
      drives: z.int(),
      last: DATE.nullable(),
      level: LEVEL.nullable(),
      index: INDEX.nullable(),
      findings: z.int(),
      drifting: TEXTS,
      first: z.strictObject({ name: z.string(), date: DATE }).nullable(),
    }),
  ),
  cautions: TEXTS,
});

const DUE = z.strictObject({ schema: z.literal('telltale/due@1'), asOf: DATE, cars: z.array(CAR_DUE) });

const ADDED = z.strictObject({
  schema: z.literal('telltale/added@1'),
  added: z.array(z.strictObject({ hash: z.string(), car: z.string(), recordedAt: DATE, file: z.string() })),
  known: z.array(z.strictObject({ hash: z.string(), car: z.string(), file: z.string() })),
  unusable: z.array(z.strictObject({ file: z.string(), code: z.string(), message: z.string() })),
});

/** Documents of `telltale track`: file name -> schema. */
export function logbookSchemas(): Readonly<Record<string, object>> {
  return {
    'logbook.json': z.toJSONSchema(LOGBOOK),
    'fleet.json': z.toJSONSchema(FLEET),
    'due.json': z.toJSONSchema(DUE),
    'added.json': z.toJSONSchema(ADDED),
  };
}
