import type { Lag } from '../../derived/aligned.js';
import { exceeds, uncertaintyOf } from '../../derived/exceeds.js';
import { firstAtOrAfter } from '../../derived/intervals.js';
import { isFrontLambda, type LambdaLags, targetIdOf } from '../../derived/lambda-lag.js';
import { isRefusal, type Refusal } from '../../derived/recipe.js';
import type { Samples } from '../../derived/samples.js';
import { heldMaximum } from '../../math/held-maximum.js';
import type { Channel } from '../../recording/recording.js';
import type { Limit } from '../rule.js';

/** The mixture is lean when it is so for this long, s: as long as the pressure itself. */
const HELD = 0.5;
/** Half-width of what a wide-band sensor scatters near lambda 0.9. Common practice, no source. */
const TOLERANCE = 0.005;
/** Where the lag cannot be measured: exhaust travel and a wide-band sensor, s. Common practice, no source. */
const ASSUMED: Pick<Lag, 'seconds' | 'uncertainty'> = { seconds: 0.3, uncertainty: 0.2 };
/** Valves that overlap under boost let fresh air into the exhaust below this speed (rpm): the sensor reads lean. Common practice, no source. */
const SCAVENGES_BELOW = 2500;

export interface Mixture {
  /** Highest lambda over its target that lasted, and its standard uncertainty. */
  readonly over: number;
  readonly u: number;
}

export interface MixtureParts {
  readonly lambdas: readonly Channel[];
  readonly targets: readonly Channel[];
  readonly lags: LambdaLags | Refusal;
  readonly samples: Samples;
  readonly time: Float64Array;
  readonly full: Uint8Array;
}

/**
 * Pressure and mixture of one event need not be worst in one instant: pressure is lowest where most fuel is drawn, lambda
 * climbs when the injection time can make up for it no more, and the sensor shows it one exhaust travel later. So each
 * stretch of full load in which the pressure was too low is one event, from the first row too low to the last; the
 * mixture counts in it, moved by the lag of its sensor.
 * @param error pressure over its target, share, row by row; NaN where not judged
 * @param event shares of the target that make an event, and between which rows it is taken to last
 * @returns undefined where no sensor with a target tells of such an event
 */
export function leanWhileLow(
  { lambdas, targets, lags, samples, time, full }: MixtureParts,
  error: Float64Array,
  event: { readonly low: number; readonly lowest: number },
): Mixture | undefined {
  const events = eventsOf(error, full, event);
  if (events.length === 0) return undefined;
  const rpm = samples.held('engineSpeed')!;
  let worst: Mixture | undefined;
  for (const channel of lambdas) {
    if (!isFrontLambda(channel) || channel.quality.constant) continue;
    const id = targetIdOf(channel.id, targets);
    const read = samples.held(channel.id);
    const target = id === undefined ? undefined : samples.held(id);
    if (read === undefined || target === undefined) continue;
    const measured = isRefusal(lags) ? undefined : lags.get(channel.id);
    const lag = measured === undefined || isRefusal(measured) ? ASSUMED : measured;
    const delay = Math.max(0, lag.seconds);
    const reach = 2 * lag.uncertainty;
    const over = new Float64Array(time.length).fill(Number.NaN);
    for (const { first, last } of events) {
      const end = firstAtOrAfter(time, time[last]! + delay + reach);
      let back = firstAtOrAfter(time, time[first]! - reach);
      for (let i = firstAtOrAfter(time, time[first]! + delay); i < end && full[i] === 1; i++) {
        if (rpm[i]! < SCAVENGES_BELOW) continue;
        // The leanest that was wanted since the mixture left the cylinder: a target that moves makes nothing lean.
        while (back < i && time[back]! < time[i]! - delay - reach) back++;
        let wanted = target[back]!;
        for (let k = back + 1; k <= i; k++) if (target[k]! > wanted) wanted = target[k]!;
        over[i] = read[i]! - wanted;
      }
    }
    const { value } = heldMaximum(over, time, Math.max(HELD, 2 / samples.hz(channel.id)), samples.maxStep);
    if (!Number.isNaN(value) && !(worst !== undefined && worst.over >= value))
      worst = { over: value, u: uncertaintyOf(channel, { tolerance: TOLERANCE }) };
  }
  return worst;
}

export function isLean(mixture: Mixture | undefined, limit: Limit): mixture is Mixture {
  return mixture !== undefined && exceeds(mixture.over, mixture.u, limit.value, limit.comparison) === 'beyond';
}

/** Stretches of full load in which the pressure fell to `lowest`, from the first to the last row at `low` or less. */
function eventsOf(
  error: Float64Array,
  full: Uint8Array,
  { low, lowest }: { readonly low: number; readonly lowest: number },
): { readonly first: number; readonly last: number }[] {
  const events: { first: number; last: number }[] = [];
  let first = -1;
  let last = -1;
  let deepest = 0;
  for (let i = 0; i <= full.length; i++) {
    if (i < full.length && full[i] === 1) {
      if (!(error[i]! <= -low)) continue;
      if (first < 0) first = i;
      last = i;
      if (error[i]! < deepest) deepest = error[i]!;
      continue;
    }
    if (first >= 0 && deepest <= -lowest) events.push({ first, last });
    first = -1;
    deepest = 0;
  }
  return events;
}
