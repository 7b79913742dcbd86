import { exceeds, uncertaintyOf } from '../../derived/exceeds.js';
import { placeOf } from '../../derived/place.js';
import { isRefusal, type Refusal } from '../../derived/recipe.js';
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
import { heldMaximum } from '../../math/held-maximum.js';
import { quantile } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';
import type { Limit, Severity } from '../rule.js';

export type ExhaustPlace = 'before-turbine' | 'after-turbine';

/** An event enters at a limit for 5 s with three fresh samples and ends 20 K below it: gas is quick. */
export const HELD = 5;
const EVENT: EventRule = { minDuration: HELD, leave: 20, minFresh: 3 };
export const SLOWEST = EVENT.minFresh / HELD;
/**
 * A sheathed probe follows a step of 800 K within two seconds: more is a loose connector. Above 1370 degC a type K
 * thermocouple has no table any more (IEC 60584-1, from memory).
 */
const INERTIA: Inertia = { leap: 500, ramp: 400, range: { low: -45, high: 1360 } };
/** Half-width of a type K probe of class 2, 0.75 % (IEC 60584-1, from memory); of a model, 5 % (common practice, no source). */
const PROBE = 0.0075;
const MODEL = 0.05;
/** What reads hot for nine tenths of a drive measures no exhaust. Common practice, no source. */
const ALWAYS = 0.1;
/** Gas under load is never still: less than this (K) of movement over ten seconds is a stuck reading. */
const STILL = { kelvin: 1.5, seconds: 10 } as const;

export interface ExhaustEvent extends Stay {
  readonly severity: Severity;
  readonly samples: number;
  readonly leapt: boolean;
}

export interface ExhaustReading {
  readonly channel: Channel;
  readonly place: ExhaustPlace | Refusal;
  /** The place was concluded, not written. */
  readonly assumed: boolean;
  readonly modelled: boolean;
  readonly uncertainty: number;
  readonly hz: number;
  readonly peak: number;
  readonly peakAt: number;
  /** Highest temperature held for five seconds, else the peak. */
  readonly held: number;
  readonly events: readonly ExhaustEvent[];
  readonly dwell: Readonly<Record<string, number>>;
  readonly seen: number;
  /** Beyond the lowest limit with too few fresh samples. */
  readonly undecided: boolean;
  /** Why the reading is not believed. */
  readonly disbelief?: string;
}

const SEVERITIES: readonly Severity[] = ['watch', 'repair', 'stop'];

/** A probe in the port of a cylinder stands before the turbine, wherever that is. */
function placeIn(channel: Channel): { readonly place: ExhaustPlace | Refusal; readonly assumed: boolean } {
  const told = placeOf(channel);
  if (told === 'before-turbine' || told === 'after-turbine') return { place: told, assumed: false };
  if (channel.id.includes('.cylinder')) return { place: 'before-turbine', assumed: true };
  return {
    place: isRefusal(told) ? told : (placeOf({ id: channel.id }) as Refusal),
    assumed: false,
  };
}

/** Measures one channel; undefined with fewer than three usable samples. `limitsAt` gives the limits of a place. */
export function readExhaust(
  channel: Channel,
  modelled: boolean,
  time: Float64Array,
  limitsAt: (place: ExhaustPlace) => Readonly<Record<string, Limit>>,
): ExhaustReading | undefined {
  const series = fluidSeries(channel.values, time, freshRate(channel).hz, INERTIA);
  if (series === undefined) return undefined;
  const { place, assumed } = placeIn(channel);
  let top = 0;
  for (let i = 1; i < series.value.length; i++) if (series.value[i]! > series.value[top]!) top = i;
  const peak = series.value[top]!;
  const longest = heldMaximum(series.value, series.time, HELD, series.maxGap).value;
  const uncertainty = uncertaintyOf(channel, {
    noise: series.noise,
    fresh: series.smoothedOver,
    tolerance: (modelled ? MODEL : PROBE) * Math.max(0, peak),
  });
  const base = {
    channel,
    place,
    assumed,
    modelled,
    uncertainty,
    hz: series.hz,
    peak,
    peakAt: series.time[top]!,
    held: Number.isNaN(longest) ? peak : longest,
    seen: secondsWhere(series, () => true),
  };
  if (isRefusal(place)) return { ...base, events: [], dwell: {}, undecided: false };
  const ladder = SEVERITIES.map((name) => ({ ...limitsAt(place)[name]!, name })).sort((a, b) => a.value - b.value);
  const [lowest] = ladder;
  const surely = (limit: Limit) => (x: number) => exceeds(x, uncertainty, limit.value, limit.comparison) === 'beyond';
  const hot = staysAbove(series, surely(lowest!), lowest!.value, EVENT);
  const moving = hot.filter((stay) => !stuck(series, stay));
  const always = quantile(series.value, ALWAYS) > lowest!.value;
  const disbelief = channel.quality.constant
    ? 'reads the same all the time'
    : always
      ? 'reads hot in every kind of driving'
      : hot.length > 0 && moving.length === 0
        ? 'stands still where exhaust gas never does'
        : undefined;
  const events = (disbelief === undefined ? moving : []).flatMap((stay): ExhaustEvent[] => {
    const reached = ladder.filter((limit) => holdsStretch(series, stay.start, stay.end, surely(limit), EVENT)).pop();
    if (reached === undefined) return [];
    const samples = Math.max(1, Math.min(stay.end - stay.start + 1, Math.round((stay.to - stay.from) * series.hz)));
    const leapt = series.leaps.some((t) => t >= stay.from - series.maxGap && t <= stay.to + series.maxGap);
    return [{ ...stay, severity: modelled ? 'watch' : reached.name, samples, leapt }];
  });
  return {
    ...base,
    events,
    dwell: Object.fromEntries(ladder.map((limit) => [limit.name, secondsWhere(series, (x) => x >= limit.value)])),
    undecided: events.length === 0 && series.hz < 0.95 * SLOWEST && series.value.some(surely(lowest!)),
    ...(disbelief === undefined ? {} : { disbelief }),
  };
}

function stuck(series: FluidSeries, { start, end, from, to }: Stay): boolean {
  if (to - from < STILL.seconds) return false;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = start; i <= end; i++) {
    // The way up and down belongs to the gas, or to the plug being pulled.
    if (series.time[i]! < from + 1 || series.time[i]! > to - 1) continue;
    low = Math.min(low, series.value[i]!);
    high = Math.max(high, series.value[i]!);
  }
  return high - low < STILL.kelvin;
}
