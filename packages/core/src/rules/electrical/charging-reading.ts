import { CRANK_VOLTAGES, type CrankVoltages } from '../../derived/crank-voltage.js';
import { exceeds, uncertaintyOf } from '../../derived/exceeds.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { freshRate } from '../../derived/refresh.js';
import { ROW_SECONDS } from '../../derived/row-seconds.js';
import { SAMPLES } from '../../derived/samples.js';
import { SPEED } from '../../derived/speed.js';
import { middleOfTold } from '../../math/evenly.js';
import { heldMaximum } from '../../math/held-maximum.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';
import type { Limit } from '../rule.js';

/** Seconds for which a voltage has to stand; three fresh samples within. */
export const HELD = 10;
/** Slowest channel that shows such a stretch, Hz. */
export const SLOWEST = 3 / HELD;
/** Seconds for which a voltage counts as reached at all. */
export const REACHED = 2;
/** From here (rpm) an alternator gives its current; and an engine runs by itself. Common practice, no source. */
const CHARGES = 1500;
const RUNS = 500;
/** Half-width of what control units read off true, V. Common practice, no source. */
const TOLERANCE = 0.1;
/** No 12 V control unit works outside of this (V) for long: then the column is another voltage. Derived. */
const WORKS = { low: 9, high: 18 } as const;
/** A charging voltage wanted below this (V) asks for no charge. Common practice, no source. */
const NO_CHARGE = 13.2;
/** km/h from which the car is driven. */
const DRIVES = 5;

export interface HeldVoltage {
  readonly value: number;
  readonly at: number;
}

export interface ChargingReading {
  /** Seconds of running engine above 1500 rpm with a voltage, and of these surely below the limit. */
  readonly seen: number;
  readonly low: number;
  /** First and last second of what was low. */
  readonly lowFrom: number;
  readonly lowTo: number;
  /** Lowest mean of what was low, V. */
  readonly lowMedian: number;
  /** Highest voltage held for two seconds with the engine running, NaN without. */
  readonly reached: HeldVoltage;
  /** Highest and lowest voltage held for ten seconds, running and driving. */
  readonly highest: HeldVoltage;
  readonly lowest: HeldVoltage;
  /** Median with the engine running, V. */
  readonly usual: number;
  readonly u: number;
  readonly hz: number;
  readonly constant: boolean;
  /** The charging voltage that is wanted was left out where it asks for no charge, s. */
  readonly unasked: number;
  readonly channel: Channel;
  readonly crank: CrankVoltages | Refusal;
}

type Reads = Pick<Drive, 'time' | 'derive'> & {
  readonly channel: (id: 'systemVoltage' | 'engineSpeed') => Channel;
};

export function readCharging(view: Reads, limits: Readonly<Record<string, Limit>>): ChargingReading | Refusal {
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const seconds = view.derive(ROW_SECONDS);
  if (isRefusal(seconds)) return seconds;
  const channel = view.channel('systemVoltage');
  const volts = samples.held('systemVoltage');
  const engine = samples.held('engineSpeed');
  if (volts === undefined || engine === undefined)
    return refuse('voltage or engine speed holds no samples', { channels: ['systemVoltage', 'engineSpeed'] });
  const { hz } = freshRate(channel);
  if (hz > 0 && hz < 0.95 * SLOWEST)
    return refuse(`the voltage comes at ${hz.toPrecision(2)} Hz; ten seconds need ${SLOWEST} Hz`, {
      conditions: [`systemVoltage at >= ${SLOWEST} Hz`],
    });
  const wanted = samples.held('alternatorVoltageTarget');
  const speed = view.derive(SPEED);
  const road = isRefusal(speed) ? undefined : speed.values;
  const u = uncertaintyOf(channel, { tolerance: TOLERANCE });
  const floor = limits['low-repair']!;
  const lows: number[] = [];
  let seen = 0;
  let low = 0;
  let lowFrom = Number.NaN;
  let lowTo = Number.NaN;
  let unasked = 0;
  // Most readings repeat the last one, and the answer with it.
  let last = Number.NaN;
  let under = false;
  for (let i = 0; i < volts.length; i++) {
    const v = volts[i]!;
    if (Number.isNaN(v) || !(engine[i]! > CHARGES)) continue;
    if (!asked(wanted, i)) {
      unasked += seconds[i]!;
      continue;
    }
    seen += seconds[i]!;
    if (v > floor.value) continue;
    if (v !== last) {
      last = v;
      under = exceeds(v, u, floor.value, floor.comparison) === 'beyond';
    }
    if (!under) continue;
    low += seconds[i]!;
    lows.push(v);
    if (Number.isNaN(lowFrom)) lowFrom = view.time[i]!;
    lowTo = view.time[i]!;
  }
  const some = new Float64Array(volts.length);
  putRunning(volts, engine, some);
  const middle = middleOfTold(some);
  if (middle < WORKS.low || middle > WORKS.high)
    return refuse(
      `the column reads ${middle.toPrecision(3)} V with the engine running: not the voltage of a 12 V system`,
      { channels: ['systemVoltage'] },
    );
  const held = (duration: number, sign: number): HeldVoltage => {
    const { value, index } = heldMaximum(some, view.time, duration, samples.maxStep);
    return { value: sign * value, at: index < 0 ? Number.NaN : view.time[index]! };
  };
  const reached = held(REACHED, 1);
  const highest = held(HELD, 1);
  putDriving(volts, engine, wanted, road, some);
  return {
    seen,
    low,
    lowFrom,
    lowTo,
    lowMedian: median(lows),
    reached,
    highest,
    lowest: held(HELD, -1),
    usual: middle,
    u,
    hz,
    constant: channel.quality.constant,
    unasked,
    channel,
    crank: view.derive(CRANK_VOLTAGES),
  };
}

/** Whether the control unit wants the battery charged. */
function asked(wanted: Float64Array | undefined, i: number): boolean {
  return wanted === undefined || !(wanted[i]! < NO_CHARGE);
}

/** The voltage with the engine running, NaN else. */
function putRunning(volts: Float64Array, engine: Float64Array, result: Float64Array): void {
  for (let i = 0; i < volts.length; i++) result[i] = engine[i]! >= RUNS ? volts[i]! : Number.NaN;
}

/** The voltage below zero, so that its lowest is the highest, while the car is driven and a charge is asked for; NaN else. */
function putDriving(
  volts: Float64Array,
  engine: Float64Array,
  wanted: Float64Array | undefined,
  road: Float64Array | undefined,
  result: Float64Array,
): void {
  for (let i = 0; i < volts.length; i++) {
    const driven = road === undefined ? engine[i]! > CHARGES : engine[i]! >= RUNS && road[i]! >= DRIVES;
    result[i] = driven && asked(wanted, i) ? -volts[i]! : Number.NaN;
  }
}
