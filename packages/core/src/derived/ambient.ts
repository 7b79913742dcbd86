import { quantile } from '../math/quantile.js';
import { airDensity, standardAtmosphere } from '../physics/air.js';
import { lastValue } from './last-value.js';
import { type Drive, isRefusal, recipe } from './recipe.js';
import { samplesOf } from './samples.js';
import { SPEED } from './speed.js';

export interface Ambient {
  /** kPa absolute. */
  readonly pressure: number;
  /** Standard uncertainty, kPa. */
  readonly pressureU: number;
  readonly pressureSource: string;
  /** degC */
  readonly temperature: number;
  /** Standard uncertainty, K. */
  readonly temperatureU: number;
  readonly temperatureSource: string;
  /** kg/m3, dry air. */
  readonly density: number;
  /** Relative standard uncertainty of the density. */
  readonly densityU: number;
}

/** Moisture makes air lighter by up to 1 % (30 degC, 60 %): what is left out when no humidity is recorded. */
const MOISTURE = 0.004;

export const AMBIENT = recipe<Ambient>({
  id: 'ambient',
  about:
    'Air around the car: barometric pressure (channel, manifold before the start, altitude by ISO 2533, else 101.3 kPa) and temperature (channel, else intake air on the move), density p / (R T).',
  compute(drive) {
    const pressure = pressureOf(drive);
    const temperature = temperatureOf(drive);
    return {
      pressure: pressure.value,
      pressureU: pressure.u,
      pressureSource: pressure.source,
      temperature: temperature.value,
      temperatureU: temperature.u,
      temperatureSource: temperature.source,
      density: airDensity(pressure.value, temperature.value),
      densityU: Math.hypot(pressure.u / pressure.value, temperature.u / (temperature.value + 273.15), MOISTURE),
    };
  },
});

interface Told {
  readonly value: number;
  readonly u: number;
  readonly source: string;
}

function pressureOf(drive: Drive): Told {
  const barometer = middle(drive, 'barometricPressure');
  if (barometer >= 55 && barometer <= 110) return { value: barometer, u: 0.7, source: 'barometricPressure' };
  const manifold = atRest(drive, 'manifoldPressure');
  if (manifold >= 55 && manifold <= 110)
    return { value: manifold, u: 1.5, source: 'manifoldPressure before the start' };
  const altitude = middle(drive, 'altitude');
  // Weather moves the pressure at a place by 1 to 2 kPa (common practice).
  if (altitude >= -450 && altitude <= 5500)
    return { value: standardAtmosphere(altitude).pressure, u: 1.5, source: 'altitude' };
  return { value: 101.325, u: 4, source: 'none: standard air taken' };
}

function temperatureOf(drive: Drive): Told {
  const ambient = middle(drive, 'ambientTemperature');
  if (!Number.isNaN(ambient)) return { value: ambient, u: 2, source: 'ambientTemperature' };
  const intake = samplesOf(drive).held('intakeAirTemperature');
  const speed = drive.derive(SPEED);
  if (intake !== undefined && !isRefusal(speed)) {
    const moving = keptWhere(intake, speed.values, 50, Number.POSITIVE_INFINITY);
    // On the move intake air stands about 6 K over the air outside (common practice, no source).
    if (moving.length >= 10)
      return { value: quantile(moving, 0.05) - 6, u: 5, source: 'intakeAirTemperature on the move' };
  }
  return { value: 15, u: 10, source: 'none: 15 °C taken' };
}

function middle(drive: Drive, id: string): number {
  const channel = drive.channel(id);
  if (channel === undefined) return Number.NaN;
  return channel.quality.constant ? lastValue(channel) : quantile(channel.values, 0.5);
}

/** Median while the engine does not turn; NaN when that was not recorded. */
function atRest(drive: Drive, id: string): number {
  const samples = samplesOf(drive);
  const values = samples.held(id);
  const engine = samples.held('engineSpeed');
  if (values === undefined || engine === undefined) return Number.NaN;
  const rest = keptWhere(values, engine, Number.NEGATIVE_INFINITY, 50);
  return rest.length >= 3 ? quantile(rest, 0.5) : Number.NaN;
}

/** Values that are samples, in rows where the other column lies in `low..high`, `high` itself left out. */
function keptWhere(values: Float64Array, other: Float64Array, low: number, high: number): Float64Array {
  const kept = new Float64Array(countWhere(values, other, low, high));
  let count = 0;
  for (let i = 0; i < values.length; i++)
    if (other[i]! >= low && other[i]! < high && !Number.isNaN(values[i]!)) kept[count++] = values[i]!;
  return kept;
}

function countWhere(values: Float64Array, other: Float64Array, low: number, high: number): number {
  let count = 0;
  for (let i = 0; i < values.length; i++)
    if (other[i]! >= low && other[i]! < high && !Number.isNaN(values[i]!)) count++;
  return count;
}
