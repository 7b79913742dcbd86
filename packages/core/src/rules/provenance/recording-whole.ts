import type { Samples } from '../../derived/samples.js';
import { levelOf } from '../../math/evenly.js';
import { madn } from '../../math/madn.js';
import { median, medianOfFew, quantileInPlace } from '../../math/quantile.js';
import { absoluteLoad } from '../../physics/air-mass.js';
import type { Channel } from '../../recording/recording.js';
import type { Windows } from './recording-windows.js';

/** Two columns that read one quantity and stand apart by one share over the whole recording. */
export interface Apart {
  /** `cut`: `channel` lies flat on its highest reading while `other` goes on. */
  readonly kind: 'scaled' | 'smoothed' | 'cut';
  readonly channel: string;
  readonly other: string;
  /** `scaled` and `cut`: `channel` over `other`; `smoothed`: noise of `channel` over that of its kin. */
  readonly factor: number;
  /** Others that agree with each other, so that `channel` is the odd one. */
  readonly agreeing: readonly string[];
  /** `cut`: highest reading, and the highest of `other` meanwhile; seconds at which it came, and how often it was so. */
  readonly cut?: { readonly top: number; readonly reached: number; readonly at: number; readonly times: number };
}

export interface Whole {
  readonly apart: readonly Apart[];
  /** Channels that were held against another one. */
  readonly compared: readonly string[];
}

/** Windows of 10 s behind a factor, and where pulls alone tell it; rows of one of them, most scatter (ln) of a factor that is one. */
const WINDOWS = 6;
const PULLS = 3;
const ROWS = 40;
/** Windows of a long recording that tell a factor as well as all of them. */
const SOME = 120;
const STEADY = 0.05;
/** km/h from which road speeds and shafts are compared. */
const FAST = 40;
/**
 * Bounds of what honest columns do, natural logarithms. Road speed of a display: never less than true, at most a tenth
 * and 4 km/h more (UN R39, from memory), and tyres of another size: 8 %. Shafts before a clutch or a locked converter:
 * slip. Absolute load is air mass by its definition (SAE J1979 PID 43, from memory), half a sample apart. Charge
 * pressure before an open throttle: what cooler and pipe take. Common practice, no source, where none is named.
 */
const BOUNDS = {
  speed: [-0.08, 0.08],
  shaft: [-0.06, 0.14],
  load: [-0.12, 0.12],
  charge: [-0.18, 0.06],
} as const;
const DISPLAY = [0.1, 4] as const;
/** kPa over which a charge pipe is under pressure, share of the throttle's own highest reading that is open. */
const CHARGED = 125;
const OPEN = 0.95;
/** % of absolute load from which air meter and computed load are compared. */
const LOADED = 15;
/** Noise of one wheel over that of the others, at most; three others have to agree within the same again. */
const QUIET = 0.33;
const ALIKE = 2;
/** Second differences, evenly spread, that tell the noise of a wheel as well as all of them. */
const BENDS = 20_000;

/** What a column, or several as one, read at row `i`. */
interface Series {
  readonly id: string;
  at(i: number): number;
}

/**
 * NaN is no sample. Columns that read one quantity against each other over the whole recording: road speeds, engine speed
 * against the input shaft of the gear engaged, absolute load against air mass, manifold pressure against charge pressure
 * before an open throttle, and the noise of one wheel against that of the others.
 * @param displacement L; undefined when the profile names none
 */
export function wholeColumns(
  channels: readonly Channel[],
  samples: Samples,
  time: Float64Array,
  all: Windows,
  displacement: number | undefined,
): Whole {
  const edges = all.filter((_, w) => w % Math.max(1, Math.floor(all.length / SOME)) === 0);
  const held = (id: string): Series | undefined => {
    const values = samples.held(id);
    return values === undefined ? undefined : { id, at: (i) => values[i]! };
  };
  const apart: Apart[] = [];
  const compared = new Set<string>();
  const logOf = (a: Series, b: Series, rows: (i: number) => boolean, windows = WINDOWS): number => {
    // Pulls are few: every window is asked for them.
    const log = factorOf(a, b, windows === PULLS ? all : edges, rows, windows);
    if (!Number.isNaN(log)) compared.add(a.id).add(b.id);
    return log;
  };
  const weigh = (
    a: Series,
    b: Series,
    [least, most]: readonly [number, number],
    rows: (i: number) => boolean,
    windows = WINDOWS,
  ): void => {
    const log = logOf(a, b, rows, windows);
    if (log < least || log > most)
      apart.push({ kind: 'scaled', channel: a.id, other: b.id, factor: Math.exp(log), agreeing: [] });
  };
  const speeds = speedsOf(channels, held);
  const fast = (i: number): boolean => speeds.length > 0 && speeds[0]!.at(i) > FAST;
  apart.push(...oddSpeed(speeds, (a, b) => logOf(a, b, (i) => a.at(i) > FAST || b.at(i) > FAST)));
  const engine = held('engineSpeed');
  const shaft = shaftOf(channels, held);
  if (engine !== undefined && shaft !== undefined) weigh(engine, shaft, BOUNDS.shaft, fast);
  const [load, air] = [held('engineLoadAbsolute'), held('airMassFlow')];
  if (engine !== undefined && load !== undefined && air !== undefined && displacement !== undefined) {
    const byAir = (i: number): number => absoluteLoad(air.at(i), displacement, engine.at(i));
    weigh(load, { id: air.id, at: byAir }, BOUNDS.load, (i) => byAir(i) > LOADED);
  }
  const [manifold, charge, throttle] = [
    held('manifoldPressure'),
    held('boostPressure'),
    samples.held('throttlePosition'),
  ];
  if (manifold !== undefined && charge !== undefined && throttle !== undefined) {
    const open = OPEN * levelOf(throttle, 0.995);
    weigh(manifold, charge, BOUNDS.charge, (i) => charge.at(i) > CHARGED && throttle[i]! >= open, PULLS);
  }
  const cut = cutOff(channels, shaft ?? speeds[0], time);
  return { apart: [...apart, ...cut, ...quietWheels(channels, samples)], compared: [...compared] };
}

/** The engine speed that was cut off at one reading, beside its input shaft or the road speed. */
function cutOff(channels: readonly Channel[], other: Series | undefined, time: Float64Array): readonly Apart[] {
  const engine = channels.find(({ id }) => id === 'engineSpeed');
  const flat = engine?.quality.saturated ?? [];
  if (engine === undefined || other === undefined || flat.length === 0) return [];
  let [top, reached, at] = [Number.NaN, Number.NaN, Number.NaN];
  for (let i = 0, k = 0; i < time.length && k < flat.length; i++) {
    if (time[i]! > flat[k]!.to) k++;
    if (k === flat.length || time[i]! < flat[k]!.from) continue;
    if (!(engine.values[i]! <= top) && !Number.isNaN(engine.values[i]!)) top = engine.values[i]!;
    if (!(other.at(i) <= reached) && !Number.isNaN(other.at(i))) [reached, at] = [other.at(i), time[i]!];
  }
  const cut = { top, reached, at, times: flat.length };
  return [{ kind: 'cut', channel: engine.id, other: other.id, factor: top / reached, agreeing: [], cut }];
}

/** Median of ln(a / b) over the windows in which it can be told; NaN where too few do, or where it is not one factor. */
function factorOf(a: Series, b: Series, edges: Windows, rows: (i: number) => boolean, least: number): number {
  const own = new Float64Array(2 * ROWS);
  const logs = new Float64Array(edges.length);
  let told = 0;
  for (const [from, to] of edges) {
    const stride = Math.max(1, Math.floor((to - from) / ROWS));
    let count = 0;
    for (let i = from; i < to; i += stride) {
      if (!rows(i)) continue;
      const log = Math.log(a.at(i) / b.at(i));
      if (Number.isFinite(log)) own[count++] = log;
    }
    if (count >= 4) logs[told++] = quantileInPlace(own.subarray(0, count), 0.5);
  }
  const some = logs.subarray(0, told);
  return told < least || madn(some) > STEADY ? Number.NaN : median(some);
}

/** Road speeds, the four wheels as one: their median. */
function speedsOf(channels: readonly Channel[], held: (id: string) => Series | undefined): readonly Series[] {
  const wheels = channels.filter(({ id }) => id.startsWith('wheelSpeed.')).flatMap(({ id }) => held(id) ?? []);
  const some = new Float64Array(wheels.length);
  const middleAt = (i: number): number => {
    let count = 0;
    for (const wheel of wheels) {
      const x = wheel.at(i);
      if (Number.isFinite(x)) some[count++] = x;
    }
    return medianOfFew(some, count);
  };
  const rolled = wheels.length < 2 ? undefined : { id: 'wheelSpeed', at: middleAt };
  return [held('vehicleSpeed'), held('gpsSpeed'), rolled].flatMap((each) => each ?? []);
}

/** The shaft of the gear engaged: odd gears on clutch 1, even ones on clutch 2; else the only one. */
function shaftOf(channels: readonly Channel[], held: (id: string) => Series | undefined): Series | undefined {
  const single = channels.find(({ id }) => id === 'inputShaftSpeed');
  if (single !== undefined) return held(single.id);
  const [one, two, gear] = [held('inputShaftSpeed.clutch1'), held('inputShaftSpeed.clutch2'), held('gear')];
  if (one === undefined || two === undefined || gear === undefined) return undefined;
  const at = (i: number): number => {
    const g = gear.at(i);
    return g >= 1 ? (g % 2 === 1 ? one.at(i) : two.at(i)) : Number.NaN;
  };
  return { id: 'inputShaftSpeed', at };
}

/** The road speed that stands apart; of three the two nearest to each other side against the third. */
function oddSpeed(speeds: readonly Series[], logOf: (a: Series, b: Series) => number): readonly Apart[] {
  const pairs = speeds.flatMap((a, k) =>
    speeds.slice(k + 1).map((b) => {
      const log = logOf(a, b);
      const shown = a.id === 'vehicleSpeed' ? Math.log(1 + DISPLAY[0] + DISPLAY[1] / FAST) : 0;
      return { a, b, log, apart: log < BOUNDS.speed[0] || log > shown + BOUNDS.speed[1] };
    }),
  );
  const worst = pairs.filter(({ apart }) => apart).sort((x, y) => Math.abs(y.log) - Math.abs(x.log))[0];
  if (worst === undefined) return [];
  const [nearest] = pairs
    .filter((pair) => !pair.apart && !Number.isNaN(pair.log))
    .sort((x, y) => Math.abs(x.log) - Math.abs(y.log));
  const agreeing = nearest === undefined ? [] : [nearest.a.id, nearest.b.id];
  const first = !agreeing.includes(worst.a.id) || agreeing.length === 0;
  const [channel, other, log] = first ? [worst.a.id, worst.b.id, worst.log] : [worst.b.id, worst.a.id, -worst.log];
  return [{ kind: 'scaled', channel, other, factor: Math.exp(log), agreeing }];
}

/** One of four wheels that has hardly any noise, while three others agree on theirs. */
function quietWheels(channels: readonly Channel[], samples: Samples): readonly Apart[] {
  const wheels = channels.filter(({ id }) => id.startsWith('wheelSpeed.'));
  if (wheels.length < 4) return [];
  const noise = wheels.map(({ id, values, quality }) => {
    const bends = bendsOf(values, samples.fresh(id));
    return bends.length >= WINDOWS * ROWS ? quantileInPlace(bends, 0.5) + quality.quantum / 4 : Number.NaN;
  });
  if (noise.some(Number.isNaN)) return [];
  return wheels.flatMap((channel, c): Apart[] => {
    const others = noise.filter((_, k) => k !== c);
    const [least, most] = [Math.min(...others), Math.max(...others)];
    const usual = median(others);
    if (most > ALIKE * least || !(noise[c]! < QUIET * usual)) return [];
    const agreeing = wheels.filter((_, k) => k !== c).map(({ id }) => id);
    return [{ kind: 'smoothed', channel: channel.id, other: 'wheelSpeed', factor: noise[c]! / usual, agreeing }];
  });
}

/** Second differences of fresh samples on the move, in no order; of a long recording every n-th tells as much. */
function bendsOf(values: Float64Array, rows: Int32Array): Float64Array {
  const stride = Math.max(1, Math.floor(rows.length / BENDS));
  const bends = new Float64Array(Math.ceil(rows.length / stride));
  let count = 0;
  for (let k = 1; k + 1 < rows.length; k += stride) {
    const y = values[rows[k]!]!;
    if (y > FAST) bends[count++] = Math.abs(values[rows[k - 1]!]! - 2 * y + values[rows[k + 1]!]!);
  }
  return bends.subarray(0, count);
}
