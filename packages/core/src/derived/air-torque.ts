import { speedDensity } from '../physics/air-mass.js';
import { heatPerAir } from '../physics/fuel.js';
import { AMBIENT } from './ambient.js';
import { FUEL } from './fuel.js';
import { linedOf } from './lined.js';
import { MEASURED_AIR, type MeasuredAir } from './measured-air.js';
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

/** Share of the fuel's heat that becomes work on the pistons of a boosted petrol engine; common practice 0.34 to 0.39. */
const INDICATED = 0.365;
/** Relative standard uncertainty of that share: timing, compression, charge temperature. */
const INDICATED_U = 0.05;
/** How well a guessed filling tells the air; relative standard uncertainty. Common practice. */
const FILLING = 0.95;
const FILLING_U = 0.09;

/** Engine torque from what was burnt. */
export const AIR_TORQUE = recipe<TorqueEstimate>({
  id: 'airTorque',
  about:
    'Engine torque from air mass and mixture: heat of the fuel that the air can burn x indicated efficiency, less friction (Heywood 1988 eq. 13.6, from memory) and pumping; relative uncertainty 6 to 10 %.',
  compute(drive) {
    const { displacement } = drive.vehicle.engine;
    const speed = linedOf(drive, 'engineSpeed');
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
    const fuel = drive.derive(FUEL);
    const heat = heatPerAir(isRefusal(fuel) ? 0.07 : fuel.ethanol);
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
  for (const id of ['lambda', 'lambda.bank1', 'lambdaTarget', 'lambdaTarget.bank1']) {
    const channel = drive.channel(id);
    if (channel !== undefined && channel.quality.samples >= 10) return linedOf(drive, id);
  }
  return undefined;
}

function airFlow(drive: Drive, displacement: number, speed: Float64Array): MeasuredAir | undefined {
  const measured = drive.derive(MEASURED_AIR);
  if (!isRefusal(measured))
    return {
      ...measured,
      values: (measured.source === 'airMassFlow' ? linedOf(drive, 'airMassFlow') : undefined) ?? measured.values,
    };
  const usable = (id: string): Float64Array | undefined => {
    const channel = drive.channel(id);
    return channel === undefined || channel.quality.constant ? undefined : linedOf(drive, id);
  };
  const pressure = usable('manifoldPressure');
  if (pressure === undefined) return undefined;
  const charge = usable('chargeAirTemperature') ?? usable('intakeAirTemperature');
  const values = pressure.map((kPa, i) => speedDensity(kPa, charge?.[i] ?? 40, FILLING, displacement, speed[i]!));
  return { values, u: FILLING_U, source: 'manifoldPressure' };
}
