import { ENGINE_TORQUE, type TorqueAgreement } from '../../derived/engine-torque.js';
import { uncertaintyOf } from '../../derived/exceeds.js';
import { type Drive, isRefusal } from '../../derived/recipe.js';
import type { Samples } from '../../derived/samples.js';
import { madn } from '../../math/madn.js';
import { median } from '../../math/quantile.js';
import { speedDensity } from '../../physics/air-mass.js';
import type { Channel } from '../../recording/recording.js';

/** s after which an engine that stands has let its manifold fill up; s that it takes. */
const FILLED = 2;
const STANDS = 1;
/** kPa, half-width of a pressure sensor's tolerance near one atmosphere. Common practice, no source. */
const TOLERANCE = 1;
/**
 * Filling (volumetric efficiency, on the state in the manifold) of a turbocharged engine near full throttle without
 * boost, and its standard uncertainty; kelvin by which the charge may differ from its sensor. Common practice, no source
 * (Heywood 1988, 6.2 gives 0.8 to 0.95 on ambient air, from memory).
 */
const FILLING = 0.92;
const FILLING_U = 0.09;
const CHARGE_U = 10;
/** Ignition that stands later in one drive than in the next changes the work of the same air by this share. Common practice, no source. */
const TIMING_U = 0.02;
/** Where filling hardly depends on the throttle: share of the barometer, rpm. */
const OPEN = [0.75, 1.05] as const;
const SPEEDS = [1500, 4500] as const;
const LEAST = 3;

export type Pair = 'key-on' | 'air' | 'torque';

export interface Comparison {
  readonly pair: Pair;
  readonly first: string;
  readonly second: string;
  /** kPa for `key-on`, else %: by which the first stands over the second. */
  readonly difference: number;
  readonly u: number;
  /** What the engine torque of the road says: the channel that stands alone; undefined when nothing tells. */
  readonly odd?: string;
  readonly samples: number;
  readonly at: number;
}

export interface AgreementReading {
  readonly comparisons: readonly Comparison[];
  readonly channels: readonly Channel[];
  /** What could not be compared, and why. */
  readonly open: readonly string[];
}

type Reads = Pick<Drive, 'time' | 'derive' | 'vehicle'> & {
  readonly optional: (id: (typeof COMPARED)[number]) => Channel | undefined;
};

export const COMPARED = [
  'manifoldPressure',
  'boostPressure',
  'barometricPressure',
  'airMassFlow',
  'engineTorque',
  'engineTorquePercent',
  'chargeAirTemperature',
  'intakeAirTemperature',
] as const;

/** Every pair of sensors that can be compared in one drive. */
export function readAgreement(view: Reads, samples: Samples): AgreementReading {
  const comparisons: Comparison[] = [];
  const open: string[] = [];
  const add = (found: Comparison | string): void => {
    if (typeof found === 'string') open.push(found);
    else comparisons.push(found);
  };
  for (const id of ['manifoldPressure', 'boostPressure'] as const)
    if (id === 'manifoldPressure' || view.optional(id) !== undefined) add(keyOn(view, samples, id));
  add(airAgainstFilling(view, samples));
  add(torqueAgainstAir(view));
  const read = new Set(comparisons.flatMap(({ first, second }) => [first, second]));
  return {
    comparisons,
    open,
    channels: COMPARED.flatMap((id) => (read.has(id) ? [view.optional(id)!] : [])),
  };
}

/** With the engine at rest every pressure of the air path is that of the air outside. */
function keyOn(view: Reads, samples: Samples, id: 'manifoldPressure' | 'boostPressure'): Comparison | string {
  const channel = view.optional(id);
  const barometer = view.optional('barometricPressure');
  const pressure = samples.held(id);
  const outside = samples.held('barometricPressure');
  if (channel === undefined || barometer === undefined || pressure === undefined || outside === undefined)
    return `${id} against barometricPressure: not both recorded`;
  const speed = samples.held('engineSpeed')!;
  const { time } = view;
  // A slow barometer may speak for the first time after the engine has started: the air outside waits.
  const first = barometer.values.find((x) => !Number.isNaN(x)) ?? Number.NaN;
  const differences: number[] = [];
  let seconds = 0;
  let since = Number.NEGATIVE_INFINITY;
  let at = Number.NaN;
  for (let i = 0; i < time.length; i++) {
    if (!(speed[i]! < 50)) {
      since = time[i]!;
      continue;
    }
    if (time[i]! - since < FILLED) continue;
    const known = Number.isNaN(outside[i]!) ? (time[i]! - time[0]! < 60 ? first : Number.NaN) : outside[i]!;
    const difference = pressure[i]! - known;
    if (Number.isNaN(difference)) continue;
    if (differences.length === 0) at = time[i]!;
    else if (time[i]! - time[i - 1]! < samples.maxStep) seconds += time[i]! - time[i - 1]!;
    differences.push(difference);
  }
  if (seconds < STANDS || differences.length < 3)
    return `${id} against barometricPressure: no ignition on with the engine at rest for ${FILLED + STANDS} s`;
  const fresh = Math.max(1, Math.min(differences.length, seconds * samples.hz(id)));
  return {
    pair: 'key-on',
    first: id,
    second: 'barometricPressure',
    difference: median(differences),
    u: Math.hypot(
      uncertaintyOf(channel, { noise: madn(differences), tolerance: TOLERANCE, fresh }),
      uncertaintyOf(barometer, { tolerance: TOLERANCE }),
    ),
    samples: fresh,
    at,
  };
}

/** Air meter against the air that the cylinders hold at that pressure, near full throttle without boost. */
function airAgainstFilling(view: Reads, samples: Samples): Comparison | string {
  const { displacement } = view.vehicle.engine;
  const names = 'airMassFlow against manifoldPressure';
  const flow = samples.held('airMassFlow');
  const pressure = samples.held('manifoldPressure');
  if (flow === undefined || pressure === undefined) return `${names}: not both recorded`;
  if (displacement === undefined) return `${names}: the profile names no displacement`;
  const charge = samples.held('chargeAirTemperature') ?? samples.held('intakeAirTemperature');
  const outside = samples.held('barometricPressure');
  const speed = samples.held('engineSpeed')!;
  const { time } = view;
  const logs: number[] = [];
  let seconds = 0;
  let last = Number.NaN;
  let at = Number.NaN;
  let from = 0;
  for (let i = 0; i < time.length; i++) {
    while (time[from]! < time[i]! - 1) from++;
    const p = pressure[i]!;
    const share = p / (outside?.[i] || 100);
    const n = speed[i]!;
    if (!(share >= OPEN[0] && share <= OPEN[1] && n >= SPEEDS[0] && n <= SPEEDS[1])) continue;
    // Steady for a second: the meter sits far before the manifold.
    if (!(Math.abs(pressure[from]! / p - 1) < 0.05 && Math.abs(speed[from]! / n - 1) < 0.05)) continue;
    const ratio = Math.log(flow[i]! / speedDensity(p, charge?.[i] ?? 30, FILLING, displacement, n));
    if (!Number.isFinite(ratio)) continue;
    const step = time[i]! - last;
    seconds += step < 1.1 ? step : 0;
    last = time[i]!;
    if (logs.length === 0) at = time[i]!;
    logs.push(ratio);
  }
  if (seconds < LEAST) return `${names}: no ${LEAST} s of steady driving near full throttle without boost`;
  const u = Math.hypot(FILLING_U, CHARGE_U / 300, (1.2533 * madn(logs)) / Math.sqrt(Math.max(1, seconds / 3)));
  return relative('air', 'airMassFlow', 'manifoldPressure', median(logs), u, Math.round(seconds), at);
}

/** The control unit's torque against what its air can make. */
function torqueAgainstAir(view: Reads): Comparison | string {
  const names = 'engineTorque against airMassFlow';
  const torque = view.derive(ENGINE_TORQUE);
  if (isRefusal(torque)) return `${names}: ${torque.reason}`;
  const pair = (first: string, second: string): TorqueAgreement | undefined =>
    torque.agreements.find((each) => each.first === first && each.second === second);
  const air = pair('channel', 'air');
  if (air === undefined) return `${names}: not both told at high load for 2 s`;
  if (air.cold) return `${names}: the engine was never warm under load, and friction of a cold one is not known`;
  const estimated = torque.estimates.air!;
  const second = /\((\w+)\)/.exec(estimated.source)?.[1] ?? 'airMassFlow';
  const first = torque.estimates.channel!.source;
  // Air that is itself told from pressure and a filling is no more sure than that filling.
  const u = Math.hypot(air.scatter, TIMING_U, second === 'manifoldPressure' ? FILLING_U : 0);
  // Road load as the third witness: it sides with the one that it stands nearer to by far.
  const [a, b] = [pair('channel', 'road'), pair('air', 'road')];
  const odd = a === undefined || b === undefined || a.differs === b.differs ? undefined : a.differs ? first : second;
  const found = relative('torque', first, second, Math.log(air.ratio), u, Math.round(air.seconds), Number.NaN);
  return odd === undefined ? found : { ...found, odd };
}

function relative(
  pair: Pair,
  first: string,
  second: string,
  log: number,
  u: number,
  samples: number,
  at: number,
): Comparison {
  // Both ways alike: a tenth too low is as far as a tenth too high.
  return { pair, first, second, difference: 100 * Math.sign(log) * Math.expm1(Math.abs(log)), u: 100 * u, samples, at };
}
