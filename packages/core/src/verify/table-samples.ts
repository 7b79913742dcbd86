import { type Drive, isRefusal } from '../derived/recipe.js';
import { samplesOf } from '../derived/samples.js';
import { TOTAL_TRIM } from '../derived/total-trim.js';
import type { Admitted } from './admitted.js';
import type { Axes } from './axes.js';
import type { Quantity, Readings } from './signal.js';
import { BOOST_ERROR } from './signals-air.js';
import { exhaust, IGNITION, IGNITION_ERROR, IGNITION_WANTED, KNOCK, MEAN_PRESSURE, TORQUE } from './signals-engine.js';
import { FEED_SHORTAGE, INJECTION_ANGLE, INJECTOR_DUTY, RAIL_SHORTAGE } from './signals-fuel.js';
import { MIXTURE_ERROR } from './signals-mixture.js';

const TRIM: Quantity = {
  id: 'totalTrim',
  unit: '%',
  about: 'total fuel trim of a bank in closed loop',
  read(drive) {
    const trim = drive.derive(TOTAL_TRIM);
    if (isRefusal(trim)) return trim;
    return trim.banks.map(({ name, total, quantum, hz }) => ({
      member: name.replace(/(\d+)$/, ' $1'),
      values: total,
      u: quantum / Math.sqrt(12),
      hz: Number.isFinite(hz) ? hz : 1 / samplesOf(drive).spacing,
    }));
  },
};

/** What is drawn up over engine speed and load; `harm` = the end that harms, as an extreme. */
export const TABLED: readonly {
  readonly quantity: Quantity;
  readonly title: string;
  readonly harm: 'high' | 'low' | 'both';
}[] = Object.freeze([
  { quantity: KNOCK, title: 'knock retard', harm: 'high' },
  { quantity: MIXTURE_ERROR, title: 'mixture error', harm: 'high' },
  { quantity: TRIM, title: 'total trim', harm: 'both' },
  { quantity: IGNITION, title: 'ignition', harm: 'high' },
  { quantity: IGNITION_WANTED, title: 'ignition asked for', harm: 'high' },
  { quantity: IGNITION_ERROR, title: 'ignition error', harm: 'low' },
  { quantity: BOOST_ERROR, title: 'boost error', harm: 'high' },
  { quantity: INJECTOR_DUTY, title: 'injector duty', harm: 'high' },
  { quantity: INJECTION_ANGLE, title: 'injection angle', harm: 'high' },
  { quantity: RAIL_SHORTAGE, title: 'rail pressure missing', harm: 'high' },
  { quantity: FEED_SHORTAGE, title: 'feed pressure missing', harm: 'high' },
  { quantity: exhaust('before-turbine'), title: 'exhaust gas before the turbine', harm: 'high' },
  { quantity: exhaust('after-turbine'), title: 'exhaust gas after the turbine', harm: 'high' },
  { quantity: TORQUE, title: 'engine torque', harm: 'high' },
  { quantity: MEAN_PRESSURE, title: 'mean effective pressure', harm: 'high' },
]);

/** Samples of one table: a row a fresh, admitted value. */
export interface SampleSet {
  readonly speed: number[];
  readonly load: number[];
  readonly value: number[];
  /** Stretch of admitted rows, numbered through all recordings. */
  readonly stretch: number[];
}

export function emptySet(): SampleSet {
  return { speed: [], load: [], value: [], stretch: [] };
}

/** Adds what a drive shows of every table. @param from number of its first stretch; @param into sets by `id/member` */
export function collect(
  drive: Drive,
  axes: Axes,
  { stretch }: Admitted,
  from: number,
  into: Map<string, SampleSet>,
  readings: Readings,
): void {
  const samples = samplesOf(drive);
  const speed = samples.held('engineSpeed');
  const load = samples.held(axes.load.channel);
  if (speed === undefined || load === undefined) return;
  for (const { quantity } of TABLED) {
    const signals = readings(quantity);
    if (isRefusal(signals)) continue;
    for (const { member, values, hz } of signals) {
      const key = `${quantity.id}/${member}`;
      const set = into.get(key) ?? emptySet();
      into.set(key, set);
      addRows(set, { values, hz, speed, load, stretch, from, time: drive.time });
    }
  }
}

export interface Rows {
  readonly values: Float64Array;
  readonly hz: number;
  readonly speed: Float64Array;
  readonly load: Float64Array;
  readonly stretch: Int32Array;
  readonly from: number;
  readonly time: Float64Array;
}

/** Samples a second that a table takes: more of them hang together so much that they add nothing. */
const MOST_HZ = 10;

/** Rows nearer to each other than the pace of the channel repeat one measurement: the first counts. */
export function addRows(set: SampleSet, { values, hz, speed, load, stretch, from, time }: Rows): void {
  const pace = 0.95 / Math.min(hz, MOST_HZ);
  let last = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < values.length; i++) {
    if (stretch[i]! < 0 || Number.isNaN(values[i]!) || time[i]! - last < pace) continue;
    if (Number.isNaN(speed[i]!) || Number.isNaN(load[i]!)) continue;
    last = time[i]!;
    set.speed.push(speed[i]!);
    set.load.push(load[i]!);
    set.value.push(values[i]!);
    set.stretch.push(from + stretch[i]!);
  }
}
