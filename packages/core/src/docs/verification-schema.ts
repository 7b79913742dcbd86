import * as z from 'zod';

/** Shapes that all documents share. */
interface Shared {
  readonly input: z.ZodObject;
  readonly measure: z.ZodObject;
  readonly limit: z.ZodObject;
}

const SIDE = z.enum(['before', 'after']);
const COUNT = z.int().min(0);
const SPAN = z.strictObject({ from: z.number(), to: z.number() });
const BOUNDS = z.strictObject({ low: z.number(), high: z.number() });
const VALUE = z.strictObject({ value: z.number(), low: z.number(), high: z.number() });
const GROUP = z.strictObject({ pulls: COUNT, mean: z.number(), deviation: z.number().nullable() });
const TEXTS = z.array(z.string());

/** `telltale/verification@1`; `verify/verification.ts` has the same shapes as types, and a test parses real ones. */
export function verificationSchema({ input, measure, limit }: Shared): object {
  const worst = z.strictObject({
    measure,
    pull: z.int(),
    input: z.int(),
    gear: z.number().nullable(),
    at: z.number().nullable(),
    engineSpeed: z.number().nullable(),
    member: z.string().optional(),
  });
  const result = z.strictObject({
    id: z.string(),
    title: z.string(),
    outcome: z.enum(['broken', 'held', 'held-so-far', 'not-shown', 'not-applicable']),
    limit,
    rule: z.string().optional(),
    pulls: COUNT,
    broken: COUNT,
    rate: BOUNDS.optional(),
    worst: worst.optional(),
    before: z.strictObject({ pulls: COUNT, broken: COUNT, change: BOUNDS }).optional(),
    notes: TEXTS,
    missing: z.strictObject({ channels: TEXTS, conditions: TEXTS }).optional(),
  });
  const endpoint = z.strictObject({
    id: z.string(),
    title: z.string(),
    unit: z.string(),
    primary: z.boolean(),
    outcome: z.enum(['changed', 'not-distinguishable', 'too-few', 'not-tested']),
    before: GROUP,
    after: GROUP,
    difference: VALUE.optional(),
    p: z.number().optional(),
    adjustedP: z.number().optional(),
    detectable: z.number().optional(),
    atEqualTemperature: VALUE.optional(),
    bySession: VALUE.optional(),
    maxima: z.strictObject({ pulls: COUNT, before: z.number(), after: z.number() }).optional(),
  });
  const change = z.strictObject({
    gear: z.number().nullable(),
    engineSpeed: SPAN,
    pulls: z.strictObject({ before: COUNT, after: COUNT }),
    sessions: z.strictObject({ before: COUNT, after: COUNT }),
    order: z.enum(['alternated', 'one-after-the-other', 'not-told']),
    attribution: z.enum(['map-or-session', 'map']),
    attributionReason: z.string(),
    conditions: z.array(
      z.strictObject({ id: z.string(), title: z.string(), unit: z.string(), before: z.number(), after: z.number() }),
    ),
    endpoints: z.array(endpoint),
  });
  const pull = z.strictObject({
    side: SIDE,
    number: z.int().min(1),
    input: COUNT,
    from: z.number(),
    to: z.number(),
    gear: z.number().nullable(),
    ratio: z.number().nullable(),
    engineSpeed: SPAN,
    conditions: z.record(z.string(), measure),
    matched: z.boolean(),
    notes: TEXTS,
    measures: z.record(z.string(), measure),
  });
  const reported = z.strictObject({
    id: z.string(),
    title: z.string(),
    unit: z.string(),
    pulls: COUNT,
    clipped: COUNT,
    mean: z.number().nullable(),
    extreme: z.strictObject({ value: z.number(), pull: COUNT }).nullable(),
    notes: TEXTS,
  });
  const events = z.strictObject({
    events: COUNT,
    mean: z.number().nullable(),
    deviation: z.number().nullable(),
    worst: z.strictObject({ value: z.number(), input: COUNT, at: z.number() }).optional(),
  });
  const event = z.strictObject({
    id: z.string(),
    title: z.string(),
    unit: z.string(),
    about: z.string(),
    before: events,
    after: events,
    difference: VALUE.optional(),
    notes: TEXTS,
  });
  const cell = z.strictObject({
    engineSpeed: z.number(),
    load: z.number(),
    samples: COUNT,
    effective: z.number(),
    visits: COUNT,
    mean: z.number(),
    deviation: z.number().nullable(),
    extreme: z.number(),
    enough: z.boolean(),
    value: z.number().nullable(),
    reach: z.number().nullable(),
    scavenging: z.literal(true).optional(),
  });
  const table = z.strictObject({
    id: z.string(),
    title: z.string(),
    unit: z.string(),
    member: z.string().optional(),
    engineSpeed: z.array(z.number()),
    load: z.strictObject({ channel: z.string(), unit: z.string(), points: z.array(z.number()) }),
    cells: z.array(cell),
  });
  const cellChange = z.strictObject({
    engineSpeed: z.number(),
    load: z.number(),
    visits: z.strictObject({ before: COUNT, after: COUNT }),
    before: z.number(),
    after: z.number(),
    difference: VALUE,
    band: z.enum(['max-t', 'student']),
    changed: z.boolean(),
  });
  const tableChange = z.strictObject({
    id: z.string(),
    title: z.string(),
    unit: z.string(),
    member: z.string().optional(),
    cells: z.array(cellChange),
  });
  const node = z.strictObject({
    at: z.number(),
    engineSpeed: z.number().nullable(),
    samples: COUNT,
    effective: z.number(),
    visits: COUNT,
    enough: z.boolean(),
    factor: z.number().nullable(),
    low: z.number().nullable(),
    high: z.number().nullable(),
    suggested: z.number().nullable(),
  });
  const correction = z.strictObject({
    kind: z.enum(['air-meter', 'speed-density']),
    axis: z.strictObject({ channel: z.string(), unit: z.string() }),
    nodes: z.array(node),
    notes: TEXTS,
  });
  return z.toJSONSchema(
    z.strictObject({
      schema: z.literal('telltale/verification@1'),
      vehicle: z.strictObject({ id: z.string() }),
      inputs: z.array(z.strictObject({ side: SIDE, ...input.shape })),
      outcome: z.enum(['broken', 'inside', 'not-shown']),
      reasons: TEXTS,
      problems: z.array(
        z.strictObject({ code: z.string(), severity: z.enum(['refused', 'warning']), message: z.string() }),
      ),
      limits: z.array(result),
      reported: z.array(reported),
      change: change.optional(),
      pulls: z.array(pull),
      dynamics: z.array(event),
      tables: z.array(table).optional(),
      cellChanges: z.array(tableChange).optional(),
      correction: correction.optional(),
      record: TEXTS,
      cautions: TEXTS,
    }),
  );
}
