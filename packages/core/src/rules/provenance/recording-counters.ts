import type { Samples } from '../../derived/samples.js';
import type { Channel } from '../../recording/recording.js';

/** A counter of the car that does not go with the clock of the file. */
export interface CounterFault {
  readonly kind: 'lost' | 'back' | 'rate' | 'gap' | 'odometer';
  readonly channel: string;
  /** Seconds of recording time. */
  readonly from: number;
  readonly to: number;
  readonly before: number;
  readonly after: number;
  /** `lost` and `gap`: seconds that are missing; `rate`: counted seconds over recorded ones; `odometer`: km too many. */
  readonly value: number;
}

/** s: a counter of whole seconds, read late. */
const SLACK = 6;
/** Share by which clocks of loggers are wrong, and more. */
const DRIFT = 0.03;
/** s of recording before a rate is told, and of a gap before it is. */
const LONG = 180;
const GAP = 60;
/** rpm below which the engine stands. */
const STANDS = 50;

/**
 * NaN is no sample. Run time since engine start (s) against the clock of the file: seconds that the car counted and the
 * file does not hold, steps back while the engine runs, a pace that is not one second a second.
 */
export function runTimeFaults(
  channel: Channel,
  engine: Float64Array | undefined,
  samples: Samples,
  time: Float64Array,
  restarts: readonly number[],
): readonly CounterFault[] {
  const { values } = channel;
  const found: CounterFault[] = [];
  let last = -1;
  let counted = 0;
  let recorded = 0;
  let stood = false;
  let stands = false;
  for (let j = 0; j < values.length; j++) {
    const x = values[j]!;
    if (engine !== undefined && engine[j]! < STANDS) {
      stood = true;
      stands = true;
    }
    if (Number.isNaN(x)) continue;
    if (last >= 0 && x === values[last]!) continue;
    if (last >= 0 && !restarts.some((at) => at > time[last]! && at <= time[j]!)) {
      const dt = time[j]! - time[last]!;
      const grown = x - values[last]!;
      const fault = (kind: CounterFault['kind'], value: number): number =>
        found.push({
          kind,
          channel: channel.id,
          from: time[last]!,
          to: time[j]!,
          before: values[last]!,
          after: x,
          value,
        });
      const gap = widest(time, last, j);
      if (grown < -1) {
        // A counter that starts again after a stop is what it is for.
        if (!stood && x > dt + SLACK && persists(values, j, x, 1)) fault('back', grown);
      } else if (grown > dt * (1 + DRIFT) + SLACK && x > SLACK + dt && persists(values, j, x, 1)) {
        fault('lost', grown - dt);
      } else {
        if (gap > Math.max(GAP, samples.maxStep) && Math.abs(grown - dt) <= SLACK + DRIFT * dt) fault('gap', gap);
        if (!stood && gap <= samples.maxStep) {
          counted += grown;
          recorded += dt;
        }
      }
    }
    last = j;
    stood = stands && engine !== undefined && engine[j]! < STANDS;
    stands = stood;
  }
  const pace = counted / recorded;
  if (recorded >= LONG && Math.abs(counted - recorded) > SLACK && Math.abs(pace - 1) > DRIFT)
    found.push({
      kind: 'rate',
      channel: channel.id,
      from: time[0]!,
      to: time[time.length - 1]!,
      before: recorded,
      after: counted,
      value: pace,
    });
  return found;
}

/** km/h that no car of the road exceeds for long, km by which a counter of whole kilometres may be late. */
const FASTEST = 330;
const WHOLE = 1.5;

/** NaN is no sample. Odometer (km) that runs back, or further than a car can drive in the time of the step. */
export function odometerFaults(
  channel: Channel,
  time: Float64Array,
  restarts: readonly number[],
): readonly CounterFault[] {
  const { values } = channel;
  const found: CounterFault[] = [];
  let last = -1;
  for (let j = 0; j < values.length; j++) {
    const x = values[j]!;
    if (Number.isNaN(x)) continue;
    if (last >= 0 && x !== values[last]! && !restarts.some((at) => at > time[last]! && at <= time[j]!)) {
      const grown = x - values[last]!;
      const most = WHOLE + (FASTEST * (time[j]! - time[last]!)) / 3600;
      if ((grown < -0.5 || grown > most) && persists(values, j, x, WHOLE))
        found.push({
          kind: 'odometer',
          channel: channel.id,
          from: time[last]!,
          to: time[j]!,
          before: values[last]!,
          after: x,
          value: grown,
        });
    }
    last = j;
  }
  return found;
}

/** The next samples go on from `x`: one stray sample is no step. */
function persists(values: Float64Array, j: number, x: number, slack: number): boolean {
  let seen = 0;
  for (let k = j + 1; k < values.length && seen < 5; k++) {
    if (Number.isNaN(values[k]!)) continue;
    if (values[k]! < x - slack) return false;
    seen++;
  }
  return seen >= 2;
}

function widest(time: Float64Array, i: number, j: number): number {
  let most = 0;
  for (let k = i + 1; k <= j; k++) most = Math.max(most, time[k]! - time[k - 1]!);
  return most;
}
