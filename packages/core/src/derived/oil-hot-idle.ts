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
 * Relative fall of the pressure per K, and its standard uncertainty: idle pressure follows viscosity while the relief valve
 * is shut, and usual multigrade oils fall from about 24 to 14 mm2/s between 80 and 100 degC: ln(24 / 14) / 20. Common
 * practice, no source.
 */
const USUAL = { slope: -0.027, u: 0.008 } as const;

export const OIL_HOT_IDLE = recipe<OilHotIdle>({
  id: 'oilHotIdle',
  about:
    'Oil pressure at idle with oil of 80 °C and more, brought to 100 °C by the exponential fall of viscosity: the slope of this drive (Theil-Sen of its logarithm) where the oil varied by 8 K, else 2.7 ± 0.8 % per K (common practice, no source).',
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
    const line = ownSlope ? theilSen(thinned(degrees), thinned(logs)) : undefined;
    const slope = line === undefined ? USUAL.slope : line.slope;
    const slopeU = line === undefined ? USUAL.u : (line.high - line.low) / (2 * 1.96);
    const brought = logs.map((each, i) => each + slope * (OIL_REFERENCE - degrees[i]!));
    const samples = Math.max(1, effectiveSampleSize(Float64Array.from(brought)));
    const pressure = Math.exp(median(brought));
    // Error of a median: 1.2533 sigma / sqrt(n) (Kenney and Keeping, Mathematics of Statistics, 1962).
    const noise = (1.2533 * madn(brought)) / Math.sqrt(samples);
    const u = pressure * Math.hypot(noise, slopeU * (OIL_REFERENCE - temperature));
    return { pressure, u: Math.hypot(u, oil.channel.quality.quantum / Math.sqrt(12)), samples, temperature, ownSlope };
  },
});

/** At most 200 of them, evenly: the slopes of all pairs grow with the square. */
function thinned(values: readonly number[]): number[] {
  const step = Math.max(1, Math.ceil(values.length / 200));
  return values.filter((_, i) => i % step === 0);
}
