import type { Drive, Recipe, Refusal } from '../../src/derived/recipe.js';
import type { Result } from '../../src/engine/assessment.js';
import { judge, observe, openNotebooks } from '../../src/engine/judge.js';
import type { Certainty, Channel, Place, Quality, Recording } from '../../src/recording/recording.js';
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
  const channels = new Map<string, Channel>();
  const rates: number[] = [];
  for (const [id, signal] of Object.entries(signals)) {
    const spec =
      typeof signal === 'object' && 'values' in signal && !ArrayBuffer.isView(signal) ? signal : { values: signal };
    const source = spec.values as ArrayLike<number> | ((t: number) => number);
    const values = new Float64Array(time.length);
    for (let i = 0; i < time.length; i++)
      values[i] = typeof source === 'function' ? source(time[i]!) : (source[i] ?? Number.NaN);
    const more = spec as { unit?: string; certainty?: Certainty; place?: Place; quality?: Partial<Quality> };
    const quality = { ...measuredQuality(values, time), ...more.quality };
    if (Number.isFinite(quality.rate)) rates.push(quality.rate);
    channels.set(id, {
      id,
      unit: more.unit ?? '',
      values,
      source: id,
      sourceUnit: more.unit ?? '',
      certainty: more.certainty ?? 'certain',
      ...(more.place === undefined ? {} : { place: more.place }),
      quality,
    });
  }
  const group = rates.length > 0 ? Math.max(...rates) : Number.NaN;
  for (const [id, channel] of channels) {
    const stated = Number.isFinite(channel.quality.groupRate) ? channel.quality.groupRate : group;
    channels.set(id, { ...channel, quality: { ...channel.quality, groupRate: stated } });
  }
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

function measuredQuality(values: Float64Array, time: Float64Array): Quality {
  let samples = 0;
  let previous = Number.NaN;
  let quantum = 0;
  let lastChange = Number.NaN;
  const spacings: number[] = [];
  for (let i = 0; i < values.length; i++) {
    const v = values[i]!;
    if (Number.isNaN(v)) continue;
    samples++;
    const step = Math.abs(v - previous);
    if (step > 0) {
      if (quantum === 0 || step < quantum) quantum = step;
      if (!Number.isNaN(lastChange)) spacings.push(time[i]! - lastChange);
      lastChange = time[i]!;
    }
    previous = v;
  }
  spacings.sort((a, b) => a - b);
  const typical = spacings[spacings.length >> 1] ?? Number.NaN;
  return {
    rate: 1 / typical,
    groupRate: Number.NaN,
    quantum,
    samples,
    removed: { sentinel: 0, implausible: 0, spike: 0 },
    frozen: [],
    saturated: [],
    constant: quantum === 0,
  };
}

function openDrive(recording: Recording, vehicle: Vehicle, input: number): Drive {
  const known = new Map<unknown, unknown>();
  const drive: Drive = {
    input,
    recording,
    vehicle,
    time: recording.time,
    channel: (id) => recording.channels.get(id),
    family: (base) =>
      [...recording.channels.values()]
        .filter((c) => c.id === base || c.id.startsWith(`${base}.`))
        .sort((a, b) => a.id.localeCompare(b.id, 'en', { numeric: true })),
    derive: <T>(wanted: Recipe<T>): T | Refusal => {
      if (!known.has(wanted)) known.set(wanted, wanted.compute(drive));
      return known.get(wanted) as T | Refusal;
    },
  };
  return drive;
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
