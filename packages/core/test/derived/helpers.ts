import type { Drive } from '../../src/derived/recipe.js';
import { openDrive } from '../../src/engine/drive.js';
import { changesOf } from '../../src/recording/changes.js';
import type { Channel, Place, Recording } from '../../src/recording/recording.js';
import { groupRates, refreshRate } from '../../src/recording/refresh.js';
import { scanRuns } from '../../src/recording/run.js';
import { UNKNOWN_VEHICLE, type Vehicle } from '../../src/vehicle/vehicle.js';

export interface DriveSpec {
  /** Seconds; or give `hz` and the rows follow from the channels. */
  readonly time?: ArrayLike<number>;
  readonly hz?: number;
  readonly channels: Readonly<Record<string, ArrayLike<number>>>;
  readonly units?: Readonly<Record<string, string>>;
  readonly places?: Readonly<Record<string, Place>>;
  readonly vehicle?: Partial<Vehicle>;
  readonly input?: number;
}

/** A drive from plain arrays; the quality of each channel is computed by the functions that ingest uses. */
export function driveOf(spec: DriveSpec): Drive {
  return openDrive(recordingOf(spec), { ...UNKNOWN_VEHICLE, ...spec.vehicle }, spec.input ?? 0);
}

export function recordingOf(spec: DriveSpec): Recording {
  const ids = Object.keys(spec.channels);
  const rows = spec.time?.length ?? spec.channels[ids[0]!]!.length;
  const time = Float64Array.from(spec.time ?? Array.from({ length: rows }, (_, i) => i / spec.hz!));
  const scratch = new Int32Array(rows);
  const rowRate = 1 / middle(Array.from(time.subarray(1), (t, i) => t - time[i]!));
  const parts = ids.map((id) => {
    const values = Float64Array.from(spec.channels[id]!);
    if (values.length !== rows) throw new RangeError(`${id} has ${values.length} rows, expected ${rows}`);
    const scanned = scanRuns(values, scratch);
    const runs = { ...scanned, starts: scratch.slice(0, scanned.count) };
    return { id, values, runs, rate: refreshRate(values, time, runs) };
  });
  const span = time[rows - 1]! - time[0]!;
  const groups = groupRates(
    parts.map(({ rate, runs }) => ({
      rate,
      changes: changesOf(runs, rows),
      fillRate: runs.samples < 0.7 * rows ? runs.samples / span : Number.NaN,
    })),
    rows,
    rowRate,
  );
  const channels = new Map<string, Channel>();
  for (const [k, { id, values, runs, rate }] of parts.entries()) {
    const place = spec.places?.[id];
    channels.set(id, {
      id,
      unit: spec.units?.[id] ?? '',
      values,
      source: id,
      sourceUnit: '',
      certainty: 'certain',
      ...(place === undefined ? {} : { place }),
      quality: {
        rate,
        groupRate: groups[k]!,
        quantum: runs.quantum,
        samples: runs.samples,
        removed: { sentinel: 0, implausible: 0, spike: 0 },
        frozen: [],
        saturated: [],
        constant: runs.count <= 1,
      },
    });
  }
  return {
    time,
    rows,
    duration: span,
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

function middle(values: number[]): number {
  return values.sort((a, b) => a - b)[values.length >> 1] ?? 1;
}

/** Samples of a function of time, rounded to `quantum`, renewed every `every` rows only (a logger that repeats values). */
export function sampled(
  rows: number,
  hz: number,
  f: (t: number) => number,
  quantum = 0,
  every = 1,
  rounding: 'floor' | 'round' = 'round',
): Float64Array {
  const values = new Float64Array(rows);
  for (let i = 0; i < rows; i++) {
    if (i % every !== 0) {
      values[i] = values[i - 1]!;
      continue;
    }
    const x = f(i / hz);
    values[i] = quantum > 0 ? Math[rounding](x / quantum + (rounding === 'floor' ? 1e-9 : 0)) * quantum : x;
  }
  return values;
}

/** Piecewise linear: `[t, value]` knots; ends hold. */
export function ramp(...knots: readonly (readonly [number, number])[]): (t: number) => number {
  return (t) => {
    let k = 0;
    while (k < knots.length && knots[k]![0] <= t) k++;
    if (k === 0) return knots[0]![1];
    if (k === knots.length) return knots[k - 1]![1];
    const [t0, v0] = knots[k - 1]!;
    const [t1, v1] = knots[k]!;
    return v0 + ((v1 - v0) * (t - t0)) / (t1 - t0);
  };
}

/** A seeded generator (mulberry32) of standard normal numbers, by Box-Muller. */
export function gaussian(seed: number): () => number {
  let state = seed >>> 0;
  const uniform = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  return () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
}
