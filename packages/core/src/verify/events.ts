import { segmentsOf } from '../derived/intervals.js';
import { LAMBDA_LAGS, targetIdOf } from '../derived/lambda-lag.js';
import { PEDAL_RELATIVE } from '../derived/pedal-relative.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../derived/recipe.js';
import { samplesOf } from '../derived/samples.js';
import { SHIFT_EVENTS } from '../derived/shift-events.js';
import { tipIns } from '../derived/tip-in.js';
import { heldMaximum } from '../math/held-maximum.js';
import { lastAtOrBefore } from '../math/interpolate.js';
import type { Side } from './pull.js';
import { ASSUMED, mixtureOf } from './signals-mixture.js';

/** What a passing event is measured by; each number is of one event. */
export interface EventMeasure {
  readonly id: string;
  readonly title: string;
  readonly unit: string;
  readonly about: string;
  readonly kind: PassingEvent['kind'];
}

/** A tip-in, or an upshift at high load: something that passes, and that tables of steady samples leave out. */
export interface PassingEvent {
  readonly kind: 'tip-in' | 'shift';
  readonly side: Side;
  readonly input: number;
  /** s of recording time. */
  readonly at: number;
  /** By id of its measure; those that it does not show are absent. */
  readonly values: Readonly<Record<string, number>>;
}

/** Seconds after a tip-in that belong to it, and for which an error has to last. */
const TRANSIENT = { within: 1.5, held: 0.1 } as const;
/** A sensor follows a step within about this (s) of its mean lag. Common practice, no source. */
const RISE = 0.2;
/** A sensor slower than this (Hz) passes a tip-in by. */
const SLOWEST = 5;
/** Pedal (% of travel) from which a shift is one at high load. Common practice, no source. */
const FLOORED = 70;

export const EVENT_MEASURES: readonly EventMeasure[] = Object.freeze([
  {
    id: 'tip-in.lean',
    title: 'leanest on tip-in',
    unit: '1',
    about: `highest lambda over its target, held for ${TRANSIENT.held} s, within ${TRANSIENT.within} s of a pedal rise of 40 points in 0.5 s; the sensor's lag taken out, and what is not known of it counted for the mixture`,
    kind: 'tip-in',
  },
  {
    id: 'tip-in.rich',
    title: 'richest on tip-in',
    unit: '1',
    about: 'the same, lambda under its target (a positive number)',
    kind: 'tip-in',
  },
  {
    id: 'shift.time',
    title: 'time of an upshift',
    unit: 's',
    about: `10 to 90 % of the change of ratio, upshifts with the pedal beyond ${FLOORED} % of its travel`,
    kind: 'shift',
  },
  {
    id: 'shift.torque',
    title: 'torque taken back in an upshift',
    unit: '%',
    about: 'share of the reported engine torque that is taken back during the same upshifts',
    kind: 'shift',
  },
  {
    id: 'shift.flare',
    title: 'flare in an upshift',
    unit: 'rpm',
    about: 'shaft speed above the old ratio before it gives way, the same upshifts',
    kind: 'shift',
  },
]);

/** What one drive shows of them, and why it shows no more. */
export interface PassingEvents {
  readonly events: readonly PassingEvent[];
  readonly refusals: Readonly<Partial<Record<PassingEvent['kind'], Refusal>>>;
}

/** Tip-ins and upshifts at high load of one drive. */
export function eventsOf(drive: Drive, side: Side): PassingEvents {
  const tips = tipInsOf(drive, side);
  const shifts = shiftsOf(drive, side);
  return {
    events: [...(isRefusal(tips) ? [] : tips), ...(isRefusal(shifts) ? [] : shifts)],
    refusals: { ...(isRefusal(tips) ? { 'tip-in': tips } : {}), ...(isRefusal(shifts) ? { shift: shifts } : {}) },
  };
}

function tipInsOf(drive: Drive, side: Side): PassingEvent[] | Refusal {
  const pedal = drive.derive(PEDAL_RELATIVE);
  if (isRefusal(pedal)) return pedal;
  const samples = samplesOf(drive);
  const targets = drive.family('lambdaTarget');
  const sensors = mixtureOf(drive);
  if (sensors.length === 0 || targets.length === 0)
    return refuse('no mixture on tip-in, because lambda or its target is absent', {
      channels: [...(sensors.length === 0 ? ['lambda.bank1'] : []), ...(targets.length === 0 ? ['lambdaTarget'] : [])],
    });
  const fast = sensors.filter(({ id }) => samples.hz(id) >= SLOWEST);
  if (fast.length === 0)
    return refuse('no mixture on tip-in: lambda is recorded too seldom', {
      conditions: [`lambda at >= ${SLOWEST} Hz`],
    });
  const lags = drive.derive(LAMBDA_LAGS);
  const { time } = drive;
  const spacing = 1 / samples.hz(pedal.source);
  const mask = tipIns(pedal.values, time, spacing > 0.1 ? spacing : 0);
  const errors = fast.map(({ id, values }) => {
    const known = isRefusal(lags) ? undefined : lags.get(id);
    const { seconds, uncertainty } = known === undefined || isRefusal(known) || known.seconds < 0 ? ASSUMED : known;
    const reach = Math.max(2 * uncertainty, RISE);
    const target = samples.held(targetIdOf(id, targets)!)!;
    return { id, lag: seconds, reach, values, target };
  });
  return segmentsOf(mask, time, { maxGap: 1 }).flatMap(({ start }): PassingEvent[] => {
    const begun = time[start]!;
    let [leanest, richest] = [Number.NaN, Number.NaN];
    for (const { id, lag, reach, values, target } of errors) {
      const first = lastAtOrBefore(time, begun + lag) + 1;
      const last = lastAtOrBefore(time, begun + lag + TRANSIENT.within);
      if (last - first < 2) continue;
      const lean = new Float64Array(last - first + 1);
      const rich = lean.slice();
      for (let i = first; i <= last; i++) {
        // What was wanted anywhere within what is not known of the lag.
        const then = time[i]! - lag;
        let [low, high] = [Number.NaN, Number.NaN];
        for (let k = lastAtOrBefore(time, then - reach) + 1; k < time.length && time[k]! <= then + reach; k++) {
          if (!(low <= target[k]!)) low = target[k]!;
          if (!(high >= target[k]!)) high = target[k]!;
        }
        lean[i - first] = values[i]! - high;
        rich[i - first] = low - values[i]!;
      }
      // After a fuel cut the sensor still reads air: such a tip-in shows nothing.
      if (lean.some(Number.isNaN)) continue;
      const at = time.subarray(first, last + 1);
      const held = Math.max(TRANSIENT.held, 1 / samples.hz(id)) - 1e-9;
      const over = heldMaximum(lean, at, held, 1).value;
      const under = heldMaximum(rich, at, held, 1).value;
      if (!(leanest >= over)) leanest = over;
      if (!(richest >= under)) richest = under;
    }
    return Number.isNaN(leanest)
      ? []
      : [
          {
            kind: 'tip-in',
            side,
            input: drive.input,
            at: begun,
            values: { 'tip-in.lean': leanest, 'tip-in.rich': richest },
          },
        ];
  });
}

function shiftsOf(drive: Drive, side: Side): PassingEvent[] | Refusal {
  const shifts = drive.derive(SHIFT_EVENTS);
  if (isRefusal(shifts)) return shifts;
  return shifts.events
    .filter(({ kind, skip, pedalLow }) => kind === 'up' && !skip && pedalLow >= FLOORED)
    .map(({ from, duration, intervention, flare }): PassingEvent => {
      const all = { 'shift.time': duration, 'shift.torque': 100 * intervention, 'shift.flare': flare };
      const values = Object.fromEntries(Object.entries(all).filter(([, value]) => !Number.isNaN(value)));
      return { kind: 'shift', side, input: drive.input, at: from, values };
    });
}
