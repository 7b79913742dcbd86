import Papa from 'papaparse';
import * as z from 'zod';
import { ANY_QUANTITY } from '../sidefiles/quantity-schema.js';
import { placeInSideFile, readSideFile, type SideFile, type SideFileFault } from '../sidefiles/side-file.js';
import { convert, parseQuantity } from '../units/index.js';
import { MEASURES } from './measures.js';

/** Stable code of every fault in a limits file. */
export const LIMITS_CODE = 'bad-limits';

/** The tuner's own limits. */
export interface OwnLimits {
  /** Measure id to limit in the unit of the measure; null = not asked in this sign-off. */
  readonly limits: ReadonlyMap<string, number | null>;
  /** Measures to compare as primary endpoints, at most five; undefined = the usual ones. */
  readonly primary?: readonly string[];
}

/** More than these cost so much certainty each that a real change is no longer seen. */
export const MOST_PRIMARY = 5;

const LIMITS = z.strictObject({
  schema: z.literal('telltale/limits@1', { error: 'expected schema: telltale/limits@1' }),
  limits: z.record(z.string(), z.union([z.null(), ANY_QUANTITY])).optional(),
  primary: z.array(z.string()).min(1).max(MOST_PRIMARY).optional(),
});

/**
 * Reads own limits: YAML or JSON (schema `telltale/limits@1`), or CSV with the columns limit, value, unit (an empty value
 * = not asked). Each is named by the measure that it limits, e.g. `knock.worst`.
 */
export function readLimits(text: string, name: string): SideFile<OwnLimits> {
  const plain = text.replace(/^\uFEFF/, '').trimStart();
  if (/^"?(limit|measure)"?\s*[,;\t]/i.test(plain)) return readCsv(plain, name);
  const read = readSideFile(text, name, LIMITS_CODE, LIMITS);
  if (!read.ok) return read;
  const faults: SideFileFault[] = [];
  const limits = new Map<string, number | null>();
  const fault = (path: readonly PropertyKey[], message: string): void => {
    const { line, column } = placeInSideFile(text, path);
    faults.push({ code: LIMITS_CODE, message: `${name}:${line}:${column}: ${message}`, line, column });
  };
  for (const [id, given] of Object.entries(read.value.limits ?? {})) {
    const found = limitOf(id, given);
    if (typeof found === 'string') fault(['limits', id], `${id}: ${found}`);
    else limits.set(id, found.value);
  }
  read.value.primary?.forEach((id, i) => {
    if (!MEASURES.some((each) => each.id === id))
      fault(['primary', i], `primary: found ${id}, expected a measure: ${MEASURES.map((each) => each.id).join(', ')}`);
  });
  if (faults.length > 0) return { ok: false, faults };
  return { ok: true, value: { limits, ...(read.value.primary === undefined ? {} : { primary: read.value.primary }) } };
}

function readCsv(text: string, name: string): SideFile<OwnLimits> {
  const faults: SideFileFault[] = [];
  const limits = new Map<string, number | null>();
  Papa.parse<string[]>(text, { comments: '#' }).data.forEach((row, i) => {
    const [id = '', value = '', unit = ''] = row.map((cell) => cell.trim());
    if (i === 0 || (id === '' && value === '')) return;
    const given = value === '' ? null : parseQuantity(`${value} ${unit}`.trim());
    const found = given === undefined ? `found ${value} ${unit}, expected a number and its unit` : limitOf(id, given);
    if (typeof found === 'string')
      faults.push({ code: LIMITS_CODE, message: `${name}:${i + 1}:1: ${id}: ${found}`, line: i + 1, column: 1 });
    else limits.set(id, found.value);
  });
  return faults.length > 0 ? { ok: false, faults } : { ok: true, value: { limits } };
}

/** The limit in the unit of its measure, or what is wrong with it. */
function limitOf(id: string, given: { value: number; unit: string } | null): { value: number | null } | string {
  const measure = MEASURES.find((each) => each.id === id);
  if (measure === undefined) return `found ${id}, expected a measure: ${known()}`;
  if (measure.worse === undefined) return `it has no better and no worse: it cannot be limited`;
  if (given === null) return { value: null };
  try {
    const value = convert(given.value, given.unit === '' ? '1' : given.unit, measure.unit);
    if (Number.isFinite(value)) return { value };
  } catch {
    // Told below.
  }
  return `found ${given.value} ${given.unit}, expected a quantity convertible to ${measure.unit}`;
}

function known(): string {
  return MEASURES.filter(({ worse }) => worse !== undefined)
    .map(({ id }) => id)
    .join(', ');
}

/** JSON Schema of the YAML form. */
export function limitsSchema(): object {
  return z.toJSONSchema(LIMITS, { io: 'input' });
}
