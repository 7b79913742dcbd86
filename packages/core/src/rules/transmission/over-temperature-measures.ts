import { exceeds } from '../../derived/exceeds.js';
import { median } from '../../math/quantile.js';
import type { Limit, Measure, RuleEvent } from '../rule.js';
import type { Reading } from './over-temperature-reading.js';

/** One channel of one drive. */
export interface Seen {
  readonly input: number;
  readonly reading: Reading;
}

/** Half-width of the tolerance of each of the two sensors compared for the cooler, K. Common practice, no source. */
const SENSOR_TOLERANCE = 1;

export interface Cooler {
  readonly difference: number;
  readonly uncertainty: number;
  readonly seconds: number;
  readonly samples: number;
  readonly beyond: boolean;
  readonly limit: Limit;
  readonly reading: Reading;
}

/** The longest steady motorway stretch of all drives against the limit for the cooler. */
export function coolerOf(seen: readonly Seen[], limit: Limit | undefined): Cooler | undefined {
  let best: Reading | undefined;
  for (const { reading } of seen) {
    if (reading.steady && (best?.steady?.seconds ?? 0) < reading.steady.seconds) best = reading;
  }
  if (best?.steady === undefined || limit === undefined) return undefined;
  const { difference, seconds } = best.steady;
  const uncertainty = Math.hypot(best.uncertainty, SENSOR_TOLERANCE * Math.sqrt(2 / 3));
  const beyond = exceeds(difference, uncertainty, limit.value, limit.comparison) === 'beyond';
  return { difference, uncertainty, seconds, samples: Math.round(seconds * best.hz), beyond, limit, reading: best };
}

export function measuresOf(seen: readonly Seen[], cooler: Cooler | undefined): Record<string, Measure> {
  const readings = seen.map(({ reading }) => reading);
  const measures: Record<string, Measure> = {
    peak: { value: Math.max(...readings.map(({ peak }) => peak)), unit: 'degC' },
    events: { value: eventCount(seen) },
    dwell: { value: sum(readings.map(({ dwell }) => Math.max(0, ...Object.values(dwell)))), unit: 's' },
  };
  for (const name of Object.keys(readings[0]!.dwell)) {
    measures[`dwell.${name}`] = { value: dwellAbove(seen, name), unit: 's' };
  }
  measures.warm = { value: sum(readings.map(({ warm }) => warm)), unit: 's' };
  if (readings[0]!.place === 'sump') {
    const hours = sum(readings.map(({ equivalentHours }) => equivalentHours));
    measures.ageing = { value: hours, unit: 'h' };
    measures.ageingPerHour = { value: hours / (sum(readings.map(({ seen: s }) => s)) / 3600) };
  }
  const heating = readings.flatMap(({ heatingPerPull }) => heatingPerPull);
  const starts = readings.flatMap(({ heatingPerStart }) => heatingPerStart);
  if (heating.length > 0) measures.heatingPerPull = { value: median(heating), unit: 'K' };
  if (starts.length > 0) measures.heatingPerStart = { value: median(starts), unit: 'K' };
  const [cooling] = readings.flatMap(({ cooling: each }) => each ?? []).sort((a, b) => a.high / a.low - b.high / b.low);
  if (cooling) {
    measures.coolingTimeConstant = { value: cooling.timeConstant, unit: 's' };
    measures['coolingTimeConstant.low'] = { value: cooling.low, unit: 's' };
    measures['coolingTimeConstant.high'] = { value: cooling.high, unit: 's' };
  }
  if (cooler) measures.aboveCoolant = { value: cooler.difference, unit: 'K' };
  return measures;
}

/** Each event with what is usual for this car and the limit that it reached, the lowest where it reached none surely. */
export function eventsOf(seen: readonly Seen[], limits: readonly Limit[]): RuleEvent[] {
  return seen.flatMap(({ input, reading }) =>
    reading.events.map(({ from, to, severity, peak }) => {
      const limit = limits.find(({ name }) => name === severity) ?? limits[0];
      return {
        input,
        from,
        to,
        ...(severity === undefined ? {} : { severity }),
        peak: { value: peak, unit: 'degC' },
        ...(Number.isNaN(reading.usual) ? {} : { usual: { value: reading.usual, unit: 'degC' } }),
        ...(limit === undefined ? {} : { limit: { value: limit.value, unit: 'degC' } }),
      };
    }),
  );
}

export function eventCount(seen: readonly Seen[]): number {
  return sum(seen.map(({ reading }) => reading.events.length));
}

/** Seconds above the limit of that name, over all drives. */
export function dwellAbove(seen: readonly Seen[], name: string): number {
  return sum(seen.map(({ reading }) => reading.dwell[name] ?? 0));
}

export function sum(values: readonly number[]): number {
  let total = 0;
  for (const value of values) total += value;
  return total;
}
