import { exceeds, uncertaintyOf } from '../../derived/exceeds.js';
import { freshRate } from '../../derived/refresh.js';
import {
  type EventRule,
  type FluidSeries,
  fluidSeries,
  holdsStretch,
  type Inertia,
  type Stay,
  secondsWhere,
  staysAbove,
} from '../../derived/temperature-series.js';
import type { Channel } from '../../recording/recording.js';
import type { Limit, Severity } from '../rule.js';

/** Leaps that 8 kg of coolant in 40 kg of warm metal cannot make, K and K/s: a loose connector. Derived: 3 K/s takes 100 kW and more. */
const INERTIA: Inertia = { leap: 15, ramp: 3 };
/** Scatter of sensors from car to car, half-width, K; their absolute error is part of the limits. Common practice, no source. */
const TOLERANCE = 0.5;
/** The lowest limit takes this long (s), as fan and thermostat overshoot; the higher ones two seconds and three fresh samples. */
const WATCH: EventRule = { minDuration: 30, leave: 3, minFresh: 3 };
const HIGH: EventRule = { minDuration: 2, leave: 3, minFresh: 3 };
/** Heat of the block soaks into standing coolant: the first seconds after a start do not count. Common practice, no source. */
const SOAK = 30;
/** A rise is measured over this many seconds. */
const RISE = { from: 5, to: 10 };
/** Below this speed (km/h) the fan does the cooling, above the other the wind. Common practice, no source. */
const FAN_BELOW = 20;
const WIND_ABOVE = 50;

export type Where = 'standstill' | 'speed' | 'both' | 'unknown';

export interface HeatEvent extends Stay {
  readonly severity: Severity;
  readonly where: Where;
  readonly samples: number;
  /** K/s, when the rise alone was enough; else NaN. */
  readonly rise: number;
  readonly leapt: boolean;
}

export interface HeatReading {
  readonly series: FluidSeries;
  /** Standard uncertainty of one value, K. */
  readonly uncertainty: number;
  readonly events: readonly HeatEvent[];
  readonly peak: number;
  readonly peakAt: number;
  /** Highest reading with the car standing or crawling, and with wind; NaN when not seen. */
  readonly standstillPeak: number;
  readonly speedPeak: number;
  /** Seconds above the limit for a watch. */
  readonly dwell: number;
  /** Beyond the lowest limit, but too short or with too few samples to be an event. */
  readonly undecided: boolean;
}

/** Coolant with the engine running and past its heat soak; undefined with fewer than three usable samples. */
export function coolantSeries(
  channel: Channel,
  rpm: Float64Array | undefined,
  time: Float64Array,
): FluidSeries | undefined {
  let { values } = channel;
  if (rpm !== undefined) {
    values = values.slice();
    let started = Number.NEGATIVE_INFINITY;
    for (let i = 0; i < values.length; i++) {
      // Engine speed unknown in a row: as before.
      if (rpm[i]! < 300) started = Number.POSITIVE_INFINITY;
      else if (started === Number.POSITIVE_INFINITY && rpm[i]! >= 300) started = time[i]!;
      if (time[i]! - started < SOAK) values[i] = Number.NaN;
    }
  }
  return fluidSeries(values, time, freshRate(channel).hz, INERTIA);
}

/** @param speed km/h at the samples of the series; undefined when not recorded */
export function heatReading(
  channel: Channel,
  series: FluidSeries,
  speed: Float64Array | undefined,
  limits: Readonly<Record<string, Limit>>,
): HeatReading {
  const uncertainty = uncertaintyOf(channel, {
    noise: series.noise,
    fresh: series.smoothedOver,
    tolerance: TOLERANCE,
  });
  const surely = (limit: Limit) => (x: number) => exceeds(x, uncertainty, limit.value, limit.comparison) === 'beyond';
  const watch = limits.watch!;
  const lowest = Math.min(watch.value, limits['rising-from']!.value);
  const events: HeatEvent[] = [];
  for (const stay of staysAbove(series, (x) => x > lowest, lowest, HIGH)) {
    const rise = fastestRise(series, stay, surely(limits['rising-from']!), channel.quality.quantum);
    const rises = rise > limits.rising!.value / RISE.to;
    let severity: Severity | undefined;
    if (holdsStretch(series, stay.start, stay.end, surely(limits.stop!), HIGH) || rises) severity = 'stop';
    else if (holdsStretch(series, stay.start, stay.end, surely(limits.repair!), HIGH)) severity = 'repair';
    else if (holdsStretch(series, stay.start, stay.end, surely(watch), WATCH)) severity = 'watch';
    if (severity === undefined) continue;
    events.push({
      ...stay,
      severity,
      where: whereOf(series, stay, speed, watch.value),
      samples: Math.max(1, Math.round((stay.to - stay.from) * series.hz)),
      rise: rises ? rise : Number.NaN,
      leapt: series.leaps.some((t) => t >= stay.from - series.maxGap && t <= stay.to + series.maxGap),
    });
  }
  let top = 0;
  let standstillPeak = Number.NaN;
  let speedPeak = Number.NaN;
  for (let i = 0; i < series.value.length; i++) {
    const x = series.value[i]!;
    if (x > series.value[top]!) top = i;
    const v = speed === undefined ? Number.NaN : speed[i]!;
    if (v < FAN_BELOW && !(standstillPeak >= x)) standstillPeak = x;
    if (v >= WIND_ABOVE && !(speedPeak >= x)) speedPeak = x;
  }
  return {
    series,
    uncertainty,
    events,
    peak: series.value[top]!,
    peakAt: series.time[top]!,
    standstillPeak,
    speedPeak,
    dwell: secondsWhere(series, (x) => x > watch.value),
    undecided: events.length === 0 && series.hz * HIGH.minDuration < 1 && series.value.some(surely(limits.repair!)),
  };
}

/** Lower 95 % bound (K/s) of the fastest rise over 5 to 10 s that begins above the limit; NaN when there is none. */
function fastestRise(series: FluidSeries, stay: Stay, above: (x: number) => boolean, quantum: number): number {
  const { time, value, hz, maxGap } = series;
  // Two readings, each with a rectangular error of half a step.
  const doubt = 1.645 * Math.sqrt(2 * (series.noise ** 2 + quantum ** 2 / 12));
  let fastest = Number.NaN;
  let j = stay.start;
  for (let i = stay.start; i <= stay.end; i++) {
    if (i > stay.start && time[i]! - time[i - 1]! > maxGap) j = i;
    while (j < i && (time[i]! - time[j]! > RISE.to + 1e-6 || !above(value[j]!))) j++;
    const seconds = time[i]! - time[j]!;
    if (seconds < RISE.from - 1e-6 || seconds * hz < 2) continue;
    const rate = (value[i]! - value[j]! - doubt) / seconds;
    if (!(fastest >= rate)) fastest = rate;
  }
  return fastest;
}

function whereOf(series: FluidSeries, stay: Stay, speed: Float64Array | undefined, limit: number): Where {
  if (speed === undefined) return 'unknown';
  let slow = 0;
  let fast = 0;
  let all = 0;
  for (let i = stay.start; i <= stay.end; i++) {
    const v = speed[i]!;
    if (Number.isNaN(v) || series.value[i]! < Math.min(limit, stay.peak - 3)) continue;
    all++;
    if (v < FAN_BELOW) slow++;
    else if (v >= WIND_ABOVE) fast++;
  }
  if (all === 0) return 'unknown';
  return slow >= 0.6 * all ? 'standstill' : fast >= 0.6 * all ? 'speed' : 'both';
}
