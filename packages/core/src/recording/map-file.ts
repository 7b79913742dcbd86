import * as z from 'zod';
import { findChannel, suggestChannel } from '../channels/index.js';
import { csvRows } from '../sidefiles/csv-rows.js';
import { readSideFile, type SideFile, type SideFileFault } from '../sidefiles/side-file.js';
import { findUnit } from '../units/index.js';
import type { ColumnMap } from './raw.js';

/** Stable code of every fault in a map file. */
export const MAP_CODE = 'bad-map';

const TIME_FORMATS = [
  'seconds',
  'milliseconds',
  'microseconds',
  'minutes',
  'clock',
  'date-time',
  'iso-8601',
  'epoch-seconds',
  'epoch-milliseconds',
  'day-serial',
] as const;

const PLACES = [
  'sump',
  'clutch-outlet',
  'cooler-inlet',
  'before-compressor',
  'before-throttle',
  'manifold',
  'before-turbine',
  'after-turbine',
] as const;

const COLUMN = z.strictObject({
  channel: z
    .string()
    .nullable()
    .refine((id) => id === null || findChannel(id) !== undefined, {
      error: (issue) => `found channel ${String(issue.input)}, which does not exist${nearest(String(issue.input))}`,
    })
    .optional(),
  unit: z
    .string()
    .refine((text) => findUnit(text) !== undefined, {
      error: (issue) => `found unit ${String(issue.input)}, which is not known`,
    })
    .optional(),
  scale: z.number().optional(),
  offset: z.number().optional(),
  place: z.enum(PLACES).optional(),
});

const MAP = z.strictObject({
  schema: z.literal('telltale/map@1', { error: 'expected schema: telltale/map@1' }),
  encoding: z.enum(['utf-8', 'utf-16le', 'utf-16be', 'windows-1252']).optional(),
  delimiter: z.enum([',', ';', '\t', '|']).optional(),
  decimal: z.enum(['.', ',']).optional(),
  headerLine: z.int().min(1).optional(),
  time: z.strictObject({ column: z.string().min(1).optional(), format: z.enum(TIME_FORMATS).optional() }).optional(),
  columns: z.record(z.string(), COLUMN).optional(),
});

function nearest(id: string): string {
  const [first] = suggestChannel(id);
  return first === undefined ? '' : ` (did you mean ${first}?)`;
}

const CSV_HEAD = ['column', 'channel', 'unit', 'scale', 'offset', 'place'];

/**
 * Reads a map file: YAML or JSON (schema `telltale/map@1`), or CSV with the columns
 * `column,channel,unit,scale,offset,place`, where an empty cell means "as found" and the channel `-` leaves a column out.
 */
export function readColumnMap(text: string, name: string): SideFile<ColumnMap> {
  if (/^\uFEFF?"?column"?[,;\t]/i.test(text)) return fromCsv(text, name);
  return readSideFile(text, name, MAP_CODE, MAP) as SideFile<ColumnMap>;
}

/** JSON Schema of what a user may write. */
export function columnMapSchema(): object {
  return z.toJSONSchema(MAP, { io: 'input' });
}

function fromCsv(text: string, name: string): SideFile<ColumnMap> {
  const [first, ...rows] = csvRows(text, false);
  const head = (first?.cells ?? []).map((cell) => cell.toLowerCase());
  const faults: SideFileFault[] = [];
  const report = (line: number, found: string): void => {
    faults.push({ code: MAP_CODE, line, column: 1, message: `${name}:${line}:1: ${found}` });
  };
  const unknown = head.filter((cell) => !CSV_HEAD.includes(cell));
  if (unknown.length > 0)
    report(first?.line ?? 1, `found column ${unknown.join(', ')}, expected ${CSV_HEAD.join(', ')}`);
  const columns: Record<string, unknown> = Object.create(null) as Record<string, unknown>;
  rows.forEach(({ line, cells }) => {
    if (cells.length !== head.length) {
      report(line, `found ${cells.length} cells, expected ${head.length} (${head.join(', ')})`);
      return;
    }
    const row = Object.fromEntries(head.map((name, k) => [name, cells[k]!]));
    const entry = COLUMN.safeParse(cleaned(row));
    const label = row.column ?? '';
    if (label === '') report(line, 'found no column name, expected the column label as it stands in the log');
    else if (!entry.success)
      report(line, entry.error.issues.map((issue) => `${issue.path.join('.')}: ${issue.message}`).join('; '));
    else columns[label] = entry.data;
  });
  return faults.length > 0 ? { ok: false, faults } : { ok: true, value: { columns } as ColumnMap };
}

function cleaned(row: Readonly<Record<string, string>>): Record<string, unknown> {
  const entry: Record<string, unknown> = {};
  const channel = row.channel?.trim();
  if (channel) entry.channel = channel === '-' ? null : channel;
  for (const key of ['unit', 'place'] as const) if (row[key]?.trim()) entry[key] = row[key].trim();
  for (const key of ['scale', 'offset'] as const) {
    const cell = row[key]?.trim();
    if (cell) entry[key] = Number.isNaN(Number(cell)) ? cell : Number(cell);
  }
  return entry;
}
