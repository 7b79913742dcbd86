import type { RawReading } from './raw-read-out.js';

/** One test result of service 06 (on-board monitoring): measured value and the band it must lie in, in its own unit. */
export interface MonitorResult {
  readonly name: string;
  readonly value: number;
  /** NaN when the test has no limit on that side. */
  readonly low: number;
  readonly high: number;
  readonly unit: string;
  /** Value and both limits are 0: the test has not run since memory was cleared. */
  readonly notRun: boolean;
  readonly line: number;
}

/** A row that gives one part of a result that is spread over three rows. */
const PART = /[\s,:(-]+(value|result|min(imum)?|max(imum)?|(low(er)?|upper|high) limit|(min|max)(imum)? limit)\)?$/i;
const TEST = /\b(test|monitor|mid|tid|obdmid|service 0?6|mode 0?6)\b/i;

/**
 * Rows that are results of on-board monitoring: those with a limit of their own, and triples "… value", "… minimum",
 * "… maximum" of one test. Everything else comes back as `rest`, in order.
 */
export function gatherMonitorResults(rows: readonly RawReading[]): {
  readonly results: readonly MonitorResult[];
  readonly rest: readonly RawReading[];
} {
  const results: MonitorResult[] = [];
  const rest: RawReading[] = [];
  const spread = new Map<string, Partial<Record<'value' | 'low' | 'high', RawReading>>>();
  for (const row of rows) {
    if (!Number.isNaN(row.value) && !(Number.isNaN(row.low) && Number.isNaN(row.high))) {
      results.push(result(row.name, row, row.low, row.high));
      continue;
    }
    const part = PART.exec(row.name);
    const base = part === null ? '' : row.name.slice(0, part.index).trim();
    if (part === null || !TEST.test(base)) {
      rest.push(row);
      continue;
    }
    const word = part[1]!.toLowerCase();
    const key = /^(value|result)/.test(word) ? 'value' : /^(min|low)/.test(word) ? 'low' : 'high';
    spread.set(base, { ...spread.get(base), [key]: row });
  }
  for (const [name, { value, low, high }] of spread) {
    if (value === undefined || (low === undefined && high === undefined)) {
      rest.push(...[value, low, high].filter((each) => each !== undefined));
      continue;
    }
    results.push(result(name, value, low?.value ?? Number.NaN, high?.value ?? Number.NaN));
  }
  return { results, rest };
}

function result(name: string, row: RawReading, low: number, high: number): MonitorResult {
  const notRun = row.value === 0 && !(low !== 0 && !Number.isNaN(low)) && !(high !== 0 && !Number.isNaN(high));
  return { name, value: row.value, low, high, unit: row.unit, notRun, line: row.line };
}
