import { COAST_DOWN } from '../derived/coast-down.js';
import { CRANK_VOLTAGES } from '../derived/crank-voltage.js';
import { OIL_HOT_IDLE } from '../derived/oil-hot-idle.js';
import { type Drive, isRefusal } from '../derived/recipe.js';
import { WARM_UPS } from '../derived/warm-up.js';
import type { Result } from '../engine/assessment.js';
import { median } from '../math/quantile.js';
import { standardDeviation } from '../math/standard-deviation.js';
import type { MeasureValue } from './entry.js';
import { trackedId } from './tracked.js';

/** Width of a two-sided 95 % interval in standard errors. */
const WIDTH_95 = 2 * 1.96;

/** What a result holds beyond its plain measures: standard errors, and values one a gear pair or test. */
export function fromResult(result: Result): MeasureValue[] {
  switch (result.rule) {
    case 'fuel.trim':
      return trims(result);
    case 'air.charge-cooling':
      return between(result, 'effectiveness', 'effectivenessLow', 'effectivenessHigh', '1');
    case 'transmission.over-temperature':
      return between(result, 'coolingTimeConstant', 'coolingTimeConstant.low', 'coolingTimeConstant.high', 's');
    case 'transmission.shift-quality':
      return shifts(result);
    case 'codes.monitor-results':
      return margins(result);
    default:
      return [];
  }
}

function details(result: Result, name: string): readonly Record<string, unknown>[] {
  const list = 'details' in result ? result.details?.[name] : undefined;
  return Array.isArray(list) ? (list as Record<string, unknown>[]) : [];
}

/** Trims keep the uncertainty of each median. */
function trims(result: Result): MeasureValue[] {
  return details(result, 'cells').map((cell) => ({
    id: trackedId(result.rule, `${cell.regime}.${cell.bank}`),
    value: Number(cell.value),
    standardError: positive(Number(cell.uncertainty)),
    samples: positive(Number(cell.samples)),
    unit: '%',
  }));
}

/** A value that a result gives with the bounds of its 95 % interval. */
function between(result: Result, name: string, lowName: string, highName: string, unit: string): MeasureValue[] {
  const measures = 'measures' in result ? (result.measures ?? {}) : {};
  const [value, low, high] = [name, lowName, highName].map((each) => measures[each]?.value);
  if (typeof value !== 'number' || typeof low !== 'number' || typeof high !== 'number') return [];
  const standardError = positive((high - low) / WIDTH_95);
  return [{ id: trackedId(result.rule, name), value, standardError, samples: null, unit }];
}

/** Shifts of one pair of gears that a median is made of, at least. */
const SHIFTS = 3;

/** Shift time a pair of gears: median, and its error from the scatter and from the reading of each. */
function shifts(result: Result): MeasureValue[] {
  const byPair = new Map<string, { duration: number; u: number }[]>();
  for (const { pair, duration, durationU } of details(result, 'shifts')) {
    const list = byPair.get(String(pair)) ?? [];
    list.push({ duration: Number(duration), u: Number(durationU) });
    byPair.set(String(pair), list);
  }
  return [...byPair]
    .filter(([, list]) => list.length >= SHIFTS)
    .map(([pair, list]) => {
      const durations = list.map(({ duration }) => duration);
      const reading = Math.sqrt(list.reduce((sum, { u }) => sum + u * u, 0) / list.length);
      // Error of a median: 1.2533 sigma / sqrt(n) (Kenney and Keeping, Mathematics of Statistics, 1962).
      const error = (1.2533 * Math.max(standardDeviation(durations), reading)) / Math.sqrt(list.length);
      return {
        id: trackedId(result.rule, `duration.${pair}`),
        value: median(durations),
        standardError: positive(error),
        samples: list.length,
        unit: 's',
      };
    });
}

/** Margin of each monitor test that is named in a file: the name becomes a short word of letters and digits. */
function margins(result: Result): MeasureValue[] {
  return details(result, 'tests').flatMap(({ name, left }) => {
    const word = String(name)
      .toLowerCase()
      .replace(/[^a-z0-9]+/g, '-')
      .replace(/^-|-$/g, '')
      .slice(0, 40);
    const value = Number(left);
    if (word === '' || !Number.isFinite(value)) return [];
    return [{ id: trackedId(result.rule, `margin.${word}`), value, standardError: null, samples: 1, unit: '%' }];
  });
}

/** Measures whose error only the opened recording tells; of several recordings of one drive the surest counts. */
export function fromDrives(drives: readonly Drive[]): MeasureValue[] {
  const found = new Map<string, MeasureValue>();
  for (const drive of drives) {
    if (drive.recording.readOut !== undefined) continue;
    for (const value of fromDrive(drive)) {
      const before = found.get(value.id)?.standardError ?? Number.POSITIVE_INFINITY;
      if (value.standardError !== null && value.standardError < before) found.set(value.id, value);
    }
  }
  return [...found.values()];
}

function fromDrive(drive: Drive): MeasureValue[] {
  const values: MeasureValue[] = [];
  const add = (rule: string, measure: string, value: number, u: number, samples: number | null, unit: string): void => {
    if (!Number.isFinite(value) || !Number.isFinite(u)) return;
    values.push({ id: trackedId(rule, measure), value, standardError: positive(u), samples, unit });
  };
  const crank = drive.derive(CRANK_VOLTAGES);
  if (!isRefusal(crank)) {
    const lowest = [...crank.plateaus].sort((a, b) => a.voltage - b.voltage)[0];
    if (lowest !== undefined) add('electrical.charging', 'crank', lowest.voltage, lowest.u, lowest.samples, 'V');
  }
  const warmUps = drive.derive(WARM_UPS);
  if (!isRefusal(warmUps))
    for (const fluid of ['coolant', 'oil', 'transmission'] as const) {
      const one = warmUps[fluid];
      // tau = 1 / rate, so its error is that of the rate times tau squared (JCGM 100:2008 5.1.2).
      if (!isRefusal(one) && one.rateU < 0.5 * one.rate)
        add('engine.cooling', `timeConstant.${fluid}`, one.tau, one.rateU * one.tau * one.tau, null, 's');
    }
  const oil = drive.derive(OIL_HOT_IDLE);
  if (!isRefusal(oil)) add('engine.oil-pressure', 'hotIdleReference', oil.pressure, oil.u, oil.samples, 'bar');
  const coast = drive.derive(COAST_DOWN);
  if (!isRefusal(coast))
    add('driveline.wheel-speed', 'coastDown', coast.deceleration, coast.u, coast.coasts.length, 'm/s2');
  return values;
}

/** Null for what is no positive number: an error of nothing would outweigh all others. */
function positive(value: number): number | null {
  return Number.isFinite(value) && value > 0 ? value : null;
}
