import { quantile } from '../math/quantile.js';
import { PEDAL_RELATIVE } from './pedal-relative.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

export interface LoadFraction {
  /** 0 .. about 1.2 of the rated torque (or air mass per stroke); NaN where it cannot be told. */
  readonly values: Float64Array;
  /** 1 where the load is high beyond doubt: fraction >= 0.7, or by calculated load >= 85 %, >= 2500 rpm and pedal >= 60 %. */
  readonly high: Uint8Array;
  /** 1 where the engine pulls: fraction >= 0.4, or by calculated load >= 60 % at >= 2000 rpm. */
  readonly loaded: Uint8Array;
  /** 1 where the load is below 0.4 beyond doubt. Rows in neither mask could not be told. */
  readonly cruiseLow: Uint8Array;
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
      refuse('no loadFraction, because engineTorque, airMassFlow with a rated torque, and engineLoad are absent', {
        channels: ['engineLoad'],
      })
    );
  },
});

/** Torque over its reference: SAE J1979 PID 62 (already a percentage of it), or N.m over PID 63 or the profile's rated torque. */
function fromTorque(drive: Drive): LoadFraction | undefined {
  const samples = samplesOf(drive);
  const share = samples.held('engineTorqueActual') ?? samples.held('engineTorquePercent');
  if (share !== undefined && !drive.channel('engineTorqueActual')?.quality.constant) {
    return fromValues(scaled(share, 0.01), 'torque', 'engineTorqueActual', 0.05);
  }
  const torque = samples.held('engineTorque');
  const channel = drive.channel('engineTorque');
  if (torque === undefined || channel === undefined || channel.quality.constant) return undefined;
  const reference = referenceTorque(drive);
  if (!(reference > 0)) return undefined;
  return fromValues(scaled(torque, 1 / reference), 'torque', 'engineTorque', 0.05);
}

function referenceTorque(drive: Drive): number {
  const logged = samplesOf(drive).held('engineReferenceTorque');
  return logged === undefined ? (drive.vehicle.engine.ratedTorque ?? Number.NaN) : quantile(logged, 0.5);
}

/**
 * Air per stroke at rated torque: brake-specific consumption of 285 g/kWh at full load and lambda 0.88 of an air-fuel
 * ratio of 14.1 (common practice for turbocharged petrol engines; +-12 %), so 4 pi T / 3.6e6 * 285 * 0.88 * 14.1 grams
 * per two revolutions of all cylinders.
 */
const AIR_PER_TORQUE = ((4 * Math.PI) / 3.6e6) * 285 * 0.88 * 14.1;

function fromAirMass(drive: Drive): LoadFraction | undefined {
  const samples = samplesOf(drive);
  const air = samples.held('airMassFlow');
  const speed = samples.held('engineSpeed');
  const channel = drive.channel('airMassFlow');
  const rated = drive.vehicle.engine.ratedTorque ?? referenceTorque(drive);
  if (air === undefined || speed === undefined || channel === undefined) return undefined;
  if (channel.quality.constant || !(rated > 0)) return undefined;
  const values = new Float64Array(air.length);
  const full = AIR_PER_TORQUE * rated;
  for (let i = 0; i < air.length; i++) {
    const rpm = speed[i]!;
    // Grams per two revolutions over those at rated torque.
    values[i] = rpm >= 300 ? (air[i]! * 120) / rpm / full : Number.NaN;
  }
  return fromValues(values, 'air-mass', 'airMassFlow', 0.12);
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
  const channel = drive.channel('engineLoad');
  const load = samples.held('engineLoad');
  const speed = samples.held('engineSpeed');
  if (channel === undefined || load === undefined || channel.quality.constant) return undefined;
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
