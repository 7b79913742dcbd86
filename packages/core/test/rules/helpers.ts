import { type Drive, isRefusal, type Missing, type Recipe, type Refusal } from '../../src/derived/recipe.js';
import type { Result } from '../../src/engine/assessment.js';
import type { Certainty, Channel, Place, Quality, Recording } from '../../src/recording/recording.js';
import type { Context, Limit, Observed, Rule, View } from '../../src/rules/rule.js';
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

type AnyRule = Rule<never, string, string, readonly Recipe<unknown>[]>;

/** Runs one rule over the drives of one car as the engine does: needs, observe, judge; exceptions are not swallowed. */
export function runRule(rule: unknown, drives: Drive | readonly Drive[]): Result {
  const subject = rule as AnyRule;
  const all: readonly Drive[] = Array.isArray(drives) ? drives : [drives as Drive];
  const vehicle = all[0]?.vehicle ?? UNKNOWN_VEHICLE;
  const context = contextOf(subject, vehicle);
  const why = subject.notApplicable?.(vehicle);
  if (why !== undefined) return { rule: subject.id, outcome: 'not-applicable', summary: why };
  const observed: Observed<never>[] = [];
  const refusals: Refusal[] = [];
  for (const drive of all) {
    const absent = subject.needs.channels.filter((id) => drive.family(id).length === 0);
    if (absent.length > 0) {
      refusals.push({
        refused: true,
        reason: `no ${absent.join(', ')}`,
        missing: { channels: absent, conditions: [] },
      });
      continue;
    }
    const seen = subject.observe(viewOf(subject, drive), context);
    if (isRefusal(seen)) refusals.push(seen);
    else observed.push({ input: drive.input, observation: seen });
  }
  if (observed.length === 0) {
    const missing: Missing = {
      channels: [...new Set(refusals.flatMap((r) => r.missing.channels))],
      conditions: [...new Set(refusals.flatMap((r) => r.missing.conditions))],
    };
    const summary = refusals.map((r) => r.reason).join('; ');
    return { rule: subject.id, outcome: 'unproven', summary, missing, proves: subject.proves };
  }
  const judged = subject.judge(observed, context);
  const base = { ...judged, rule: subject.id, events: judged.events ?? [], limits: judged.limits ?? [] };
  return (judged.outcome === 'unproven' ? { ...base, proves: subject.proves } : base) as Result;
}

function viewOf(rule: AnyRule, drive: Drive): View {
  const declared = [...rule.needs.channels, ...rule.needs.optional];
  const check = (id: string): void => {
    if (!declared.some((d) => id === d || id.startsWith(`${d}.`)))
      throw new Error(`${rule.id} reads ${id}, which it does not declare`);
  };
  return {
    input: drive.input,
    time: drive.time,
    duration: drive.recording.duration,
    vehicle: drive.vehicle,
    channel: (id) => {
      check(id);
      const found = drive.channel(id) ?? drive.family(id)[0];
      if (!found) throw new Error(`${rule.id} needs ${id}, which is absent`);
      return found;
    },
    optional: (id) => {
      check(id);
      return drive.channel(id);
    },
    family: (base) => {
      check(base);
      return drive.family(base);
    },
    derive: (wanted) => {
      if (!rule.needs.derived.includes(wanted))
        throw new Error(`${rule.id} reads ${wanted.id}, which it does not declare`);
      return drive.derive(wanted);
    },
  };
}

/** The rule's limits for a variant, the profile's overrides applied. */
export function contextOf(rule: unknown, vehicle: Vehicle): Context {
  const subject = rule as AnyRule;
  return {
    vehicle,
    limits: (variant = {}) => {
      const out: Record<string, Limit> = {};
      for (const l of subject.limits) {
        if (l.when && !Object.entries(l.when).every(([k, v]) => variant[k] === v)) continue;
        const { when: _when, ...limit } = l;
        const own = vehicle.limits[subject.id]?.[l.name];
        out[l.name] = own === undefined ? limit : { ...limit, value: own.value, unit: own.unit, source: 'profile' };
      }
      return out;
    },
  };
}
