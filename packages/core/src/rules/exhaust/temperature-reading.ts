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

/** How long (s) each limit has to be held: the lowest is of endurance, the others do harm within seconds, as other temperatures. */
export const HOLDS: Readonly<Record<Severity, number>> = { watch: 5, repair: 2, stop: 2 };
/** Three fresh samples within, and an event ends 20 K below the lowest limit: gas is quick. */
const eventOf = (seconds: number): EventRule => ({ minDuration: seconds, leave: 20, minFresh: 3 });
/** Slowest channel that shows the lowest limit held, and the others, Hz. */
export const SLOWEST = 3 / HOLDS.watch;
export const QUICK = 3 / HOLDS.repair;
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
  /** Seconds above the limit of that severity. */
  readonly beyond: number;
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
  /** Least distance of what was held for the time of a limit below that limit, K; negative beyond one. */
  readonly room: number;
  readonly events: readonly ExhaustEvent[];
  readonly dwell: Readonly<Record<string, number>>;
  /** Longest stay surely beyond the lowest limit that was too short to be an event, s; 0 without. */
  readonly brief: number;
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
    seen: secondsWhere(series, () => true),
  };
  if (isRefusal(place)) return { ...base, events: [], dwell: {}, brief: 0, room: Number.NaN, undecided: false };
  const ladder = SEVERITIES.map((name) => ({ ...limitsAt(place)[name]!, name })).sort((a, b) => a.value - b.value);
  const [lowest] = ladder;
  const surely = (limit: Limit) => (x: number) => exceeds(x, uncertainty, limit.value, limit.comparison) === 'beyond';
  const shortest = Math.min(...SEVERITIES.map((name) => HOLDS[name]));
  const hot = staysAbove(series, surely(lowest!), lowest!.value, eventOf(shortest));
  const moving = hot.filter((stay) => !stuck(series, stay));
  const always = quantile(series.value, ALWAYS) > lowest!.value;
  const disbelief = channel.quality.constant
    ? 'reads the same all the time'
    : always
      ? 'reads hot in every kind of driving'
      : hot.length > 0 && moving.length === 0
        ? 'stands still where exhaust gas never does'
        : undefined;
  const reachedOf = ({ start, end }: Stay) =>
    ladder.filter((limit) => holdsStretch(series, start, end, surely(limit), eventOf(HOLDS[limit.name]))).pop();
  const events = (disbelief === undefined ? moving : []).flatMap((stay): ExhaustEvent[] => {
    const reached = reachedOf(stay);
    if (reached === undefined) return [];
    const samples = Math.max(1, Math.min(stay.end - stay.start + 1, Math.round((stay.to - stay.from) * series.hz)));
    const leapt = series.leaps.some((t) => t >= stay.from - series.maxGap && t <= stay.to + series.maxGap);
    const severity: Severity = modelled ? 'watch' : reached.name;
    const told = ladder.find(({ name }) => name === severity)!;
    let beyond = 0;
    for (let i = stay.start; i <= stay.end; i++) if (series.value[i]! > told.value) beyond += series.hold[i]!;
    return [{ ...stay, severity, beyond, samples, leapt }];
  });
  return {
    ...base,
    events,
    dwell: Object.fromEntries(ladder.map((limit) => [limit.name, secondsWhere(series, (x) => x >= limit.value)])),
    brief: Math.max(
      0,
      ...staysAbove(series, surely(lowest!), lowest!.value, { ...eventOf(0), minFresh: 1 })
        .filter((stay) => reachedOf(stay) === undefined)
        .map(({ from, to, end }) => to - from + series.hold[end]!),
    ),
    room: Math.min(
      ...ladder.map(({ name, value }) => {
        const { value: held } = heldMaximum(series.value, series.time, HOLDS[name], series.maxGap);
        return value - (Number.isNaN(held) ? peak : held);
      }),
    ),
    undecided:
      events.length === 0 &&
      ladder.some((limit) => series.hz * HOLDS[limit.name] < 0.95 * 3 && series.value.some(surely(limit))),
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
