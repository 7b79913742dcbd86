import { AMBIENT } from '../../derived/ambient.js';
import { uncertaintyOf } from '../../derived/exceeds.js';
import { FUEL_CUT } from '../../derived/fuel-cut.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { freshRate } from '../../derived/refresh.js';
import { SAMPLES } from '../../derived/samples.js';
import { IDLE, OVERRUN } from '../../derived/segments.js';
import { WARM } from '../../derived/warm.js';
import { heldMaximum } from '../../math/held-maximum.js';
import { madn } from '../../math/madn.js';
import { median, quantile } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';

/** Idle above this speed (rpm) is raised on purpose. */
const IDLE_SPEED = 900;
/** Seconds after the pedal is let go, until the manifold has settled, and after a start, while the catalyst is heated. */
const SETTLE = 5;
const HEATING = 90;
/** Seconds of settled idle and fresh samples that it takes. */
export const IDLE_SECONDS = 20;
const IDLE_SAMPLES = 20;
/** Standard uncertainty of a manifold sensor, kPa; common practice (1.5 % of 250 kPa, rectangular). */
const SENSOR = 1.5;
/** Without any overrun below this share of the barometer the throttle is not what meters the air. */
const THROTTLED = 0.6;
const CRANKCASE_HELD = 2;

export interface ManifoldReading {
  /** Manifold over barometric pressure at warm idle. */
  readonly ratio: number;
  readonly u: number;
  readonly at: number;
  /** kPa absolute. */
  readonly pressure: number;
  readonly rpm: number;
  readonly seconds: number;
  readonly samples: number;
}

export interface BreathingReading {
  readonly manifold?: ManifoldReading;
  /** Settled warm idle, s. */
  readonly idle: number;
  /** Valves, not the throttle, meter the air: idle pressure says nothing. */
  readonly unthrottled: boolean;
  /** Crankcase pressure over ambient, kPa: highest held for two seconds with the engine warm. */
  readonly crankcase?: { readonly value: number; readonly u: number; readonly at: number; readonly samples: number };
  readonly channels: readonly Channel[];
  /** Where the barometric pressure comes from. */
  readonly barometer: string;
}

type Reads = Pick<Drive, 'time' | 'derive'> & {
  readonly optional: (id: 'manifoldPressure' | 'crankcasePressure' | 'engineSpeed') => Channel | undefined;
};

/** Warm idle against the barometer, and the crankcase. */
export function readBreathing(view: Reads): BreathingReading | Refusal {
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const warm = view.derive(WARM);
  if (isRefusal(warm)) return refuse(warm.reason, warm.missing);
  const ambient = view.derive(AMBIENT);
  if (isRefusal(ambient)) return ambient;
  const manifold = view.optional('manifoldPressure');
  const crankcase = view.optional('crankcasePressure');
  const read: BreathingReading = {
    idle: 0,
    unthrottled: false,
    channels: [manifold, crankcase].filter((each) => each !== undefined),
    barometer: ambient.pressureSource,
    ...(crankcase === undefined || crankcase.quality.constant ? {} : crankcaseOf(view, crankcase, warm.mask, samples)),
  };
  const speed = samples.held('engineSpeed');
  const pressure = samples.held('manifoldPressure');
  const idle = view.derive(IDLE);
  if (manifold === undefined || speed === undefined || pressure === undefined || manifold.quality.constant) return read;
  if (isRefusal(idle)) return read.crankcase === undefined ? refuse(idle.reason, idle.missing) : read;
  const rows: number[] = [];
  let seconds = 0;
  const started = firstTurning(speed, view.time);
  for (const { start, end, from } of idle) {
    for (let i = start; i <= end; i++) {
      if (view.time[i]! < from + SETTLE || view.time[i]! < started + HEATING) continue;
      if (warm.mask[i] === 0 || !(speed[i]! >= 400 && speed[i]! <= IDLE_SPEED)) continue;
      rows.push(i);
      seconds += i > 0 ? Math.min(view.time[i]! - view.time[i - 1]!, samples.maxStep) : 0;
    }
  }
  const fresh = Math.min(rows.length, Math.round(seconds * freshRateOf(manifold, rows.length / Math.max(seconds, 1))));
  if (seconds < IDLE_SECONDS || fresh < IDLE_SAMPLES) return { ...read, idle: seconds };
  const values = rows.map((i) => pressure[i]!);
  const middle = median(values);
  const u = Math.hypot(
    uncertaintyOf(manifold, { noise: madn(values), fresh }) / middle,
    SENSOR / middle,
    ambient.pressureU / ambient.pressure,
  );
  const ratio = middle / ambient.pressure;
  return {
    ...read,
    idle: seconds,
    unthrottled: isUnthrottled(view, pressure, ambient.pressure),
    manifold: {
      ratio,
      u: ratio * u,
      at: view.time[rows[0]!]!,
      pressure: middle,
      rpm: median(rows.map((i) => speed[i]!)),
      seconds,
      samples: fresh,
    },
  };
}

function freshRateOf(channel: Channel, rowHz: number): number {
  const { hz } = freshRate(channel);
  return hz > 0 ? Math.min(hz, rowHz) : rowHz;
}

/** Seconds at which the engine first turned, when the recording holds the start; else before all. */
function firstTurning(speed: Float64Array, time: Float64Array): number {
  if (!(speed[0]! < 300)) return Number.NEGATIVE_INFINITY;
  const row = speed.findIndex((n) => n >= 300);
  return row < 0 ? Number.POSITIVE_INFINITY : time[row]!;
}

/** On the overrun a throttle shuts the manifold off; an engine metered by its valves never shows a vacuum. */
function isUnthrottled(view: Reads, pressure: Float64Array, barometer: number): boolean {
  const overrun = view.derive(OVERRUN);
  const cut = view.derive(FUEL_CUT);
  const seen: number[] = [];
  for (let i = 0; i < pressure.length; i++)
    if (!isRefusal(cut) && cut.mask[i] === 1 && !Number.isNaN(pressure[i]!)) seen.push(pressure[i]!);
  if (!isRefusal(overrun))
    for (const { start, end } of overrun)
      for (let i = start; i <= end; i++) if (!Number.isNaN(pressure[i]!)) seen.push(pressure[i]!);
  return seen.length >= 20 && quantile(seen, 0.1) > THROTTLED * barometer;
}

function crankcaseOf(
  view: Reads,
  channel: Channel,
  warm: Uint8Array,
  samples: { readonly held: (id: string) => Float64Array | undefined; readonly maxStep: number },
): Pick<BreathingReading, 'crankcase'> {
  const held = samples.held('crankcasePressure')!;
  const speed = samples.held('engineSpeed');
  const values = held.map((x, i) => (warm[i] === 1 && (speed === undefined || speed[i]! >= 400) ? x : Number.NaN));
  const { hz } = freshRate(channel);
  if (hz > 0 && hz * CRANKCASE_HELD < 2.8) return {};
  const best = heldMaximum(values, view.time, CRANKCASE_HELD, samples.maxStep);
  if (best.index < 0) return {};
  const count = values.reduce((total, x) => total + (Number.isNaN(x) ? 0 : 1), 0);
  return {
    crankcase: {
      value: best.value,
      u: uncertaintyOf(channel, { tolerance: 0.3 }),
      at: view.time[best.index]!,
      samples: count,
    },
  };
}
