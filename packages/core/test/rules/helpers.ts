import type { Drive } from '../../src/derived/recipe.js';
import type { Result } from '../../src/engine/assessment.js';
import { openDrive } from '../../src/engine/drive.js';
import { judge, observe, openNotebooks } from '../../src/engine/judge.js';
import { type Changes, changesOf } from '../../src/recording/changes.js';
import type { Certainty, Channel, Place, Quality, Recording } from '../../src/recording/recording.js';
import { groupRates, refreshRate } from '../../src/recording/refresh.js';
import { scanRuns } from '../../src/recording/run.js';
import type { Rule } from '../../src/rules/rule.js';
import { UNKNOWN_VEHICLE, type Vehicle } from '../../src/vehicle/vehicle.js';

/** A signal as numbers per row, as a function of time (s), or with more said about it. */
export type Signal =
  | ArrayLike<number>
  | ((t: number) => number)
  | {
      readonly values: ArrayLike<number> | ((t: number) => number);
      readonly unit?: string;
      readonly certainty?: Certainty;
      readonly place?: Place;
      readonly quality?: Partial<Quality>;
    };

/** Parts of a vehicle; what is left out is unknown. */
export type VehiclePatch = { readonly [K in keyof Vehicle]?: Partial<Vehicle[K]> & Vehicle[K] };

/** A car of which only `patch` is known. */
export function car(patch: VehiclePatch = {}): Vehicle {
  return { ...UNKNOWN_VEHICLE, ...patch } as Vehicle;
}

/** Evenly spaced seconds: `duration` s at `rate` Hz, both ends included. */
export function clock(duration: number, rate: number): Float64Array {
  const time = new Float64Array(Math.round(duration * rate) + 1);
  for (let i = 0; i < time.length; i++) time[i] = i / rate;
  return time;
}

/**
 * A drive from synthetic signals. Quality is measured as the reader would: rate from the spacing of changes, quantum
 * from the smallest step; a signal may state its own.
 */
export function driveOf(
  time: Float64Array,
  signals: Readonly<Record<string, Signal>>,
  vehicle: Vehicle = UNKNOWN_VEHICLE,
  input = 0,
): Drive {
  const found: { channel: Channel; changes: Changes; fillRate: number; stated: Partial<Quality> }[] = [];
  for (const [id, signal] of Object.entries(signals)) {
    const spec =
      typeof signal === 'object' && 'values' in signal && !ArrayBuffer.isView(signal) ? signal : { values: signal };
    const more = spec as { unit?: string; certainty?: Certainty; place?: Place; quality?: Partial<Quality> };
    const source = spec.values as ArrayLike<number> | ((t: number) => number);
    const values = new Float64Array(time.length);
    for (let i = 0; i < time.length; i++)
      values[i] = typeof source === 'function' ? source(time[i]!) : (source[i] ?? Number.NaN);
    const { quality, changes, fillRate } = measured(values, time);
    const unit = more.unit ?? '';
    const place = more.place === undefined ? {} : { place: more.place };
    const channel = {
      id,
      unit,
      values,
      source: id,
      sourceUnit: unit,
      certainty: more.certainty ?? 'certain',
      ...place,
      quality,
    };
    found.push({ channel, changes, fillRate, stated: more.quality ?? {} });
  }
  const rowRate = time.length > 1 ? (time.length - 1) / (time[time.length - 1]! - time[0]!) : Number.NaN;
  const cadences = found.map(({ channel, changes, fillRate }) => ({ rate: channel.quality.rate, changes, fillRate }));
  const groups = groupRates(cadences, time.length, rowRate);
  const channels = new Map<string, Channel>();
  found.forEach(({ channel, stated }, k) => {
    const quality = { ...channel.quality, groupRate: groups[k]!, ...stated };
    channels.set(channel.id, { ...channel, quality });
  });
  return openDrive(recordingOf(time, channels), vehicle, input);
}

function recordingOf(time: Float64Array, channels: ReadonlyMap<string, Channel>): Recording {
  return {
    time,
    rows: time.length,
    duration: time.length > 0 ? time[time.length - 1]! - time[0]! : 0,
    dialect: {
      encoding: 'utf-8',
      delimiter: ',',
      decimal: '.',
      headerLine: 1,
      timeFormat: 'seconds',
      confidence: { encoding: 1, delimiter: 1, decimal: 1, header: 1, time: 1 },
    },
    channels,
    columns: [],
    unrecognised: [],
    problems: [],
  };
}

/** Quality by the reader's own measures of refresh and step. */
function measured(values: Float64Array, time: Float64Array): { quality: Quality; changes: Changes; fillRate: number } {
  const runs = scanRuns(values, new Int32Array(values.length));
  const span = time.length > 1 ? time[time.length - 1]! - time[0]! : 0;
  return {
    quality: {
      rate: refreshRate(values, time, runs),
      groupRate: Number.NaN,
      quantum: runs.quantum,
      samples: runs.samples,
      removed: { sentinel: 0, implausible: 0, spike: 0 },
      frozen: [],
      saturated: [],
      constant: runs.quantum === 0,
    },
    changes: changesOf(runs, values.length),
    fillRate: runs.samples < 0.7 * values.length && span > 0 ? runs.samples / span : Number.NaN,
  };
}

/** Runs one rule over the drives of one car through the engine; an exception inside the rule is thrown, not reported. */
export function runRule(rule: unknown, drives: Drive | readonly Drive[]): Result {
  const all: readonly Drive[] = Array.isArray(drives) ? drives : [drives as Drive];
  const notebooks = openNotebooks([rule as Rule]);
  for (const drive of all) observe(notebooks, drive);
  const failure = notebooks[0]?.failure;
  if (failure !== undefined) throw new Error(failure);
  const [result] = judge(notebooks, all[0]?.vehicle ?? UNKNOWN_VEHICLE);
  if (result === undefined || result.outcome === 'error') throw new Error(result?.error ?? 'no result');
  return result;
}
