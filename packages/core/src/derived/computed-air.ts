import { speedDensity } from '../physics/air-mass.js';
import { AMBIENT } from './ambient.js';
import { chargeTemperature, FILLING } from './filling.js';
import { MEASURED_AIR } from './measured-air.js';
import { isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

export interface ComputedAir {
  /** g/s by speed density, row by row; NaN = no sample. */
  readonly values: Float64Array;
  /** mg of one cylinder and working cycle; undefined when the profile names no cylinders. */
  readonly perStroke: Float64Array | undefined;
  /** Relative standard uncertainty of row `i`: of the learned filling and of the charge temperature. */
  readonly uAt: (i: number) => number;
  /** The temperature does not follow boost: measured before the compressor, so that boosted rows are too high. */
  readonly blind: boolean;
}

/** Pressure ratio from which a charge temperature has to rise, and by how much (K): `air.charge-cooling` uses the same signs. */
const HOT_RATIO = 1.6;
const RISES = 2;
/** Standard uncertainty of the charge temperature (K): one that sees it (sensor, soak), one that sits before the compressor. */
const TEMPERATURE_U = 4;
const BLIND_U = 15;
/** What exhaust back-pressure takes from the filling per unit of boost over the barometer, not learned off boost. Common practice, no source. */
const BACK_PRESSURE_U = 0.025;

export const COMPUTED_AIR = recipe<ComputedAir>({
  id: 'computedAir',
  about:
    'Air flow (g/s) and air per stroke from manifold pressure, charge temperature and the learned filling (speed density, Heywood 1988 eq. 2.27); uncertain by 3 % off boost, 4 to 8 % under boost.',
  compute(drive) {
    const filling = drive.derive(FILLING);
    if (isRefusal(filling)) return refuse(`no computed air: ${filling.reason}`, filling.missing);
    const ambient = drive.derive(AMBIENT);
    if (isRefusal(ambient)) return ambient;
    const samples = samplesOf(drive);
    const speed = samples.held('engineSpeed')!;
    const pressure = samples.held('manifoldPressure')!;
    const temperature = chargeTemperature(drive)!.values;
    const values = new Float64Array(speed.length);
    for (let i = 0; i < values.length; i++) {
      const n = speed[i]!;
      const p = pressure[i]!;
      values[i] = n >= 300 ? speedDensity(p, temperature[i]!, 1, filling.breathed(n, p), n) : 0;
      if (Number.isNaN(n)) values[i] = Number.NaN;
    }
    const { cylinders } = drive.vehicle.engine;
    const blind = isBlind(pressure, temperature, ambient.pressure);
    return {
      values,
      perStroke:
        cylinders === undefined
          ? undefined
          : values.map((flow, i) => (speed[i]! >= 300 ? (flow * 120_000) / (speed[i]! * cylinders) : Number.NaN)),
      uAt: (i) => {
        const over = Math.max(0, pressure[i]! / ambient.pressure - 1);
        const kelvin = (blind ? BLIND_U * Math.min(1, over) : 0) + TEMPERATURE_U;
        return Math.hypot(
          filling.uAt(speed[i]!, pressure[i]!),
          kelvin / (temperature[i]! + 273.15),
          BACK_PRESSURE_U * over,
        );
      },
      blind,
    };
  },
});

/** Compressed air is hot: a temperature that hardly differs between boost and none sits before the compressor. */
function isBlind(pressure: Float64Array, temperature: Float64Array, barometer: number): boolean {
  let high = 0;
  let highSum = 0;
  let low = 0;
  let lowSum = 0;
  for (let i = 0; i < pressure.length; i++) {
    const t = temperature[i]!;
    if (Number.isNaN(t)) continue;
    const ratio = pressure[i]! / barometer;
    if (ratio >= HOT_RATIO) {
      high++;
      highSum += t;
    } else if (ratio < 1) {
      low++;
      lowSum += t;
    }
  }
  return high >= 5 && low >= 5 && highSum / high - lowSum / low < RISES;
}

export interface AirAgreement {
  /** Measured over computed air, row by row; NaN where not steady enough to compare. */
  readonly ratio: Float64Array;
  /** Relative standard uncertainty of row `i` of what scatters between rows; an error of the meter that is the same everywhere is learned into the filling. */
  readonly uAt: (i: number) => number;
  readonly blind: boolean;
}

export const AIR_AGREEMENT = recipe<AirAgreement>({
  id: 'airAgreement',
  about:
    'Measured against computed air mass: 1 off boost by construction; rises with boost where charge air that was metered escapes, falls where the meter reads low at high flow. Rows whose manifold pressure changes by more than 10 % in 0.3 s are left out.',
  compute(drive) {
    const measured = drive.derive(MEASURED_AIR);
    if (isRefusal(measured)) return measured;
    const computed = drive.derive(COMPUTED_AIR);
    if (isRefusal(computed)) return computed;
    const pressure = samplesOf(drive).held('manifoldPressure')!;
    const { time } = drive;
    const ratio = new Float64Array(time.length).fill(Number.NaN);
    let first = 0;
    for (let i = 1; i < ratio.length; i++) {
      while (first < i - 1 && time[i]! - time[first]! > 0.3) first++;
      const p = pressure[i]!;
      if (!(Math.abs(pressure[first]! - p) <= 0.1 * p) || time[i]! - time[first]! > 2.5) continue;
      const flow = computed.values[i]!;
      if (flow > 1) ratio[i] = measured.values[i]! / flow;
    }
    return { ratio, uAt: computed.uAt, blind: computed.blind };
  },
});
