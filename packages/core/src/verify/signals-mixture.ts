import { uncertaintyOf } from '../derived/exceeds.js';
import { FUEL_CUT } from '../derived/fuel-cut.js';
import { widened } from '../derived/intervals.js';
import { isFrontLambda, LAMBDA_LAGS, targetIdOf } from '../derived/lambda-lag.js';
import { type Drive, isRefusal, refuse } from '../derived/recipe.js';
import { samplesOf } from '../derived/samples.js';
import { windowRange } from '../math/window-range.js';
import { memberOf, type Quantity, type RowSignal } from './signal.js';

/** Half-width of what a wide-band sensor scatters near lambda 0.9. Common practice, no source. */
const TOLERANCE = 0.005;
/** Lag of exhaust and sensor where it cannot be measured, s. Common practice, no source. */
export const ASSUMED = { seconds: 0.3, uncertainty: 0.2 } as const;
/** The target has to rest within this for that long (s) beside the lag, or the sensor is still on its way. */
const STILL = { range: 0.04, seconds: 0.5 };
/** Valves that overlap under boost let fresh air through below this speed (rpm): the sensor reads lean. Common practice, no source. */
const SCAVENGES = { rpm: 2500, boost: 20 };
/** Seconds after a fuel cut until the sensor reads mixture again. */
const AFTER_CUT = 2;

/** Measured mixture of each front sensor less its target as it was one lag earlier. */
export const MIXTURE_ERROR: Quantity = {
  id: 'mixtureError',
  unit: '1',
  about:
    'lambda less its target of one sensor lag earlier, while the target rests; not within 2 s of a fuel cut, nor below 2500 rpm under boost, where overlapping valves let fresh air through',
  read(drive) {
    const sensors = lambdaOf(drive);
    if (sensors.length === 0) return refuse('no mixture, because lambda is absent', { channels: ['lambda.bank1'] });
    const targets = drive.family('lambdaTarget');
    if (targets.length === 0)
      return refuse('no mixture error, because lambdaTarget is absent', {
        channels: ['lambdaTarget'],
        conditions: ['or a targets file with lambdaTarget'],
      });
    const samples = samplesOf(drive);
    const lags = drive.derive(LAMBDA_LAGS);
    const rpm = samples.held('engineSpeed');
    const boost = samples.held('manifoldPressure') ?? samples.held('boostPressure');
    return sensors.map((channel): RowSignal => {
      const target = samples.held(targetIdOf(channel.id, targets)!)!;
      const measured = isRefusal(lags) ? undefined : lags.get(channel.id);
      const lag = measured === undefined || isRefusal(measured) || measured.seconds < -0.05 ? ASSUMED : measured;
      const values = errorRows(cutAway(drive, samples.held(channel.id)!), target, drive.time, lag);
      for (let i = 0; i < values.length; i++)
        if (rpm !== undefined && rpm[i]! < SCAVENGES.rpm && boost !== undefined && boost[i]! > 101 + SCAVENGES.boost)
          values[i] = Number.NaN;
      return {
        member: memberOf(channel.id),
        values,
        u: uncertaintyOf(channel, { tolerance: TOLERANCE, lag: lag.uncertainty, slope: STILL.range / 2 }),
        hz: samples.hz(channel.id),
      };
    });
  },
};

export const LAMBDA: Quantity = {
  id: 'lambda',
  unit: '1',
  about: 'lambda in front of the catalyst, not within 2 s of a fuel cut',
  read(drive) {
    const sensors = lambdaOf(drive);
    if (sensors.length === 0) return refuse('no mixture, because lambda is absent', { channels: ['lambda.bank1'] });
    const samples = samplesOf(drive);
    return sensors.map((channel) => ({
      member: memberOf(channel.id),
      values: cutAway(drive, samples.held(channel.id)!),
      u: uncertaintyOf(channel, { tolerance: TOLERANCE }),
      hz: samples.hz(channel.id),
    }));
  },
};

/** Sensors in front of the catalyst, row by row; NaN within 2 s of a fuel cut. */
export function mixtureOf(drive: Drive): readonly { readonly id: string; readonly values: Float64Array }[] {
  return lambdaOf(drive).map(({ id }) => ({ id, values: cutAway(drive, samplesOf(drive).held(id)!) }));
}

function lambdaOf(drive: Drive) {
  return drive.family('lambda').filter((each) => isFrontLambda(each) && each.quality.samples > 2);
}

function cutAway(drive: Drive, held: Float64Array): Float64Array {
  const values = held.slice();
  const cut = drive.derive(FUEL_CUT);
  if (!isRefusal(cut))
    for (const { start, end } of widened(cut.segments, drive.time, 0, AFTER_CUT))
      values.fill(Number.NaN, start, end + 1);
  return values;
}

/** NaN in either, or a target that moved, gives NaN. */
function errorRows(
  lambda: Float64Array,
  target: Float64Array,
  time: Float64Array,
  lag: { readonly seconds: number; readonly uncertainty: number },
): Float64Array {
  const late = Math.max(0, lag.seconds);
  const window = late + 2 * lag.uncertainty + STILL.seconds;
  const values = new Float64Array(lambda.length).fill(Number.NaN);
  const range = windowRange(target, time, window);
  // Row of the target that a value answers to.
  let then = 0;
  let first = 0;
  for (let i = 0; i < values.length; i++) {
    if (Number.isNaN(lambda[i]!) || !(range[i]! <= STILL.range) || time[i]! - time[0]! < window) continue;
    while (time[then + 1]! <= time[i]! - late) then++;
    // A target that was not known a moment ago may have moved.
    while (time[first + 1]! <= time[i]! - window) first++;
    if (Number.isNaN(target[first]!)) continue;
    values[i] = lambda[i]! - target[then]!;
  }
  return values;
}
