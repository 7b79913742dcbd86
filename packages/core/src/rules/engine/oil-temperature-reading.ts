import { exceeds, uncertaintyOf } from '../../derived/exceeds.js';
import { freshRate } from '../../derived/refresh.js';
import {
  type EventRule,
  fluidSeries,
  holdsStretch,
  type Inertia,
  type Stay,
  secondsWhere,
  staysAbove,
} from '../../derived/temperature-series.js';
import type { Certainty, Channel } from '../../recording/recording.js';
import type { Limit, Severity } from '../rule.js';

/** An event enters at a limit for at least 2 s and ends 5 K below it; a duration takes three fresh samples. */
const EVENT: EventRule = { minDuration: 2, leave: 5, minFresh: 3 };
/** What 5 kg of oil in a warm engine can do, K and K/s: more is a loose connector. Derived: 3 K/s takes 30 kW of friction. */
const INERTIA: Inertia = { leap: 15, ramp: 3 };
/** Scatter of sensors from car to car, half-width, K; their absolute error is part of the limits. Common practice, no source. */
const TOLERANCE = 0.5;
/** Oil is at its working temperature from here, degC. Common practice, no source. */
export const OPERATING = 80;

const SEVERITIES: readonly Severity[] = ['watch', 'repair', 'stop'];

export interface OilEvent extends Stay {
  readonly severity: Severity;
  readonly samples: number;
  readonly leapt: boolean;
}

export interface OilReading {
  readonly certainty: Certainty;
  readonly uncertainty: number;
  readonly hz: number;
  readonly peak: number;
  readonly peakAt: number;
  readonly events: readonly OilEvent[];
  /** Seconds above each limit, by name. */
  readonly dwell: Readonly<Record<string, number>>;
  /** Seconds with a reading, and of these at working temperature. */
  readonly seen: number;
  readonly warm: number;
  /** Beyond the lowest limit, but for too few fresh samples. */
  readonly undecided: boolean;
  readonly constant: boolean;
}

/** Measures one channel; undefined with fewer than three usable samples. */
export function readOil(
  channel: Channel,
  time: Float64Array,
  limits: Readonly<Record<string, Limit>>,
): OilReading | undefined {
  const series = fluidSeries(channel.values, time, freshRate(channel).hz, INERTIA);
  if (series === undefined) return undefined;
  const uncertainty = uncertaintyOf(channel, { noise: series.noise, fresh: series.smoothedOver, tolerance: TOLERANCE });
  const ladder = SEVERITIES.map((name) => ({ ...limits[name]!, name })).sort((a, b) => a.value - b.value);
  const [lowest] = ladder;
  const surely = (limit: Limit) => (x: number) => exceeds(x, uncertainty, limit.value, limit.comparison) === 'beyond';
  const events = staysAbove(series, surely(lowest!), lowest!.value, EVENT).flatMap((stay): OilEvent[] => {
    const reached = ladder.filter((limit) => holdsStretch(series, stay.start, stay.end, surely(limit), EVENT)).pop();
    if (reached === undefined) return [];
    const samples = Math.max(1, Math.min(stay.end - stay.start + 1, Math.round((stay.to - stay.from) * series.hz)));
    const leapt = series.leaps.some((t) => t >= stay.from - series.maxGap && t <= stay.to + series.maxGap);
    return [{ ...stay, severity: reached.name, samples, leapt }];
  });
  let top = 0;
  for (let i = 1; i < series.value.length; i++) if (series.value[i]! > series.value[top]!) top = i;
  return {
    certainty: channel.certainty,
    uncertainty,
    hz: series.hz,
    peak: series.value[top]!,
    peakAt: series.time[top]!,
    events,
    dwell: Object.fromEntries(ladder.map((limit) => [limit.name, secondsWhere(series, (x) => x >= limit.value)])),
    seen: secondsWhere(series, () => true),
    warm: secondsWhere(series, (x) => x >= OPERATING),
    undecided:
      events.length === 0 &&
      series.hz * EVENT.minDuration < 0.95 * EVENT.minFresh &&
      series.value.some(surely(lowest!)),
    constant: channel.quality.constant,
  };
}
