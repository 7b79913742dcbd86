import * as z from 'zod';
import { PRICES_CODE, pricesSchema } from '../decision/prices.js';
import { columnMapSchema, MAP_CODE } from '../recording/map-file.js';
import { SHEET_CODE, sheetSchema } from '../sheet/sheet.js';
import { PROFILE_CODE, profileSchema } from '../vehicle/profile.js';
import { LIMITS_CODE, limitsSchema } from '../verify/limits-file.js';
import { TARGETS_CODE, targetsSchema } from '../verify/targets-file.js';
import { logbookSchemas } from './logbook-schema.js';
import { verificationSchema } from './verification-schema.js';

/**
 * The documents of the contract as schemas. `assessment.ts` has the same shapes as types; a test parses real
 * assessments with these, strictly, so that the two cannot drift apart.
 */
const MEASURE = z.strictObject({
  value: z.union([z.number(), z.array(z.number()), z.null()]),
  unit: z.string().optional(),
});
const MEASURES = z.record(z.string(), MEASURE);
const SEVERITY = z.enum(['watch', 'repair', 'stop']);
const LEVEL = z.enum(['sound', 'watch', 'repair', 'stop', 'unproven']);
const SHARE = z.number().min(0).max(1);
const COMPARISON = z.enum(['>', '>=', '<', '<=']);
const SYSTEM = z.enum([
  'usage',
  'transmission',
  'driveline',
  'engine',
  'fuel',
  'air',
  'exhaust',
  'electrical',
  'codes',
  'provenance',
]);

const PROBLEM = z.strictObject({
  code: z.string(),
  message: z.string(),
  line: z.int().optional(),
  column: z.int().optional(),
  channel: z.string().optional(),
  from: z.number().optional(),
  to: z.number().optional(),
  count: z.int().optional(),
});

const DIALECT = z.strictObject({
  encoding: z.enum(['utf-8', 'utf-16le', 'utf-16be', 'windows-1252']),
  delimiter: z.enum([',', ';', '\t', '|']),
  decimal: z.enum(['.', ',']),
  headerLine: z.int().min(1),
  timeFormat: z.string(),
  confidence: z.strictObject({ encoding: SHARE, delimiter: SHARE, decimal: SHARE, header: SHARE, time: SHARE }),
});

const CHANNEL = z.strictObject({
  id: z.string(),
  source: z.string(),
  sourceUnit: z.string(),
  unit: z.string(),
  rate: MEASURE.nullable(),
  certainty: z.enum(['certain', 'likely', 'inferred', 'user']),
  place: z.string().optional(),
  samples: z.int(),
  range: z.strictObject({ low: z.number(), high: z.number() }).nullable(),
});

const INPUT = z.strictObject({
  file: z.string(),
  sha256: z.string(),
  kind: z.enum(['recording', 'stored-values', 'code-list', 'unusable']),
  rows: z.int().optional(),
  duration: MEASURE.optional(),
  distance: MEASURE.optional(),
  dialect: DIALECT.optional(),
  channels: z.array(CHANNEL),
  unrecognised: z.array(z.string()),
  problems: z.array(PROBLEM),
  error: z
    .strictObject({ code: z.string(), message: z.string(), line: z.int().optional(), column: z.int().optional() })
    .optional(),
});

const LIMIT = z.strictObject({
  name: z.string(),
  value: z.number(),
  unit: z.string(),
  comparison: COMPARISON,
  source: z.string(),
  about: z.string(),
});

const EVENT = z
  .object({ input: z.int(), from: z.number(), to: z.number(), severity: SEVERITY.optional(), peak: MEASURE.optional() })
  .catchall(z.union([MEASURE, z.number(), z.string()]));

const MISSING = z.strictObject({ channels: z.array(z.string()), conditions: z.array(z.string()) });
const BASE = { rule: z.string(), summary: z.string() };
const EXTRA = { notes: z.array(z.string()).optional(), details: z.record(z.string(), z.unknown()).optional() };
const JUDGED = { confidence: SHARE, measures: MEASURES, events: z.array(EVENT), limits: z.array(LIMIT), ...EXTRA };

const RESULT = z.discriminatedUnion('outcome', [
  z.strictObject({ ...BASE, outcome: z.literal('clear'), ...JUDGED }),
  z.strictObject({
    ...BASE,
    outcome: z.literal('finding'),
    severity: SEVERITY,
    ...JUDGED,
    causes: z.array(z.string()),
    advice: z.array(z.string()),
  }),
  z.strictObject({
    ...BASE,
    outcome: z.literal('unproven'),
    missing: MISSING,
    proves: z.string(),
    measures: MEASURES.optional(),
    events: z.array(EVENT).optional(),
    ...EXTRA,
  }),
  z.strictObject({ ...BASE, outcome: z.literal('not-applicable') }),
  z.strictObject({ ...BASE, outcome: z.literal('error'), error: z.string() }),
]);

const SEEN = z.strictObject({
  point: z.string(),
  state: z.enum(['sound', 'watch', 'repair', 'stop', 'not-seen']),
  note: z.string(),
});

const DECISION = z.strictObject({
  action: z.enum(['walk-away', 'negotiate', 'buy', 'record-more']),
  reasons: z.array(z.string()),
  questions: z.array(z.strictObject({ about: z.string(), question: z.string() })),
  sum: z
    .strictObject({
      low: z.number(),
      high: z.number(),
      currency: z.string(),
      items: z.array(z.strictObject({ about: z.string(), low: z.number(), high: z.number() })),
      unpriced: z.array(z.string()),
    })
    .optional(),
});

const ASSESSMENT = z.strictObject({
  schema: z.literal('telltale/assessment@1'),
  vehicle: z.strictObject({ id: z.string() }),
  inputs: z.array(INPUT),
  verdict: z.strictObject({
    level: LEVEL,
    coverage: SHARE,
    index: z.strictObject({ low: z.number().min(0).max(100), high: z.number().min(0).max(100) }),
    reasons: z.array(z.string()),
  }),
  systems: z.array(z.strictObject({ id: SYSTEM, level: LEVEL, coverage: SHARE })),
  results: z.array(RESULT),
  chains: z
    .array(
      z.strictObject({
        id: z.string(),
        problem: z.string(),
        suspects: z.array(
          z.strictObject({
            cause: z.string(),
            signs: z.array(z.strictObject({ rule: z.string(), says: z.string(), speaks: z.enum(['for', 'against']) })),
          }),
        ),
        tests: z.array(z.strictObject({ test: z.string(), tells: z.string() })),
      }),
    )
    .optional(),
  seen: z.array(SEEN).optional(),
  decision: DECISION,
  cautions: z.array(z.string()),
});

const COLUMN = z.strictObject({
  index: z.int(),
  label: z.string(),
  channel: z.string().optional(),
  unit: z.string().optional(),
  sourceUnit: z.string().optional(),
  certainty: z.enum(['certain', 'likely', 'inferred', 'user']).optional(),
  reason: z.string(),
  doubts: z.array(z.string()),
});

const COLUMNS = z.strictObject({
  schema: z.literal('telltale/columns@1'),
  input: INPUT,
  columns: z.array(COLUMN),
});

const RULE = z.strictObject({
  id: z.string(),
  system: SYSTEM,
  question: z.string(),
  why: z.string(),
  method: z.string(),
  weight: z.int(),
  needs: z.strictObject({
    channels: z.array(z.string()),
    instead: z.record(z.string(), z.string()).optional(),
    optional: z.array(z.string()),
    derived: z.array(z.string()),
    conditions: z.array(z.string()),
  }),
  limits: z.array(z.strictObject({ ...LIMIT.shape, when: z.record(z.string(), z.string()).optional() })),
  decoys: z.array(z.string()),
  cautions: z.array(z.string()),
  proves: z.string(),
});

const RULES_LIST = z.strictObject({ schema: z.literal('telltale/rules@1'), rules: z.array(RULE) });

const SHORTLIST = z.strictObject({
  schema: z.literal('telltale/shortlist@1'),
  candidates: z.array(
    z.strictObject({
      rank: z.int().min(1),
      name: z.string(),
      vehicle: z.strictObject({ id: z.string() }),
      action: DECISION.shape.action,
      verdict: ASSESSMENT.shape.verdict,
      findings: z.array(z.strictObject({ rule: z.string(), severity: SEVERITY, summary: z.string() })),
      seen: z.array(z.strictObject({ point: z.string(), severity: SEVERITY, note: z.string() })).optional(),
      unproven: z.strictObject({ count: z.int(), essential: z.array(z.string()) }),
      sum: DECISION.shape.sum,
      inputs: z.strictObject({ used: z.int(), unusable: z.int() }),
      next: z.strictObject({ settled: z.boolean(), because: z.string() }).optional(),
    }),
  ),
  order: z.enum(['settled', 'partly', 'open']),
  cautions: z.array(z.string()),
});

const MINUTES = z.strictObject({ value: z.number(), unit: z.literal('min') });
const IDS = z.array(z.string());

const PLAN = z.strictObject({
  schema: z.literal('telltale/plan@1'),
  vehicle: z.strictObject({ id: z.string() }),
  basis: z.enum(['everything', 'assessment']),
  open: z.array(z.strictObject({ rule: z.string(), question: z.string(), why: z.string().optional() })),
  readOuts: z.array(z.strictObject({ id: z.string(), title: z.string(), items: IDS, proves: IDS })),
  channels: z.array(
    z.strictObject({
      id: z.string(),
      rate: z.strictObject({ value: z.number(), unit: z.literal('Hz') }),
      priority: z.union([z.literal(1), z.literal(2), z.literal(3)]),
      for: IDS,
    }),
  ),
  presentation: IDS,
  first: z.strictObject({ phases: IDS, duration: MINUTES, settles: IDS }).optional(),
  phases: z.array(
    z.strictObject({
      id: z.string(),
      title: z.string(),
      duration: MINUTES,
      where: z.enum(['standing', 'road', 'closed-course']),
      dynamometer: z.literal(true).optional(),
      steps: IDS,
      cautions: IDS,
      proves: IDS,
    }),
  ),
  duration: MINUTES,
  also: z.array(z.strictObject({ rule: z.string(), what: z.string() })),
  cautions: z.strictObject({ site: IDS, abort: IDS, general: IDS }),
});

/** One row of a code list as a table with these column names; other layouts are read as well, these are the plainest. */
const CODE_ROW = z
  .object({
    code: z.string().regex(/^([PCBU][0-3][0-9A-F]{3}([-: ]?[0-9A-F]{2})?|0x[0-9A-F]{4}([0-9A-F]{2})?)$/i),
    status: z.enum(['stored', 'pending', 'permanent', 'past', '']).optional(),
    'control unit': z.string().max(60).optional(),
    description: z.string().optional(),
  })
  .catchall(z.string().describe('freeze-frame value; the column is named and read as a channel, e.g. RPM, ECT [°C]'));

/** One row of a stored-values file; minimum and maximum are those of a test of on-board monitoring. */
const STORED_ROW = z.object({
  name: z.string().min(1),
  value: z.string().min(1),
  unit: z.string().optional(),
  minimum: z.string().optional(),
  maximum: z.string().optional(),
  'control unit': z.string().max(60).optional(),
});

/** JSON Schemas (draft 2020-12) that ship with core: file name -> schema. */
export function jsonSchemas(): Readonly<Record<string, object>> {
  return {
    'assessment.json': z.toJSONSchema(ASSESSMENT),
    'columns.json': z.toJSONSchema(COLUMNS),
    'rules.json': z.toJSONSchema(RULES_LIST),
    'shortlist.json': z.toJSONSchema(SHORTLIST),
    'plan.json': z.toJSONSchema(PLAN),
    'verification.json': verificationSchema({ input: INPUT, measure: MEASURE, limit: LIMIT }),
    ...logbookSchemas(),
    'vehicle.json': profileSchema(),
    'sheet.json': sheetSchema(),
    'prices.json': pricesSchema(),
    'map.json': columnMapSchema(),
    'targets.json': targetsSchema(),
    'limits.json': limitsSchema(),
    'code-list-row.json': z.toJSONSchema(CODE_ROW),
    'stored-values-row.json': z.toJSONSchema(STORED_ROW),
  };
}

/** Codes of the side files, for the error catalogue. */
export const SIDE_FILE_CODES: Readonly<Record<string, string>> = {
  [PROFILE_CODE]:
    'The vehicle profile does not fit schema telltale/vehicle@1, or overrides a limit that does not exist.',
  [SHEET_CODE]: 'The walk-round sheet does not fit schema telltale/sheet@1, or a state in it is not one of its words.',
  [PRICES_CODE]: 'The price list does not fit schema telltale/prices@1, or an amount in it is none.',
  [TARGETS_CODE]: 'The targets file does not fit schema telltale/targets@1, or a table in it does not fit its axes.',
  [LIMITS_CODE]: 'The limits file does not fit schema telltale/limits@1, or limits a measure that does not exist.',
  [MAP_CODE]: 'The map file does not fit schema telltale/map@1.',
};
