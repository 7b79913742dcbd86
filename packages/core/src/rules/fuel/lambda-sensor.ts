import { FUEL_CUT, OVERRUN_MASK } from '../../derived/fuel-cut.js';
import { type Segment, segmentsOf } from '../../derived/intervals.js';
import { isFrontLambda, LAMBDA_LAGS } from '../../derived/lambda-lag.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import { madn } from '../../math/madn.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { judgeLambdaSensor } from './lambda-sensor-judgement.js';
import type { SensorObservation, SensorReading } from './lambda-sensor-reading.js';

const CP = 'common practice, no source';
/** Cuts that count last this long, s; and air at the sensor reads above this. */
const CUT_SECONDS = 2;
const AIR = 1.8;
/** A cut that is only assumed counts as one where the sensor, or another, came up to this; one that begins above it tells nothing. */
const ROSE = 1.3;
/** Above this the sensor has begun to answer. */
const LEAVES = 1.05;
/** Standard uncertainty of the beginning of a cut that is seen, and of one that is assumed from the pedal, s. */
const SEEN_U = 0.03;
const ASSUMED_U = 0.15;
const RATE = 5;
/** So many rows at the very same highest value: the column ends there. */
const FLAT = 5;

const limit = (name: string, value: number, unit: string, about: string): LimitDefinition => ({
  name,
  value,
  unit,
  comparison: '>',
  source: CP,
  about,
});

export const lambdaSensor = defineRule({
  id: 'fuel.lambda-sensor',
  system: 'fuel',
  question: 'Can the lambda sensors be believed?',
  why: 'Every judgement on the mixture rests on them; a slow or poisoned sensor hides a lean engine and spoils the trims.',
  weight: 1,
  needs: {
    channels: ['lambda'],
    optional: ['lambdaTarget', 'fuelCut', 'injectionTime', 'pedalPosition', 'engineSpeed', 'vehicleSpeed'],
    derived: [SAMPLES, FUEL_CUT, OVERRUN_MASK, LAMBDA_LAGS],
    conditions: ['>= 3 overrun fuel cuts of >= 2 s', 'lambda at >= 5 Hz'],
  },
  limits: [
    limit('watch', 1.5, 's', 'median time from the beginning of a fuel cut until the sensor reads air'),
    limit('apart', 2, '1', 'median time, or delay behind the target, of one bank over that of the other: repair'),
    limit('apart-least', 0.5, 's', 'time or delay of the slower bank from which that counts'),
  ],
  method:
    'Each fuel cut of two seconds and more is a test gas: the time until the sensor reads above lambda 1.8, median over at least three cuts. A cut that ends before counts as longer. The cut begins where its flag, injection time or fuel flow shows it; where none is recorded, between the release of the pedal, which only bounds the time from above, and the first rise of the sensor, which bounds it from below. Banks are compared with each other. The delay behind the target in closed loop is told beside it; of two banks it is compared by the same limit, also where no fuel cut was driven, but it clears nothing by itself: it is looked for up to 1.5 s only. Sensors behind the catalyst, narrow-band volts and slow logs are not judged.',
  decoys: [
    'overrun without a fuel cut (cold, catalyst heating): a cut that is only assumed counts when a sensor rises in it',
    'control units that delay the cut for seconds after the pedal: the time runs from the cut itself; where it is not recorded and only the pedal would make the sensor late, it is left open',
    'a cut that begins while the sensor still reads lean from the one before: left out',
    'a sensor that is quicker than the log: lean in the first row of the cut and not before, counted with the most that it can have taken',
    'sensors whose reading ends below lambda 1.8: left open',
    'narrow-band volts and sensors behind the catalyst: refused',
    'logs slower than 5 Hz: left open',
  ],
  cautions: ['Exhaust parts stay hot enough to burn for long after a drive.'],
  proves:
    'Three times from 80 km/h in third gear: lift off fully for at least four seconds; lambda of every bank, pedal and injection time (or the fuel-cut flag) at 10 Hz.',
  observe(view): SensorObservation | Refusal {
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const sensors = view.family('lambda').filter((each) => isFrontLambda(each) && !each.quality.constant);
    if (sensors.length === 0)
      return refuse('only narrow-band volts, sensors behind the catalyst, or sensors that never move are recorded', {
        channels: ['lambda'],
      });
    const cut = view.derive(FUEL_CUT);
    if (isRefusal(cut)) return cut;
    // A cut that the sensor itself shows begins too late: then the overrun tells its beginning.
    // The pedal is released before the cut, by as long as the control unit likes.
    const own = /^lambda/.test(cut.source) || !cut.certain;
    const sourceHz = own ? Number.POSITIVE_INFINITY : samples.hz(cut.source);
    const overrun = view.derive(OVERRUN_MASK);
    if (own && isRefusal(overrun)) return overrun;
    const found = own && !isRefusal(overrun) ? segmentsOf(overrun, view.time) : cut.seen;
    const cuts = found.filter(({ from, to, start }) => to - from >= CUT_SECONDS && start > 0);
    const held = sensors.map(({ id }) => samples.held(id)!);
    const counted = cuts.filter((each) => !own || held.some((values) => highest(values, each) >= ROSE));
    const lags = view.derive(LAMBDA_LAGS);
    const readings = sensors.map((channel, k): SensorReading => {
      const hz = samples.hz(channel.id);
      // A seen cut began since its source last said otherwise. Who is lean in its first row, and was not before, was quicker.
      const since = own ? 0 : 1 / sourceHz;
      const answered = (each: Segment) => held[k]![each.start]! >= ROSE;
      const told = counted.filter(
        (each) => !answered(each) || (!own && wasRich(held[k]!, view.time, each, since + 1 / hz)),
      );
      const times = told.map((each) => timeTo(held[k]!, view.time, each, each.from) + (answered(each) ? since : 0));
      const rises = told.map((each) => timeTo(held[k]!, view.time, each, leavesAt(held[k]!, view.time, each)));
      const lag = isRefusal(lags) ? undefined : lags.get(channel.id);
      const spread = (of: readonly number[]) => (of.length < 3 ? Number.NaN : (1.25 * madn(of)) / Math.sqrt(of.length));
      const pace = 1 / hz / Math.sqrt(12);
      let top = Number.NaN;
      for (const each of told) top = Math.max(Number.isNaN(top) ? 0 : top, highest(held[k]!, each));
      return {
        id: channel.id,
        channel: channel as Channel,
        times,
        response: median(times),
        u: Math.hypot(spread(times), own ? ASSUMED_U : SEEN_U + 1 / sourceHz / Math.sqrt(12), pace),
        rise: median(rises),
        riseU: Math.hypot(spread(rises), pace * Math.SQRT2),
        assumed: own,
        quick: 2 * told.filter(answered).length > told.length,
        hz,
        lag: lag === undefined || isRefusal(lag) ? Number.NaN : lag.seconds,
        lagU: lag === undefined || isRefusal(lag) ? Number.NaN : Math.hypot(lag.uncertainty, pace),
        // Never in air although cut after cut was long: the column ends there.
        ends: times.length >= 3 && top < AIR && rowsAt(held[k]!, told, top) >= FLAT,
        first: told[0]?.from ?? Number.NaN,
      };
    });
    return { readings, rate: RATE };
  },
  judge: judgeLambdaSensor,
});

function highest(values: Float64Array, { start, end }: Segment): number {
  let top = 0;
  for (let i = start; i <= end; i++) if (values[i]! > top) top = values[i]!;
  return top;
}

function rowsAt(values: Float64Array, segments: readonly Segment[], top: number): number {
  let count = 0;
  for (const { start, end } of segments) for (let i = start; i <= end; i++) if (values[i]! >= top - 1e-9) count++;
  return count;
}

/** The sensor was not lean yet within so many seconds before the cut. */
function wasRich(values: Float64Array, time: Float64Array, { start, from }: Segment, within: number): boolean {
  for (let i = start - 1; i >= 0 && from - time[i]! <= within + 1e-6; i--) if (values[i]! < ROSE) return true;
  return false;
}

/** Seconds of the row at which the sensor begins to answer; the end of the cut when it does not. */
function leavesAt(values: Float64Array, time: Float64Array, { start, end, to }: Segment): number {
  for (let i = start; i <= end; i++) if (values[i]! > LEAVES) return time[Math.max(start, i - 1)]!;
  return to;
}

/** Seconds from `from` until the sensor reads air; to the end of the cut when it does not. */
function timeTo(values: Float64Array, time: Float64Array, { start, end, to }: Segment, from: number): number {
  for (let i = start; i <= end; i++) if (values[i]! > AIR) return time[i]! - from;
  return to - from;
}
