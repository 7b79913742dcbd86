import type { Ambient } from '../../derived/ambient.js';
import { uncertaintyOf } from '../../derived/exceeds.js';
import type { Samples } from '../../derived/samples.js';
import { heldMaximum } from '../../math/held-maximum.js';
import { linearRegression } from '../../math/linear-regression.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';

export type Side = 'rail' | 'feed';

/** The target has to rest for this long (s), within this share, before and at the row. */
const STILL_FOR = 0.3;
const STILL = 0.015;
/** A deviation counts when it lasts this long, s. */
const HELD = 0.5;
/** Half-width of what a pressure sensor may be off, share. Common practice, no source. */
const TOLERANCE = 0.02;
/** Low-pressure systems, kPa: their regulators may work against the manifold, their columns be absolute. */
const LOW_PRESSURE = 1500;
/** Slope of the difference over manifold pressure that shows a regulator working against the manifold. */
const REFERENCED = [0.7, 1.3] as const;
/** kPa: a constant difference this near the atmosphere is gauge beside absolute. */
const ATMOSPHERE = [93, 110] as const;
/** Median of actual over target outside this: columns in different units. */
const COMPARABLE = [0.6, 1.6] as const;

export interface Deviation {
  /** Share of the target, positive in its direction. */
  readonly value: number;
  readonly u: number;
  readonly from: number;
  /** Rows of the stretch. */
  readonly index: number;
  readonly actual: number;
  readonly target: number;
}

export interface SideReading {
  readonly side: Side;
  readonly below: Deviation | undefined;
  readonly above: Deviation | undefined;
  /** Share of the target row by row; NaN where not judged. */
  readonly error: Float64Array;
  /** Seconds judged in full load, and in all. */
  readonly loaded: number;
  readonly seconds: number;
  readonly samples: number;
  readonly hz: number;
  readonly channels: readonly Channel[];
  readonly notes: readonly string[];
  /** Why the pair cannot be compared. */
  readonly refused?: string;
}

export interface SideParts {
  readonly side: Side;
  readonly actual: Channel;
  readonly target: Channel;
  readonly samples: Samples;
  readonly time: Float64Array;
  /** 1 where pressure is to be judged: engine running, no fuel cut. */
  readonly use: Uint8Array;
  readonly full: Uint8Array;
  readonly manifold: Float64Array | undefined;
  readonly ambient: Ambient | undefined;
}

/** One pressure against its target. */
export function sideReading(parts: SideParts): SideReading {
  const { side, actual, target, samples, time, use, full } = parts;
  const wanted = samples.held(target.id)!;
  const notes: string[] = [];
  const error = new Float64Array(time.length).fill(Number.NaN);
  const hz = Math.min(samples.hz(actual.id), 50);
  const base = { side, error, hz, channels: [actual, target], loaded: 0, seconds: 0, samples: 0 };
  const nothing = { ...base, below: undefined, above: undefined };
  const still = stillRows(wanted, time);
  const rows: number[] = [];
  for (let i = 0; i < time.length; i++) if (use[i] === 1 && still[i] === 1 && wanted[i]! > 0) rows.push(i);
  const raw = samples.held(actual.id)!;
  const ratio = median(rows.map((i) => raw[i]! / wanted[i]!));
  if (rows.length < 10) return { ...nothing, notes };
  if (!(ratio >= COMPARABLE[0] && ratio <= COMPARABLE[1]) && !offByAtmosphere(rows, raw, wanted)) {
    const refused = `${actual.id} is ${ratio.toPrecision(2)} times its target throughout: columns in different units, or not of one place`;
    return { ...nothing, notes, refused };
  }
  const read = settled(parts, raw, wanted, rows, notes);
  let loaded = 0;
  for (const i of rows) {
    error[i] = (read[i]! - wanted[i]!) / wanted[i]!;
    if (full[i] === 1) loaded++;
  }
  const deviation = (sign: 1 | -1): Deviation | undefined => {
    const values = error.map((e) => sign * e);
    const { value, index } = heldMaximum(values, time, Math.max(HELD, 2 / hz), samples.maxStep);
    if (index < 0) return undefined;
    const u = Math.hypot(uncertaintyOf(actual) / wanted[index]!, TOLERANCE / Math.sqrt(3));
    return { value, u, from: time[index]!, index, actual: read[index]!, target: wanted[index]! };
  };
  const seconds = rows.length * samples.spacing;
  return {
    ...base,
    below: deviation(-1),
    above: deviation(1),
    loaded: loaded * samples.spacing,
    seconds,
    samples: Math.max(3, Math.round(HELD * hz)),
    notes,
  };
}

/** 1 where the target has rested. */
function stillRows(target: Float64Array, time: Float64Array): Uint8Array {
  const still = new Uint8Array(target.length);
  let first = 0;
  for (let i = 1; i < still.length; i++) {
    while (time[i]! - time[first]! > STILL_FOR + 1e-9) first++;
    const back = first === i ? i - 1 : first;
    let rests = time[i]! - time[back]! < 2.5;
    for (let k = back; k < i && rests; k++) rests = Math.abs(target[k]! - target[i]!) <= STILL * Math.abs(target[i]!);
    if (rests) still[i] = 1;
  }
  return still;
}

function offByAtmosphere(rows: readonly number[], raw: Float64Array, wanted: Float64Array): boolean {
  const offset = Math.abs(median(rows.map((i) => raw[i]! - wanted[i]!)));
  return offset >= ATMOSPHERE[0] && offset <= ATMOSPHERE[1];
}

/** The pressure as the target means it: regulator against the manifold, gauge beside absolute. Low pressure only. */
function settled(
  { manifold, ambient, actual }: SideParts,
  raw: Float64Array,
  wanted: Float64Array,
  rows: readonly number[],
  notes: string[],
): Float64Array {
  if (median(rows.map((i) => wanted[i]!)) > LOW_PRESSURE) return raw;
  let read = raw;
  if (manifold !== undefined && ambient !== undefined) {
    const gauge = rows.map((i) => manifold[i]! - ambient.pressure);
    const line = linearRegression(
      gauge,
      rows.map((i) => raw[i]! - wanted[i]!),
    );
    if (line.slope >= REFERENCED[0] && line.slope <= REFERENCED[1] && line.rSquared > 0.6) {
      read = raw.map((p, i) => p - (manifold[i]! - ambient.pressure));
      notes.push(`${actual.id} follows the manifold, its target does not: taken as pressure over the manifold.`);
    }
  }
  const offset = median(rows.map((i) => read[i]! - wanted[i]!));
  if (Math.abs(offset) >= ATMOSPHERE[0] && Math.abs(offset) <= ATMOSPHERE[1]) {
    read = read.map((p) => p - Math.sign(offset) * 101.3);
    notes.push(`${actual.id} and its target are one atmosphere apart throughout: one is absolute, the other gauge.`);
  }
  return read;
}
