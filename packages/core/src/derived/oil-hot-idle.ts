import { effectiveSampleSize } from '../math/effective-sample-size.js';
import { madn } from '../math/madn.js';
import { median } from '../math/quantile.js';
import { theilSen } from '../math/theil-sen.js';
import { OIL_PRESSURE } from './oil-pressure.js';
import { isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { IDLE } from './segments.js';

/** Oil pressure at hot idle, brought to one oil temperature, so that drives can be compared. */
export interface OilHotIdle {
  /** bar, gauge, at 100 degC. */
  readonly pressure: number;
  /** Standard uncertainty, bar. */
  readonly u: number;
  /** Independent samples. */
  readonly samples: number;
  /** degC, median of the oil over the idle that was used. */
  readonly temperature: number;
  /** Whether the drive itself showed how pressure falls with temperature; else a usual slope was taken. */
  readonly ownSlope: boolean;
}

/** degC that the pressure is brought to: viscosity grades are stated there (SAE J300). */
const OIL_REFERENCE = 100;
/** Fresh samples of idle (s after two of settling) that are needed, and the range (K) that tells the drive's own slope. */
const SAMPLES = 20;
const SETTLE = 2;
const RANGE = 8;
/**
 * Relative fall of the pressure per K, where the drive does not show it. Bearings leak by viscosity (laminar, so p falls with
 * it): usual multigrade oils go from about 24 to 14 mm2/s between 80 and 100 degC, ln(24 / 14) / 20 = 2.7 % per K (common
 * practice, no source). Piston jets do not ask for viscosity, and a regulated pump holds the pressure: 0. Anything between is as
 * likely: the middle, and the width over the root of 12 (rectangular distribution, JCGM 100:2008 4.3.7).
 */
const USUAL = { slope: -0.027 / 2, u: 0.027 / Math.sqrt(12) } as const;

export const OIL_HOT_IDLE = recipe<OilHotIdle>({
  id: 'oilHotIdle',
  about:
    'Oil pressure at idle with oil of 80 °C and more, brought to 100 °C by the exponential fall of viscosity: the slope of this drive (Theil-Sen of its logarithm) where the oil varied by 8 K, else 1.35 ± 0.78 % per K, between none (regulated pump, piston jets) and that of viscosity (common practice, no source).',
  compute(drive) {
    const oil = drive.derive(OIL_PRESSURE);
    if (isRefusal(oil)) return oil;
    const idle = drive.derive(IDLE);
    if (isRefusal(idle)) return idle;
    const warmth = samplesOf(drive).held('engineOilTemperature');
    if (!oil.measured || warmth === undefined)
      return refuse('no hot-idle pressure at one oil temperature, because engineOilTemperature is absent', {
        channels: ['engineOilTemperature'],
      });
    const logs: number[] = [];
    const degrees: number[] = [];
    for (const { start, end } of idle) {
      for (const row of oil.fresh) {
        if (row < start || row > end || oil.hot[row] !== 1) continue;
        const pressure = oil.pressure[row]!;
        if (drive.time[row]! - drive.time[start]! < SETTLE || !(pressure > 0)) continue;
        if (Number.isNaN(warmth[row]!)) continue;
        logs.push(Math.log(pressure));
        degrees.push(warmth[row]!);
      }
    }
    if (logs.length < SAMPLES)
      return refuse('too little hot idle for its oil pressure', {
        conditions: ['engine oil >= 80 °C: idle for >= 10 s'],
      });
    const temperature = median(degrees);
    const ownSlope = Math.max(...degrees) - Math.min(...degrees) >= RANGE;
    const { slope, u: slopeU } = ownSlope ? ownFall(thinned(degrees), thinned(logs)) : USUAL;
    const brought = logs.map((each, i) => each + slope * (OIL_REFERENCE - degrees[i]!));
    const samples = Math.max(1, effectiveSampleSize(Float64Array.from(brought)));
    const pressure = Math.exp(median(brought));
    // Error of a median: 1.2533 sigma / sqrt(n) (Kenney and Keeping, Mathematics of Statistics, 1962).
    const noise = (1.2533 * madn(brought)) / Math.sqrt(samples);
    const u = pressure * Math.hypot(noise, slopeU * (OIL_REFERENCE - temperature));
    return { pressure, u: Math.hypot(u, oil.channel.quality.quantum / Math.sqrt(12)), samples, temperature, ownSlope };
  },
});

/**
 * Slope of the logarithm over temperature by Theil and Sen. Its interval takes samples for independent; neighbouring ones are
 * not, so it is widened by the root of n over their effective number.
 */
function ownFall(degrees: readonly number[], logs: readonly number[]): { readonly slope: number; readonly u: number } {
  const { slope, low, high } = theilSen(degrees, logs);
  const rest = Float64Array.from(logs, (each, i) => each - slope * degrees[i]!);
  const independent = Math.max(1, Math.min(rest.length, effectiveSampleSize(rest)));
  return { slope, u: ((high - low) / (2 * 1.96)) * Math.sqrt(rest.length / independent) };
}

/** At most 200 of them, evenly: the slopes of all pairs grow with the square. */
function thinned(values: readonly number[]): number[] {
  const step = Math.max(1, Math.ceil(values.length / 200));
  return values.filter((_, i) => i % step === 0);
}
