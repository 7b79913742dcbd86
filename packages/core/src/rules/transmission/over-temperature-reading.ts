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
import { median } from '../../math/quantile.js';
import type { Certainty, Channel } from '../../recording/recording.js';
import type { TransmissionKind, Vehicle } from '../../vehicle/vehicle.js';
import type { Limit, Severity } from '../rule.js';
import { type Cooling, coolingOf, equivalentHours, type Steady } from './over-temperature-physics.js';

export type FluidPlace = 'sump' | 'clutch-outlet' | 'cooler-inlet';

/** An event enters at a limit for at least 2 s and ends 5 K below it; a duration takes 3 fresh samples. */
export const EVENT: EventRule = { minDuration: 2, leave: 5, minFresh: 3 };

/** Fluid counts as being at operating temperature from here, degC. Common practice, no source. */
export const OPERATING = 60;

/**
 * What fluid can do, to tell it from a loose connector. Derived for the sump: about 7 kg of fluid hold 14 kJ/K, so a
 * leap of 15 K takes the whole output of a 200 kW engine for a second, and 3 K/s takes 40 kW for as long as it lasts.
 * At the outlet of a slipping clutch only the flow itself is heated, several times faster.
 */
const INERTIA: Readonly<Record<FluidPlace, Inertia>> = {
  sump: { leap: 15, ramp: 3 },
  'clutch-outlet': { leap: 60, ramp: 20 },
  'cooler-inlet': { leap: 60, ramp: 20 },
};

/**
 * Half-width of what the reading itself may be off, K. The limits are figures for the car's own sensor as it is
 * indicated, so the sensor's absolute error is part of them; what is left is its scatter from car to car.
 * Common practice, no source.
 */
const TOLERANCE = 0.5;

export interface FluidEvent extends Stay {
  /** Highest limit at which the stay, less its uncertainty, holds for the shortest duration. */
  readonly severity?: Severity;
  /** Fresh samples in it. */
  readonly samples: number;
  /** Entered or left by a leap that no fluid makes. */
  readonly leapt: boolean;
}

/** What one temperature channel of one drive shows; small, so that the recording can be let go. */
export interface Reading {
  readonly channel: string;
  readonly certainty: Certainty;
  readonly place: FluidPlace;
  readonly kind: TransmissionKind | undefined;
  /** Standard uncertainty of one value, K. */
  readonly uncertainty: number;
  readonly hz: number;
  readonly peak: number;
  readonly peakAt: number;
  readonly events: readonly FluidEvent[];
  /** Seconds above each limit, by its name. */
  readonly dwell: Readonly<Record<string, number>>;
  /** Seconds with a reading, and of these at operating temperature. */
  readonly seen: number;
  readonly warm: number;
  /** Median at operating temperature and outside of the events, degC; NaN where there is none. */
  readonly usual: number;
  readonly samples: number;
  /** Beyond the lowest limit, but for too few fresh samples to be an event. */
  readonly undecided: boolean;
  /** Never moved in the whole recording. */
  readonly constant: boolean;
  readonly setAside: number;
  readonly leaps: number;
  /** Seconds at which the reader of the file found it to leap to another level for good. */
  readonly broken: readonly number[];
  readonly equivalentHours: number;
  readonly cooling?: Cooling;
  readonly heatingPerPull: readonly number[];
  readonly heatingPerStart: readonly number[];
  readonly steady?: Steady;
  /** Whether full load was seen; undefined when the recording cannot tell. */
  readonly loaded?: boolean;
}

/** The place that header or map file name wins; then the profile; else the sump. */
function placeOf(channel: Channel, vehicle: Vehicle): FluidPlace {
  if (channel.place === 'clutch-outlet' || channel.place === 'cooler-inlet') return channel.place;
  if (channel.id.startsWith('clutchOilTemperature')) return 'clutch-outlet';
  return vehicle.transmission.fluidPlace ?? 'sump';
}

/** The variant of the limits that counts; an unknown kind, and a manual gearbox, are judged as dual clutch, whose fluid bears less. */
export function variantOf(place: FluidPlace, kind: TransmissionKind | undefined): Readonly<Record<string, string>> {
  return { place, kind: kind === 'converter' ? 'converter' : 'dual-clutch' };
}

const SEVERITIES: readonly Severity[] = ['watch', 'repair', 'stop'];

/** The limits that are temperatures, lowest first. */
export function ladderOf(limits: Readonly<Record<string, Limit>>): (Limit & { readonly name: Severity })[] {
  return SEVERITIES.flatMap((name) => {
    const limit = limits[name];
    return limit === undefined ? [] : [{ ...limit, name }];
  }).sort((a, b) => a.value - b.value);
}

export interface Measured {
  readonly series: FluidSeries;
  readonly reading: Reading;
}

/** Measures one channel; undefined when it has too few usable samples. */
export function readFluid(
  channel: Channel,
  time: Float64Array,
  vehicle: Vehicle,
  limitsFor: (variant: Readonly<Record<string, string>>) => Readonly<Record<string, Limit>>,
): Measured | undefined {
  const place = placeOf(channel, vehicle);
  const { kind } = vehicle.transmission;
  const series = fluidSeries(channel.values, time, freshRate(channel).hz, INERTIA[place]);
  const ladder = ladderOf(limitsFor(variantOf(place, kind)));
  const [lowest] = ladder;
  if (series === undefined || lowest === undefined) return undefined;
  const uncertainty = uncertaintyOf(channel, {
    noise: series.noise,
    fresh: series.smoothedOver,
    tolerance: TOLERANCE,
  });
  const over = (limit: Limit) => (x: number) => (limit.comparison === '>' ? x > limit.value : x >= limit.value);
  const surelyOver = (limit: Limit) => (x: number) =>
    exceeds(x, uncertainty, limit.value, limit.comparison) === 'beyond';
  const events = staysAbove(series, over(lowest), lowest.value, EVENT).map((stay): FluidEvent => {
    const reached = ladder
      .filter((limit) => holdsStretch(series, stay.start, stay.end, surelyOver(limit), EVENT))
      .pop();
    const samples = Math.max(1, Math.min(stay.end - stay.start + 1, Math.round((stay.to - stay.from) * series.hz)));
    const leapt = series.leaps.some((t) => t >= stay.from - series.maxGap && t <= stay.to + series.maxGap);
    return { ...stay, samples, leapt, ...(reached === undefined ? {} : { severity: reached.name }) };
  });
  const top = highest(series);
  const cooling = coolingOf(series, events);
  const dwell = Object.fromEntries(ladder.map((limit) => [limit.name, secondsWhere(series, over(limit))]));
  return {
    series,
    reading: {
      channel: channel.id,
      certainty: channel.certainty,
      place,
      kind,
      uncertainty,
      hz: series.hz,
      peak: series.value[top]!,
      peakAt: series.time[top]!,
      events,
      dwell,
      seen: secondsWhere(series, () => true),
      warm: secondsWhere(series, (x) => x >= OPERATING),
      usual: median(series.value.filter((x) => x >= OPERATING && !over(lowest)(x))),
      samples: series.value.length,
      undecided: events.length === 0 && tooFew(series) && series.value.some(surelyOver(lowest)),
      constant: channel.quality.constant,
      setAside: series.setAside,
      leaps: series.leaps.length,
      broken: channel.quality.leaps ?? [],
      equivalentHours: equivalentHours(series),
      ...(cooling === undefined ? {} : { cooling }),
      heatingPerPull: [],
      heatingPerStart: [],
    },
  };
}

/** The shortest event would bring too few fresh samples at this rate. */
function tooFew(series: FluidSeries): boolean {
  return series.hz * EVENT.minDuration < 0.95 * EVENT.minFresh;
}

function highest(series: FluidSeries): number {
  let top = 0;
  for (let i = 1; i < series.value.length; i++) if (series.value[i]! > series.value[top]!) top = i;
  return top;
}

/**
 * How far (K) above its highest reading the fluid may have stayed for the shortest event without being seen, when the
 * samples are further apart than that: up and down again at the fastest rate the fluid can keep up.
 */
export function unseenAbove(reading: Reading): number {
  return (INERTIA[reading.place].ramp * Math.max(0, 1 / reading.hz - EVENT.minDuration)) / 2;
}
