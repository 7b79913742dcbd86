import { SHIFTS } from '../../derived/gear-shifts.js';
import { maskOf, maskWhere, segmentsOf } from '../../derived/intervals.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { freshRate, heldValues, sampleSpacing } from '../../derived/refresh.js';
import { heldMaximum } from '../../math/held-maximum.js';
import { movingMedian } from '../../math/moving-median.js';
import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import { median } from '../../math/quantile.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf } from '../ladder.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, counted, figure, nearWhenBeyond } from '../wording.js';

const CP = 'common practice, no source';
const limit = (name: string, value: number): LimitDefinition => ({
  name,
  value,
  unit: 'rpm',
  comparison: '>',
  source: CP,
  about: 'engine minus turbine speed, clutch commanded closed, for two seconds',
});
/** Seconds that a slip must last, and that the clutch gets to close first; lowest fluid temperature. */
const LASTS = 2;
const CLOSES = 1;
/** Seconds of the moving median that takes the noise out; well below LASTS, so that a plateau that long keeps its ends. */
const SMOOTHED = 0.8;
const WARM = 50;
const NEEDED = 1.5;

interface Observation {
  readonly slip: number;
  readonly at: number;
  readonly u: number;
  readonly closed: number;
  readonly warm: boolean | undefined;
  /** Median slip while closed, rpm: what is usual for this car. */
  readonly usual: number;
  readonly events: readonly { readonly from: number; readonly to: number; readonly peak: number }[];
  readonly samples: number;
  /** The state tells slip on purpose from closed: no switch that was concluded from its numbers. */
  readonly told: boolean;
  readonly certain: readonly { readonly certainty: Certainty }[];
}

export const lockUp = defineRule({
  id: 'transmission.lock-up',
  system: 'transmission',
  question: 'Does the converter clutch hold?',
  why: 'A slipping converter clutch heats the fluid, sheds its lining into the whole gearbox, and is felt late as a shudder.',
  weight: 2,
  needs: {
    channels: ['engineSpeed', 'converterClutchState'],
    optional: ['inputShaftSpeed', 'converterSlip', 'transmissionOilTemperature'],
    derived: [SHIFTS],
    conditions: [`converter clutch commanded closed for >= 20 s, fluid >= ${WARM} °C`],
  },
  limits: [limit('watch', 50), limit('repair', 100)],
  method:
    'While the clutch has been commanded fully closed for a second, outside shifts and with warm fluid, engine speed less turbine speed (or the recorded converter slip) must stay below the limits. It counts when it is held for two seconds beyond its uncertainty.',
  decoys: [
    'slip on purpose of 20 to 80 rpm: the clutch is then commanded slipping, not closed, and is not judged; where the state only knows 0 and 1, slip between the limits stays open',
    'fluid below 50 °C: lock-up is late or soft by design',
    'the second in which the clutch closes, and shifts',
  ],
  cautions: ['A shudder at steady speed with burnt-smelling fluid: do not tow or race the car.'],
  proves:
    'A quarter of an hour with warm fluid including steady speed in the upper gears, with engine speed, turbine speed and the state of the converter clutch at 2 Hz or more.',
  notApplicable: ({ transmission: { kind } }) =>
    kind === 'dual-clutch' || kind === 'manual' ? 'The car has no torque converter.' : undefined,
  observe(view, context) {
    const engine = view.channel('engineSpeed');
    const state = view.channel('converterClutchState');
    const turbine = view.optional('inputShaftSpeed');
    const logged = view.optional('converterSlip');
    if (turbine === undefined && logged === undefined)
      return refuse('neither turbine speed nor converter slip is recorded', { channels: ['inputShaftSpeed'] });
    const other = (logged ?? turbine)!;
    const hz = Math.min(freshRate(engine).hz || 1, freshRate(other).hz || 1);
    if (!(hz >= 0.95 * NEEDED))
      return refuse(`${hz.toPrecision(2)} values a second cannot tell a slip of ${LASTS} s`, {
        conditions: [`${other.id} at >= ${NEEDED} Hz`],
      });
    const { time } = view;
    const spacing = sampleSpacing(time, time);
    const commanded = heldValues(state.values, time);
    const first = heldValues(engine.values, time);
    const second = heldValues(other.values, time);
    const fluid = view.optional('transmissionOilTemperature');
    const temperature = fluid === undefined ? undefined : heldValues(fluid.values, time);
    const shifts = view.derive(SHIFTS);
    const shifting = isRefusal(shifts) ? undefined : maskOf(shifts, time.length);
    const raw = new Float64Array(time.length).fill(Number.NaN);
    let since = Number.POSITIVE_INFINITY;
    let closed = 0;
    let samples = 0;
    let cold = 0;
    for (let i = 0; i < time.length; i++) {
      since = commanded[i]! >= 2 ? Math.min(since, time[i]!) : Number.POSITIVE_INFINITY;
      if (!(time[i]! - since >= CLOSES) || shifting?.[i] === 1) continue;
      if (temperature !== undefined && !(temperature[i]! >= WARM)) {
        cold++;
        continue;
      }
      raw[i] = logged === undefined ? first[i]! - second[i]! : second[i]!;
      samples++;
      if (i > 0 && time[i]! - time[i - 1]! < 2) closed += time[i]! - time[i - 1]!;
    }
    // The lowest of two seconds of noisy samples lies well below what was held: noise is taken out first.
    const slip = movingMedian(raw, Math.round(SMOOTHED / 2 / (spacing > 0 ? spacing : 1)));
    const top = heldMaximum(slip, time, LASTS, 2);
    // Two sensors, read a moment apart; 3 rpm of noise each (common practice).
    const u = Math.hypot(3, (engine.quality.quantum + other.quality.quantum) / Math.sqrt(12));
    const watch = context.limits().watch!.value;
    const mask = maskWhere(slip.length, (i) => slip[i]! - ONE_SIDED_95 * u > watch);
    const events = segmentsOf(mask, time, { minDuration: LASTS, maxStep: 2 }).map(({ from, to, start, end }) => ({
      from,
      to,
      peak: heldMaximum(slip.subarray(start, end + 1), time.subarray(start, end + 1), LASTS, 2).value,
    }));
    return {
      slip: top.value,
      at: top.index < 0 ? Number.NaN : time[top.index]!,
      u,
      closed,
      warm: temperature === undefined ? undefined : samples > 0 || cold === 0,
      usual: median(slip.filter((x) => !Number.isNaN(x))),
      events,
      samples,
      told: state.certainty !== 'inferred',
      certain: [engine, state, other],
    };
  },
  judge,
});

/** Seconds closed that it takes to say that the clutch holds. */
const ENOUGH = 20;

function judge(observed: readonly Observed<Observation>[], context: Context): Judgement {
  const limits = context.limits();
  const all = observed.map(({ observation }) => observation);
  const closed = all.reduce((sum, o) => sum + o.closed, 0);
  const top = all.reduce((a, b) => (b.slip > a.slip || Number.isNaN(a.slip) ? b : a));
  const severity = levelOf(top.slip, top.u, limits);
  const channels = all.flatMap((o) => o.certain);
  const doubts = [all.every((o) => o.warm === undefined) ? 0.85 : 1];
  const base = {
    measures: {
      ...(Number.isNaN(top.slip) ? {} : { slip: { value: top.slip, unit: 'rpm' } }),
      closed: { value: closed, unit: 's' },
    },
    events: observed.flatMap(({ input, observation }) =>
      observation.events.map(({ from, to, peak }) => {
        const level = levelOf(peak, observation.u, limits) ?? 'watch';
        return {
          input,
          from,
          to,
          severity: level,
          peak: { value: peak, unit: 'rpm' },
          usual: { value: observation.usual, unit: 'rpm' },
          limit: { value: limitOf(limits, level).value, unit: 'rpm' },
        };
      }),
    ),
    limits: Object.values(limits),
    ...(doubts[0] === 1 ? {} : { notes: ['Fluid temperature not recorded: a cold lock-up cannot be told apart.'] }),
  };
  const told = observed.every(({ observation }) => observation.told);
  if (severity === 'watch' && !told) {
    return {
      ...base,
      events: [],
      outcome: 'unproven',
      summary: `The converter clutch slipped ${figure(top.slip, 0)} rpm for two seconds at ${clockTime(top.at)}, but its state is only told as 0 and 1, and 1 may stand for slip on purpose.`,
      missing: { channels: [], conditions: ['state of the converter clutch that tells slipping from closed'] },
    };
  }
  if (severity !== undefined) {
    const exceeded = limitOf(limits, severity);
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: top.slip - exceeded.value,
        uncertainty: top.u,
        samples: top.samples,
        channels,
        doubts,
      }),
      summary: `The converter clutch slipped ${figure(top.slip, 0)} rpm for two seconds at ${clockTime(top.at)} although commanded closed (limit ${figure(exceeded.value, 0)} rpm), ${counted(base.events.length, 'event')}.`,
      causes: [
        'worn converter clutch lining',
        'lock-up pressure too low: valve bore worn, seal leaking',
        'old or wrong fluid',
      ],
      advice: [
        'Look at and smell the fluid; a fluid change with the right fluid is the cheapest test.',
        'Have the lock-up pressure measured.',
        'A slipping clutch needs the converter overhauled, and the gearbox flushed.',
      ],
    };
  }
  if (closed < ENOUGH || Number.isNaN(top.slip)) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `The converter clutch was commanded closed with warm fluid for ${figure(closed, 0)} s, ${ENOUGH} s are needed.`,
      missing: { channels: [], conditions: [`converter clutch closed for >= ${ENOUGH} s, fluid >= ${WARM} °C`] },
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: limits.watch!.value - top.slip,
      uncertainty: top.u,
      samples: top.samples,
      channels,
      doubts,
    }),
    summary: `Commanded closed for ${figure(closed, 0)} s, the converter clutch slipped ${figure(Math.max(0, top.slip), 0)} rpm at most (limit ${figure(limits.watch!.value, 0)} rpm)${nearWhenBeyond(top.slip, limits.watch!.value)}.`,
  };
}
