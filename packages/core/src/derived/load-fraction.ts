import { quantile } from '../math/quantile.js';
import { PEDAL_RELATIVE } from './pedal-relative.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

export interface LoadFraction {
  /** 0 .. about 1.2 of the rated torque (or air mass per stroke); NaN where it cannot be told, throughout for a bound. */
  readonly values: Float64Array;
  /** 1 where the load is high beyond doubt: fraction >= 0.7, or by calculated load >= 85 %, >= 2500 rpm and pedal >= 60 %. */
  readonly high: Uint8Array;
  /** 1 where the engine pulls: fraction >= 0.4, or by calculated load >= 60 % at >= 2000 rpm. */
  readonly loaded: Uint8Array;
  /** 1 where the load is below 0.4 beyond doubt. Rows in neither mask could not be told. */
  readonly cruiseLow: Uint8Array;
  /** `calculated-load` gives masks only. So does any other `source` without a reference: then nothing but `cruiseLow`. */
  readonly basis: 'torque' | 'air-mass' | 'calculated-load';
  /** Channel it was made from. */
  readonly source: string;
  /** Relative standard uncertainty of `values`; for a calculated load it applies to no value. */
  readonly u: number;
  /** False when `high` may miss rows because the pedal condition could not be judged. */
  readonly highComplete: boolean;
}

const HIGH = 0.7;
const LOADED = 0.4;

export const LOAD_FRACTION = recipe<LoadFraction>({
  id: 'loadFraction',
  about:
    'Engine load as a fraction of what the engine can do: torque / reference torque, else air mass per stroke / rated maximum; calculated load (PID 04) is relative to what is possible at that speed and gives masks only.',
  compute(drive) {
    return (
      fromTorque(drive) ??
      fromAirMass(drive) ??
      fromCalculated(drive) ??
      fromOwnHighest(drive) ??
      refuse('no loadFraction, because engineTorque, airMassFlow, manifoldPressure and engineLoad are absent', {
        channels: ['engineLoad'],
      })
    );
  },
});

/** Torque over its reference: SAE J1979 PID 62 (already a percentage of it), or N.m over PID 63 or the profile's rated torque. */
function fromTorque(drive: Drive): LoadFraction | undefined {
  const percent = moving(drive, 'engineTorquePercent');
  if (percent !== undefined) return fromValues(scaled(percent, 0.01), 'torque', 'engineTorquePercent', 0.05);
  const torque = moving(drive, 'engineTorque');
  const reference = referenceTorque(drive);
  if (torque === undefined || !(reference > 0)) return undefined;
  return fromValues(scaled(torque, 1 / reference), 'torque', 'engineTorque', 0.05);
}

/** N.m: as recorded (the engine as built), else the profile's; NaN when neither is there. */
function referenceTorque(drive: Drive): number {
  const logged = samplesOf(drive).held('engineTorqueReference');
  const typical = logged === undefined ? Number.NaN : quantile(logged, 0.5);
  return typical > 0 ? typical : (drive.vehicle.engine.ratedTorque ?? Number.NaN);
}

/**
 * Grams of air per two revolutions and N.m at full load: brake-specific consumption of 285 g/kWh at lambda 0.88 of an
 * air-fuel ratio of 14.1, so 4 pi / 3.6e6 * 285 * 0.88 * 14.1. Common practice for turbocharged petrol engines; +-12 %.
 */
const AIR_PER_TORQUE = ((4 * Math.PI) / 3.6e6) * 285 * 0.88 * 14.1;
/** Air density that absolute load (SAE J1979 PID 43) refers to, g/L. */
const STANDARD_DENSITY = 1.184;

/** Air per two revolutions of all cylinders over that at rated torque: air meter, filling per cylinder, or absolute load. */
function fromAirMass(drive: Drive): LoadFraction | undefined {
  const { ratedTorque, displacement, cylinders } = drive.vehicle.engine;
  const full = AIR_PER_TORQUE * (ratedTorque ?? referenceTorque(drive));
  if (!(full > 0)) return undefined;
  const flow = moving(drive, 'airMassFlow');
  const speed = moving(drive, 'engineSpeed');
  if (flow !== undefined && speed !== undefined) {
    const values = new Float64Array(flow.length);
    for (let i = 0; i < flow.length; i++) {
      const rpm = speed[i]!;
      values[i] = rpm >= 300 ? (flow[i]! * 120) / rpm / full : Number.NaN;
    }
    return fromValues(values, 'air-mass', 'airMassFlow', 0.12);
  }
  const stroke = moving(drive, 'airMassPerStroke');
  if (stroke !== undefined && cylinders !== undefined) {
    return fromValues(scaled(stroke, cylinders / 1000 / full), 'air-mass', 'airMassPerStroke', 0.12);
  }
  const absolute = moving(drive, 'engineLoadAbsolute');
  if (absolute !== undefined && displacement !== undefined) {
    const factor = (STANDARD_DENSITY * displacement) / 100 / full;
    return fromValues(scaled(absolute, factor), 'air-mass', 'engineLoadAbsolute', 0.12);
  }
  return undefined;
}

/**
 * Without any reference, the share of the drive's own highest torque, filling or manifold pressure bounds the fraction
 * from above: what was reached cannot be more than what the engine can do. So only "low" can be told.
 */
function fromOwnHighest(drive: Drive): LoadFraction | undefined {
  const speed = moving(drive, 'engineSpeed');
  const flow = moving(drive, 'airMassFlow');
  const perTurn =
    speed === undefined ? undefined : flow?.map((g, i) => (speed[i]! >= 300 ? g / speed[i]! : Number.NaN));
  const candidates: readonly (readonly [string, Float64Array | undefined])[] = [
    ['engineTorque', moving(drive, 'engineTorque')],
    ['airMassPerStroke', moving(drive, 'airMassPerStroke')],
    ['airMassFlow', perTurn],
    ['engineLoadAbsolute', moving(drive, 'engineLoadAbsolute')],
    ['manifoldPressure', moving(drive, 'manifoldPressure')],
  ];
  for (const [source, values] of candidates) {
    if (values === undefined) continue;
    const highest = quantile(values, 0.999);
    if (!(highest > 0)) continue;
    const rows = values.length;
    const cruiseLow = new Uint8Array(rows);
    for (let i = 0; i < rows; i++) if (values[i]! < LOADED * highest) cruiseLow[i] = 1;
    const none = new Uint8Array(rows);
    const unknown = new Float64Array(rows).fill(Number.NaN);
    return {
      values: unknown,
      high: none,
      loaded: none,
      cruiseLow,
      basis: 'calculated-load',
      source,
      u: Number.NaN,
      highComplete: false,
    };
  }
  return undefined;
}

/** Held values of a channel that changes at all. */
function moving(drive: Drive, id: string): Float64Array | undefined {
  const channel = drive.channel(id);
  return channel === undefined || channel.quality.constant ? undefined : samplesOf(drive).held(id);
}

function fromValues(values: Float64Array, basis: 'torque' | 'air-mass', source: string, u: number): LoadFraction {
  const rows = values.length;
  const high = new Uint8Array(rows);
  const loaded = new Uint8Array(rows);
  const cruiseLow = new Uint8Array(rows);
  for (let i = 0; i < rows; i++) {
    const x = values[i]!;
    if (x >= LOADED) {
      loaded[i] = 1;
      if (x >= HIGH) high[i] = 1;
    } else if (x < LOADED) cruiseLow[i] = 1;
  }
  return { values, high, loaded, cruiseLow, basis, source, u, highComplete: true };
}

/**
 * Calculated load is air flow over the most that is possible at that speed. The most possible grows up to about
 * 2000 rpm in a turbocharged engine, so load / 100 * min(1, rpm / 2000) is an upper bound of the fraction up to there.
 */
function fromCalculated(drive: Drive): LoadFraction | undefined {
  const samples = samplesOf(drive);
  const load = moving(drive, 'engineLoad');
  const speed = samples.held('engineSpeed');
  if (load === undefined) return undefined;
  const pedal = drive.derive(PEDAL_RELATIVE);
  const rows = load.length;
  const values = new Float64Array(rows).fill(Number.NaN);
  const high = new Uint8Array(rows);
  const loaded = new Uint8Array(rows);
  const cruiseLow = new Uint8Array(rows);
  for (let i = 0; i < rows; i++) {
    const x = load[i]!;
    if (Number.isNaN(x)) continue;
    const rpm = speed === undefined ? 2000 : speed[i]!;
    if (rpm < 300) continue;
    const possible = Math.min(1, Math.max(0.5, rpm / 2000));
    if (x * possible < 100 * LOADED) cruiseLow[i] = 1;
    else if (x >= 60 && rpm >= 2000) loaded[i] = 1;
    if (x >= 85 && rpm >= 2500 && speed !== undefined && !isRefusal(pedal) && pedal.values[i]! >= 60) {
      high[i] = 1;
      loaded[i] = 1;
    }
  }
  const highComplete = speed !== undefined && !isRefusal(pedal) && pedal.fullSeen;
  return {
    values,
    high,
    loaded,
    cruiseLow,
    basis: 'calculated-load',
    source: 'engineLoad',
    u: Number.NaN,
    highComplete,
  };
}

function scaled(values: Float64Array, factor: number): Float64Array {
  const result = new Float64Array(values.length);
  for (let i = 0; i < values.length; i++) result[i] = values[i]! * factor;
  return result;
}
