import { LOAD_DENSITY, speedDensity } from '../physics/air-mass.js';
import { blendRatio } from '../physics/fuel.js';
import type { Fuel } from '../vehicle/vehicle.js';
import { AMBIENT } from './ambient.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

export interface TorqueEstimate {
  /** N.m at the crank, row by row; NaN where it cannot be told. */
  readonly values: Float64Array;
  /** Relative standard uncertainty at high load, of what all rows share (a factor). */
  readonly u: number;
  /** The part of `u` that changes from road to road: slope; 0 when left out. */
  readonly surroundings?: number;
  /** In words, for reports. */
  readonly source: string;
}

/** J/kg: heating value of petrol without ethanol and of ethanol (Heywood 1988, table D.4, from memory). */
const PETROL_HEAT = 43e6;
const ETHANOL_HEAT = 26.9e6;
/** Share of the fuel's heat that becomes work on the pistons of a boosted petrol engine; common practice 0.34 to 0.39. */
const INDICATED = 0.365;
/** Relative standard uncertainty of that share: timing, compression, charge temperature. */
const INDICATED_U = 0.05;
/** How well an air meter, and a guessed filling, tell the air; relative standard uncertainty. Common practice. */
const METER_U = 0.04;
const FILLING = 0.95;
const FILLING_U = 0.09;

/** Engine torque from what was burnt. */
export const AIR_TORQUE = recipe<TorqueEstimate>({
  id: 'airTorque',
  about:
    'Engine torque from air mass and mixture: heat of the fuel that the air can burn x indicated efficiency, less friction (Heywood 1988 eq. 13.6, from memory) and pumping; relative uncertainty 6 to 10 %.',
  compute(drive) {
    const { displacement, fuel } = drive.vehicle.engine;
    const speed = samplesOf(drive).held('engineSpeed');
    if (speed === undefined)
      return refuse('no engine torque from air, because engineSpeed is absent', { channels: ['engineSpeed'] });
    if (displacement === undefined)
      return refuse('no engine torque from air, because the profile names no displacement', {
        conditions: ['vehicle profile with engine.displacement'],
      });
    const air = airFlow(drive, displacement, speed);
    if (air === undefined)
      return refuse('no engine torque from air, because airMassFlow and manifoldPressure are absent', {
        channels: ['airMassFlow'],
      });
    const ambient = drive.derive(AMBIENT);
    const barometer = isRefusal(ambient) ? 101.3 : ambient.pressure;
    const manifold = samplesOf(drive).held('manifoldPressure');
    const lambda = mixture(drive);
    const heat = heatPerAir(ethanolShare(fuel));
    const values = new Float64Array(speed.length).fill(Number.NaN);
    for (let i = 0; i < values.length; i++) {
      const n = speed[i]!;
      if (!(n >= 500)) continue;
      const burnt = (air.values[i]! / 1000) * heat * INDICATED * oxygenUse(lambda?.[i] ?? Number.NaN);
      const thousand = n / 1000;
      // bar: friction of the motored engine, and what the pistons pump against the throttle.
      const friction = 0.97 + 0.15 * thousand + 0.05 * thousand * thousand;
      const pumping = manifold === undefined ? 0 : Math.max(0, barometer - manifold[i]!) / 100;
      values[i] = (burnt * 30) / (Math.PI * n) - ((friction + pumping) * 100 * displacement) / (4 * Math.PI);
    }
    return { values, u: Math.hypot(air.u, INDICATED_U), source: `air (${air.source})` };
  },
});

/** J per kg of air at lambda 1. */
function heatPerAir(ethanol: number): number {
  const mass = (ethanol * 0.79) / (ethanol * 0.79 + (1 - ethanol) * 0.745);
  return (mass * ETHANOL_HEAT + (1 - mass) * PETROL_HEAT) / blendRatio(ethanol);
}

function ethanolShare(fuel: Fuel | undefined): number {
  const share = /^E(\d+)$/.exec(fuel ?? '')?.[1];
  return share === undefined ? 0.07 : Number(share) / 100;
}

/**
 * Work of the air against lambda 1: lean mixtures burn less fuel; rich ones use the oxygen a little better, by 4 % at
 * lambda 0.9 and no more beyond (Heywood 1988 ch. 15, from memory). Unknown lambda counts as 1.
 */
function oxygenUse(lambda: number): number {
  if (Number.isNaN(lambda)) return 1;
  if (lambda >= 1) return 1 / Math.min(lambda, 1.5);
  return 1 + 0.4 * Math.min(0.1, 1 - lambda);
}

function mixture(drive: Drive): Float64Array | undefined {
  const samples = samplesOf(drive);
  for (const id of ['lambda', 'lambda.bank1', 'lambdaTarget', 'lambdaTarget.bank1']) {
    const channel = drive.channel(id);
    if (channel !== undefined && channel.quality.samples >= 10) return samples.held(id);
  }
  return undefined;
}

interface AirFlow {
  /** g/s */
  readonly values: Float64Array;
  readonly u: number;
  readonly source: string;
}

function airFlow(drive: Drive, displacement: number, speed: Float64Array): AirFlow | undefined {
  const samples = samplesOf(drive);
  const usable = (id: string): Float64Array | undefined => {
    const channel = drive.channel(id);
    return channel === undefined || channel.quality.constant ? undefined : samples.held(id);
  };
  const flow = usable('airMassFlow');
  if (flow !== undefined) return { values: flow, u: METER_U, source: 'airMassFlow' };
  const { cylinders } = drive.vehicle.engine;
  const stroke = usable('airMassPerStroke');
  if (stroke !== undefined && cylinders !== undefined) {
    const values = stroke.map((mg, i) => (mg * cylinders * speed[i]!) / 120_000);
    return { values, u: METER_U, source: 'airMassPerStroke' };
  }
  const absolute = usable('engineLoadAbsolute');
  if (absolute !== undefined) {
    const values = absolute.map((share, i) => (share * LOAD_DENSITY * displacement * speed[i]!) / 12_000);
    return { values, u: METER_U, source: 'engineLoadAbsolute' };
  }
  const pressure = usable('manifoldPressure');
  if (pressure === undefined) return undefined;
  const charge = usable('chargeAirTemperature') ?? usable('intakeAirTemperature');
  const values = pressure.map((kPa, i) => speedDensity(kPa, charge?.[i] ?? 40, FILLING, displacement, speed[i]!));
  return { values, u: FILLING_U, source: 'manifoldPressure' };
}
