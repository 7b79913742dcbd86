import { quantile, quantileInPlace } from '../math/quantile.js';
import { type Segment, segmentsOf } from './intervals.js';
import { PEDAL_RELEASED } from './pedal-released.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { SPEED, type Speed } from './speed.js';

export interface FuelCut {
  /** 1 where no fuel is injected, or where that has to be assumed. */
  readonly mask: Uint8Array;
  readonly segments: readonly Segment[];
  /** The cuts alone, from where their source shows them, without overrun beside them; empty where the cut is assumed. */
  readonly seen: readonly Segment[];
  /** False when the cut is assumed from overrun, not seen. */
  readonly certain: boolean;
  /** What shows it. */
  readonly source: string;
}

/** 1 where the car drives the engine: pedal released, moving, engine well above idle. */
export const OVERRUN_MASK = recipe<Uint8Array>({
  id: 'overrunMask',
  about:
    'Rows in overrun: pedal released, >= 10 km/h, engine speed >= 1100 rpm; where only calculated load tells the pedal, at no more than 60 % of the load of the idle.',
  compute(drive) {
    const released = drive.derive(PEDAL_RELEASED);
    if (isRefusal(released)) return refuse(`no overrun: ${released.reason}`, released.missing);
    const speed = drive.derive(SPEED);
    if (isRefusal(speed)) return refuse(`no overrun: ${speed.reason}`, speed.missing);
    const engine = samplesOf(drive).held('engineSpeed');
    if (engine === undefined) return refuse('no overrun, because engineSpeed is absent', { channels: ['engineSpeed'] });
    const load = released.source === 'engineLoad' ? samplesOf(drive).held('engineLoad') : undefined;
    const closed =
      load === undefined ? Number.POSITIVE_INFINITY : closedLoad(drive, load, released.mask, speed, engine);
    const mask = new Uint8Array(engine.length);
    for (let i = 0; i < engine.length; i++) {
      if (load !== undefined && !(load[i]! <= closed)) continue;
      if (released.mask[i] === 1 && speed.values[i]! >= 10 && engine[i]! >= 1100) mask[i] = 1;
    }
    return mask;
  },
});

/** A closed throttle passes less than an idle takes; a low load alone is gentle driving. Common practice, no source. */
const CLOSED = 0.6;
/** Seconds of idle that tell its load. */
const IDLE_SECONDS = 5;

/** Calculated load (%) up to which a moving car has its throttle closed; NaN where no idle was recorded to compare with. */
function closedLoad(
  drive: Drive,
  load: Float64Array,
  released: Uint8Array,
  speed: Speed,
  engine: Float64Array,
): number {
  let seconds = 0;
  const idle = load.map((x, i) => {
    const idles = released[i] === 1 && speed.values[i]! < speed.standing && engine[i]! >= 300;
    if (idles && i > 0) seconds += Math.min(1, drive.time[i]! - drive.time[i - 1]!);
    return idles ? x : Number.NaN;
  });
  return seconds >= IDLE_SECONDS ? CLOSED * quantile(idle, 0.5) : Number.NaN;
}

export const FUEL_CUT = recipe<FuelCut>({
  id: 'fuelCut',
  about:
    'Overrun fuel cut: its flag, injection time or fuel flow 0, or wide-band lambda >= 1.6, with the engine turning; else assumed wherever the car is in overrun.',
  compute(drive) {
    const seen = seenCut(drive);
    const overrun = drive.derive(OVERRUN_MASK);
    if (seen !== undefined) {
      const mask = new Uint8Array(seen.mask);
      // A sensor that reads late or stops at its end does not show the whole cut: overrun rows beside a seen cut count.
      if (!isRefusal(overrun)) {
        for (const run of segmentsOf(overrun, drive.time)) {
          let hit = false;
          for (let i = run.start; i <= run.end && !hit; i++) hit = seen.mask[i] === 1;
          if (hit) mask.fill(1, run.start, run.end + 1);
        }
      }
      return {
        mask,
        segments: segmentsOf(mask, drive.time),
        seen: segmentsOf(seen.mask, drive.time),
        certain: true,
        source: seen.source,
      };
    }
    if (isRefusal(overrun)) return overrun;
    return {
      mask: overrun,
      segments: segmentsOf(overrun, drive.time),
      seen: [],
      certain: false,
      source: 'overrun',
    };
  },
});

interface Seen {
  readonly mask: Uint8Array;
  readonly source: string;
}

function seenCut(drive: Drive): Seen | undefined {
  const samples = samplesOf(drive);
  const flag = drive.channel('fuelCut');
  const said = samples.held('fuelCut');
  // A flag that never rises may simply not be served.
  if (flag !== undefined && said !== undefined && !flag.quality.constant) {
    return { mask: rowsWhere(said, (x) => x >= 0.5), source: 'fuelCut' };
  }
  const engine = samples.held('engineSpeed');
  if (engine === undefined) return undefined;
  for (const base of ['injectionTime', 'injectedFuelMass', 'fuelMassFlow', 'fuelRate', 'injectorDuty']) {
    const channel = drive.family(base)[0];
    const values = channel === undefined ? undefined : samples.held(channel.id);
    if (channel === undefined || values === undefined || channel.quality.constant) continue;
    if (roundsToZero(values, engine, channel.quality.quantum)) continue;
    return { mask: rowsWhere(values, (x, i) => x <= 0 && engine[i]! >= 900), source: channel.id };
  }
  for (const channel of drive.family('lambda')) {
    const values = samples.held(channel.id);
    if (values === undefined || channel.quality.constant) continue;
    const mask = rowsWhere(values, (x, i) => x >= 1.6 && engine[i]! >= 900);
    // A sensor that never reads lean may end at 1.1 or so: then it neither shows a cut nor excludes one.
    if (mask.includes(1)) return { mask, source: channel.id };
  }
  return undefined;
}

/** Steps above 0 at which the little that is injected off load still stands clear of rounding. */
const CLEAR = 2;

/** True where so little is injected at times that a coarse column rounds it to 0: then 0 is no cut. */
function roundsToZero(values: Float64Array, engine: Float64Array, quantum: number): boolean {
  const some = new Float64Array(values.length);
  let count = 0;
  for (let i = 0; i < values.length; i++) if (values[i]! > 0 && engine[i]! >= 900) some[count++] = values[i]!;
  return count > 0 && quantileInPlace(some.subarray(0, count), 0.05) < CLEAR * quantum;
}

function rowsWhere(values: Float64Array, test: (x: number, i: number) => boolean): Uint8Array {
  const mask = new Uint8Array(values.length);
  for (let i = 0; i < values.length; i++) if (test(values[i]!, i)) mask[i] = 1;
  return mask;
}
