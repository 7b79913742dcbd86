import { valuesAt } from '../math/gather.js';
import { median } from '../math/quantile.js';
import { AXLE_WHEELS } from './axle-speeds.js';
import { DRIVEN_SPEED, type DrivenSpeed } from './driven-speed.js';
import { PEDAL_RELATIVE } from './pedal-relative.js';
import { type Drive, isRefusal, type Refusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

/** One measurement of shaft speed over road speed per entry; all arrays of one length. */
export interface RatioSamples {
  /** Row of the recording. */
  readonly row: Int32Array;
  /** s */
  readonly time: Float64Array;
  /** Road speed, km/h; shaft speed, rpm. */
  readonly v: Float64Array;
  readonly n: Float64Array;
  /** ln(rpm per km/h); NaN where either is missing or the car is too slow. */
  readonly x: Float64Array;
  /** Standard uncertainty of `x` by quantum and half a sample interval of unknown lag (JCGM 100, F.2.2.1). */
  readonly u: Float64Array;
  /** d ln(v) / dt, 1/s; 0 where it cannot be told. */
  readonly growth: Float64Array;
  /**
   * 1 / shaft speed where the engine pulls lightly, else 0: there dual clutches and lock-up clutches slip a little by
   * design, the more of the ratio the slower the engine turns.
   */
  readonly light: Float64Array;
  /** The same where it hardly pulls: there they may as well be closed. */
  readonly faint: Float64Array;
  /** 1 where a converter is known to be open, or the car crawls on a clutch that may still slip: the ratio holds its slip. */
  readonly open: Uint8Array;
  /** True when the engine may turn behind an open converter that nothing tells of. */
  readonly hydraulic: boolean;
  /** Measurements over which flatness is told: about 0.3 s. */
  readonly stride: number;
  /** Engine speed at standstill, rpm; NaN when never seen. */
  readonly idle: number;
  /** Seconds between measurements. */
  readonly interval: number;
  /** Smallest step of the road speed, km/h. */
  readonly quantum: number;
  /** True when the gearbox is geared to just the wheels that were measured: no slip of tyres is in the ratio. */
  readonly geared: boolean;
  /** Channel of the shaft speed, and what the road speed is. */
  readonly shaft: string;
  readonly road: string;
}

/** Road speed from which a ratio is looked at (km/h): below, wheel sensors drop out and quanta are coarse. */
const SLOWEST = 2;
/** Slower than this the car stands, km/h. */
const STANDING = 1;
/** Flat: neighbouring logarithms differ by less than this and their uncertainty. Smallest steps of gears are near 0.07. */
const FLAT = 0.012;
/** Design slip of a closed converter clutch stays below this (rpm; rule catalogue: 20 to 80). */
const LOCKED = 80;
/** Largest standard uncertainty of ln(ratio) that still tells neighbouring gears apart. */
export const COARSEST = 0.05;

/** Where the measurements come from: those of a long recording are many, and not everybody has to keep them all. */
export interface RatioSource extends About {
  /** Rows of the recording. */
  readonly row: Int32Array;
  /**
   * Measurements from..to-1, as if there were no others. @param into arrays of that length at least, whose memory is taken
   */
  between(from: number, to: number, into?: Arrays): RatioSamples;
}

export const RATIO_SOURCE = recipe<RatioSource>({
  id: 'ratioSource',
  about: 'Which shaft speed and which road speed tell the ratios of the gears, and the rows at which both are fresh.',
  compute(drive) {
    const speed = drive.derive(DRIVEN_SPEED);
    if (isRefusal(speed)) return refuse(`no gear ratio: ${speed.reason}`, speed.missing);
    const shaft = shaftOf(drive);
    if (typeof shaft !== 'string') return shaft;
    const samples = samplesOf(drive);
    const values = samples.held(shaft)!;
    const slow = speed.hz <= samples.hz(shaft);
    const row = slow ? speed.fresh : samples.fresh(shaft);
    const interval = 1 / Math.min(speed.hz, samples.hz(shaft));
    const stride = strideOf(interval);
    const idle = idleOf(drive, speed.values);
    const { quantum, geared, source } = speed;
    const hydraulic = shaft === 'engineSpeed' && !isClutched(drive);
    const about = { hydraulic, stride, idle, interval, quantum, geared, shaft, road: source };
    return {
      ...about,
      row,
      between(from, to, into) {
        const own = row.subarray(from, to);
        const arrays =
          into === undefined
            ? arraysAround(valuesAt(drive.time, own), valuesAt(speed.values, own), valuesAt(values, own))
            : emptied(into, own.length);
        const data = samplesFrom(own, arrays, about);
        if (into !== undefined) {
          pick(drive.time, own, data.time);
          pick(speed.values, own, data.v);
          pick(values, own, data.n);
        }
        fill(data, drive.channel(shaft)!.quality.quantum);
        forbid(drive, data.row, data.x);
        straighten(drive, speed, data.row, data.x);
        if (shaft === 'engineSpeed') {
          unlocked(drive, data.row, data.open);
          lightly(drive, data);
        }
        // A slow log has too few samples of first gear to be choosy.
        if (shaft === 'engineSpeed' && interval < 0.3 && isClutched(drive)) crawling(data);
        return data;
      },
    };
  },
});

export const RATIO_SAMPLES = recipe<RatioSamples>({
  id: 'ratioSamples',
  about:
    'Logarithm of shaft speed over road speed at each fresh sample of the slower of the two, with its uncertainty; turbine speed where the gearbox has one, else engine speed.',
  compute(drive) {
    const source = drive.derive(RATIO_SOURCE);
    return isRefusal(source) ? source : source.between(0, source.row.length);
  },
});

type Arrays = Pick<RatioSamples, 'time' | 'v' | 'n' | 'x' | 'u' | 'growth' | 'light' | 'faint' | 'open'>;
export type About = Omit<RatioSamples, keyof Arrays | 'row'>;

/** The one place where they are put together: what loops over objects of one shape is compiled once. */
export function samplesFrom(row: Int32Array, arrays: Arrays, about: About): RatioSamples {
  const { time, v, n, x, u, growth, light, faint, open } = arrays;
  const { hydraulic, stride, idle, interval, quantum, geared, shaft, road } = about;
  return {
    row,
    time,
    v,
    n,
    x,
    u,
    growth,
    light,
    faint,
    open,
    hydraulic,
    stride,
    idle,
    interval,
    quantum,
    geared,
    shaft,
    road,
  };
}

export function arraysOf(count: number): Arrays {
  return arraysAround(new Float64Array(count), new Float64Array(count), new Float64Array(count));
}

function arraysAround(time: Float64Array, v: Float64Array, n: Float64Array): Arrays {
  const count = time.length;
  return {
    time,
    v,
    n,
    x: new Float64Array(count),
    u: new Float64Array(count),
    growth: new Float64Array(count),
    light: new Float64Array(count),
    faint: new Float64Array(count),
    open: new Uint8Array(count),
  };
}

/** The first `count` places of each; marks that are only ever set are taken off. */
function emptied(all: Arrays, count: number): Arrays {
  return {
    time: all.time.subarray(0, count),
    v: all.v.subarray(0, count),
    n: all.n.subarray(0, count),
    x: all.x.subarray(0, count),
    u: all.u.subarray(0, count),
    growth: all.growth.subarray(0, count),
    light: all.light.subarray(0, count).fill(0),
    faint: all.faint.subarray(0, count).fill(0),
    open: all.open.subarray(0, count).fill(0),
  };
}

function pick(values: Float64Array, row: Int32Array, into: Float64Array): void {
  for (let k = 0; k < row.length; k++) into[k] = values[row[k]!]!;
}

/** Over about 0.3 s: differences of neighbours at high rates hold more noise than movement. */
export function strideOf(interval: number): number {
  return Math.max(1, Math.round(0.3 / interval));
}

/** A converter's turbine speed is free of converter slip; of a dual clutch each shaft speed is blind to half the gears. */
function shaftOf(drive: Drive): string | Refusal {
  for (const id of ['inputShaftSpeed', 'engineSpeed']) {
    const channel = drive.channel(id);
    if (channel !== undefined && channel.quality.samples >= 10 && !channel.quality.constant) return id;
  }
  return refuse('no gear ratio, because engineSpeed is absent', { channels: ['engineSpeed'] });
}

/** @param qn step of the shaft speed, rpm */
function fill({ time, v, n, x, u, growth, interval, stride, quantum: qv }: RatioSamples, qn: number): void {
  const count = v.length;
  for (let k = 0; k < count; k++) {
    const a = Math.max(0, k - stride);
    const b = Math.min(count - 1, k + stride);
    const span = time[b]! - time[a]!;
    const ok = span > 0 && span <= 3 * (b - a) * interval && v[a]! > SLOWEST && v[b]! > SLOWEST;
    growth[k] = ok ? Math.log(v[b]! / v[a]!) / span : 0;
    const moving = v[k]! >= SLOWEST && n[k]! >= 300;
    x[k] = moving ? Math.log(n[k]! / v[k]!) : Number.NaN;
    u[k] = Math.sqrt(
      (qv / v[k]!) ** 2 / 12 + (qn / n[k]!) ** 2 / 12 + (0.29 * interval * growth[k]!) ** 2 + 0.001 ** 2,
    );
  }
}

/** Reverse has a ratio of its own, neutral none. */
function forbid(drive: Drive, row: Int32Array, x: Float64Array): void {
  const samples = samplesOf(drive);
  const gear = samples.held('gear');
  if (gear === undefined || drive.channel('gear')!.quality.constant) return;
  for (let k = 0; k < row.length; k++) if (gear[row[k]!]! < 0 || gear[row[k]!]! > 12) x[k] = Number.NaN;
}

/** Steering wheel angle (deg) at which front wheels run 1 % ahead of the rear ones: 1 / cos 8 deg, steering ratio 15 from memory. */
const STEERED = 120;
/** Share by which the wheels of one axle differ at about that angle: track 1.5 m, wheelbase 2.7 m, common practice. */
const APART = 0.08;

/** In a tight bend front wheels run ahead by up to a fifth: a speed that is not that of the driven axle tells no ratio. */
function straighten(drive: Drive, speed: DrivenSpeed, row: Int32Array, x: Float64Array): void {
  // Even the middle of all wheels is not what a coupling between the axles makes of it.
  if (speed.geared && drive.vehicle.driveline.driven !== 'all') return;
  const samples = samplesOf(drive);
  const steering = samples.held('steeringAngle');
  if (steering !== undefined && !drive.channel('steeringAngle')!.quality.constant) {
    for (let k = 0; k < row.length; k++) if (Math.abs(steering[row[k]!]!) > STEERED) x[k] = Number.NaN;
    return;
  }
  const [left, right] = AXLE_WHEELS.rear.map((id) => samples.held(id));
  if (left === undefined || right === undefined) return;
  for (let k = 0; k < row.length; k++) {
    const a = left[row[k]!]!;
    const b = right[row[k]!]!;
    if (Math.abs(a - b) > (APART / 2) * (a + b)) x[k] = Number.NaN;
  }
}

/** An open converter turns the engine at any ratio: where its slip or state is recorded those rows are marked. */
function unlocked(drive: Drive, row: Int32Array, open: Uint8Array): void {
  const samples = samplesOf(drive);
  const slip = samples.held('converterSlip');
  const state = samples.held('converterClutchState');
  const told = state !== undefined && !drive.channel('converterClutchState')!.quality.constant;
  for (let k = 0; k < row.length; k++) {
    const i = row[k]!;
    if (slip === undefined ? told && state![i]! < 1 : Math.abs(slip[i]!) > LOCKED) open[k] = 1;
  }
}

/** Slower than this (km/h), and the engine below this multiple of its idle speed, a clutch may be held slipping. Common practice, no source. */
const CRAWL = { speed: 15, idle: 1.5 } as const;

/** Known to take up by a clutch, not by a converter. */
function isClutched(drive: Drive): boolean {
  const { kind } = drive.vehicle.transmission;
  return kind === 'dual-clutch' || kind === 'manual';
}

function crawling({ v, n, open, idle }: RatioSamples): void {
  for (let k = 0; k < v.length; k++) if (v[k]! < CRAWL.speed && n[k]! < CRAWL.idle * idle) open[k] = 1;
}

/** Pedal (% of travel) between which clutches are held at their design slip. Common practice, no source. */
const LIGHT = [1.5, 55] as const;
/** Below this travel (%), or so slow (km/h) and steady (1/s), the engine hardly pulls, and whether a clutch is held slipping is not known. Common practice, no source. */
const FAINT = { travel: 8, speed: 25, growth: 0.06 } as const;

function lightly(drive: Drive, data: RatioSamples): void {
  const { kind } = drive.vehicle.transmission;
  // An open converter slips far more than by design: nothing could be told apart.
  if (kind !== undefined && kind !== 'dual-clutch') return;
  const pedal = drive.derive(PEDAL_RELATIVE);
  if (!isRefusal(pedal)) pulling(data, pedal.values);
}

function pulling({ row, n, v, growth, light, faint }: RatioSamples, pedal: Float64Array): void {
  for (let k = 0; k < row.length; k++) {
    const travel = pedal[row[k]!]!;
    if (!(travel >= LIGHT[0] && travel <= LIGHT[1] && n[k]! >= 300)) continue;
    light[k] = 1 / n[k]!;
    const crawls = v[k]! < FAINT.speed && Math.abs(growth[k]!) < FAINT.growth;
    if (crawls || travel < FAINT.travel) faint[k] = 1 / n[k]!;
  }
}

/**
 * NaN settles nothing. 2 = the logarithm of the ratio is flat against the sample before and after, 1 = against one of
 * them, 0 = neither: shift, slip, take-up.
 * @param settled memory for the answer
 */
export function settledOf(
  data: RatioSamples,
  x: Float64Array,
  settled: Uint8Array = new Uint8Array(x.length),
): Uint8Array {
  const { time, u, stride, interval } = data;
  settled.fill(0);
  for (let k = stride; k < x.length; k++) {
    if (time[k]! - time[k - stride]! > 3 * stride * interval) continue;
    const allowed = FLAT + 2 * Math.sqrt(u[k]! ** 2 + u[k - stride]! ** 2);
    // A sample too coarse to tell two gears apart settles nothing.
    if (!(Math.abs(x[k]! - x[k - stride]!) < allowed) || u[k]! > COARSEST) continue;
    settled[k]!++;
    settled[k - stride]!++;
  }
  return settled;
}

function idleOf(drive: Drive, speed: Float64Array): number {
  const engine = samplesOf(drive).held('engineSpeed');
  if (engine === undefined) return Number.NaN;
  const stride = Math.max(1, Math.floor(engine.length / 20000));
  const at: number[] = [];
  for (let i = 0; i < engine.length; i += stride) if (speed[i]! < STANDING && engine[i]! >= 300) at.push(engine[i]!);
  return at.length >= 3 ? median(at) : Number.NaN;
}
