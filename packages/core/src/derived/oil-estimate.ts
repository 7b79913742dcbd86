import { uncertaintyOf } from './exceeds.js';
import { type Drive, recipe, refuse } from './recipe.js';
import { freshRate } from './refresh.js';
import { samplesOf } from './samples.js';
import { fluidSeries, type Inertia } from './temperature-series.js';
import { runningOrAll } from './warm.js';
import { oilFriction } from './warm-up.js';

/** Engine oil temperature with bounds, row by row; NaN where nothing is known. */
export interface OilEstimate {
  /** degC */
  readonly values: Float64Array;
  /** 95 % bounds of a sensor; of the lag model the oil is nowhere outside them. */
  readonly low: Float64Array;
  readonly high: Float64Array;
  /** False when the coolant stands in for the oil by the lag model. */
  readonly measured: boolean;
  readonly source: string;
  readonly hz: number;
  /** 1 where the engine runs; everywhere when engine speed is absent. */
  readonly running: Uint8Array;
}

/** What 5 kg of oil can do, K and K/s, as for the oil's over-temperature. */
const INERTIA: Inertia = { leap: 15, ramp: 3 };
/** Scatter of sensors, half-width, K. Common practice, no source. */
const TOLERANCE = 0.5;
/** A sensor that reads the same for this long (s) of running is not believed. Common practice, no source. */
const DEAD_AFTER = 600;
/**
 * Oil follows the coolant with one time constant, s: quick with a plate exchanger, slow with a sump in the wind; and is
 * heated by its own friction, K per bar and 1000 revolutions, which lets hot oil stand some kelvin above the coolant: the
 * balance of the warm-up, with bounds of what is not known. Common practice, no source; the middle is drawn where neither
 * is known.
 */
const MODEL = {
  quick: { tau: 30, heat: 4 },
  middle: { tau: 150, heat: 0.8 },
  slow: { tau: 480, heat: 0 },
} as const;
/** rpm that stand in for an engine speed that was not recorded. */
const UNKNOWN_SPEED = 2000;
/** degC: oil of an engine whose coolant was already warm as the recording began is at least as warm as this. */
const COLDEST_START = 0;
const Z95 = 1.645;

export const OIL_ESTIMATE = recipe<OilEstimate>({
  id: 'oilEstimate',
  about:
    'Engine oil temperature (°C) with bounds: the sensor, cleaned; where it is absent or dead, coolant through a lag of 30 to 480 s and the heat of its own friction (common practice, no source), starting as warm as the coolant and, for the lower bound, cold unless the recording holds the cold start.',
  compute(drive) {
    return (
      fromSensor(drive) ??
      fromCoolant(drive) ??
      refuse('not known how warm the oil was, because engineOilTemperature and coolantTemperature are absent', {
        channels: ['engineOilTemperature'],
      })
    );
  },
});

function fromSensor(drive: Drive): OilEstimate | undefined {
  const channel = drive.channel('engineOilTemperature');
  if (channel === undefined) return undefined;
  if (channel.quality.constant && drive.recording.duration >= DEAD_AFTER) return undefined;
  const series = fluidSeries(channel.values, drive.time, freshRate(channel).hz, INERTIA);
  if (series === undefined) return undefined;
  const u = uncertaintyOf(channel, { noise: series.noise, fresh: series.smoothedOver, tolerance: TOLERANCE });
  const values = new Float64Array(drive.time.length).fill(Number.NaN);
  // Oil is slow: a reading stands for ten seconds, or three of its own intervals.
  const reach = Math.max(10, 3 / series.hz);
  let k = 0;
  for (let i = 0; i < values.length; i++) {
    const t = drive.time[i]!;
    while (k + 1 < series.time.length && series.time[k + 1]! <= t) k++;
    if (Math.abs(t - series.time[k]!) <= reach) values[i] = series.value[k]!;
  }
  const low = new Float64Array(values.length);
  const high = new Float64Array(values.length);
  for (let i = 0; i < values.length; i++) {
    low[i] = values[i]! - Z95 * u;
    high[i] = values[i]! + Z95 * u;
  }
  return {
    values,
    low,
    high,
    measured: true,
    source: channel.id,
    hz: series.hz,
    running: runningOrAll(drive),
  };
}

function fromCoolant(drive: Drive): OilEstimate | undefined {
  const channel = drive.channel('coolantTemperature');
  if (channel === undefined || channel.quality.constant) return undefined;
  const series = fluidSeries(channel.values, drive.time, freshRate(channel).hz, { leap: 15, ramp: 3 });
  if (series === undefined) return undefined;
  const coolant = new Float64Array(drive.time.length);
  let k = 0;
  for (let i = 0; i < coolant.length; i++) {
    while (k + 1 < series.time.length && series.time[k + 1]! <= drive.time[i]!) k++;
    coolant[i] = series.value[k]!;
  }
  const start = coolant[0]!;
  // Below 40 degC everything in the car has come near the same temperature (common practice, no source).
  const coldStart = start < 40;
  return {
    values: balanced(drive, coolant, MODEL.middle, start),
    low: balanced(drive, coolant, MODEL.slow, coldStart ? start : Math.min(start, COLDEST_START)),
    high: balanced(drive, coolant, MODEL.quick, start),
    measured: false,
    source: channel.id,
    hz: series.hz,
    running: runningOrAll(drive),
  };
}

/** First-order balance, exact for a coolant and a friction that stay still over each step; oil that is not moved follows as well. */
function balanced(
  drive: Drive,
  coolant: Float64Array,
  { tau, heat }: { readonly tau: number; readonly heat: number },
  start: number,
): Float64Array {
  const speed = samplesOf(drive).held('engineSpeed');
  const values = new Float64Array(coolant.length);
  let oil = start;
  for (let i = 0; i < values.length; i++) {
    if (i > 0) {
      const n = speed === undefined ? UNKNOWN_SPEED : speed[i]!;
      const level = coolant[i]! + (n > 0 ? tau * heat * oilFriction(n, oil) : 0);
      oil += (level - oil) * (1 - Math.exp(-(drive.time[i]! - drive.time[i - 1]!) / tau));
    }
    values[i] = oil;
  }
  return values;
}

/** 1 where the engine runs and the oil is below `limit` beyond doubt, likely, or possibly. */
export interface ColdMasks {
  readonly surely: Uint8Array;
  readonly likely: Uint8Array;
  readonly possibly: Uint8Array;
}

/** Rows of a running engine with oil below a limit (degC); NaN is in none of them. */
export function coldOil({ running, ...oil }: OilEstimate, limit: number): ColdMasks {
  const rows = oil.values.length;
  const surely = new Uint8Array(rows);
  const likely = new Uint8Array(rows);
  const possibly = new Uint8Array(rows);
  for (let i = 0; i < rows; i++) {
    if (running[i] === 0 || Number.isNaN(oil.values[i]!)) continue;
    if (oil.high[i]! < limit) surely[i] = 1;
    if (oil.values[i]! < limit) likely[i] = 1;
    if (oil.low[i]! < limit) possibly[i] = 1;
  }
  return { surely, likely, possibly };
}
