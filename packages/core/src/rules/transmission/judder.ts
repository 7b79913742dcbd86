import { resampled } from '../../derived/aligned.js';
import { maskWhere, segmentsOf } from '../../derived/intervals.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { freshRate, heldValues } from '../../derived/refresh.js';
import { SPEED } from '../../derived/speed.js';
import { bandAmplitude } from '../../math/band-amplitude.js';
import { median } from '../../math/quantile.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf } from '../ladder.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Observed,
  type Severity,
} from '../rule.js';
import { clockTime, counted, figure, nearWhenBeyond } from '../wording.js';

const CP = 'common practice, no source';
const limit = (name: string, value: number, unit: string, comparison: '>' | '>=', about: string): LimitDefinition => ({
  name,
  value,
  unit,
  comparison,
  source: CP,
  about,
});
/** Band (Hz) of judder, speeds (km/h) of take-up, rate (Hz) that shows it. */
const BAND = [5, 20] as const;
const SPEEDS = [2, 15] as const;
const RATE = 40;
/** A take-up lasts this long (s) and gains this much (km/h). */
const SHORTEST = 0.5;
const GAINS = 4;
/** Stretch of a take-up over which the amplitude is taken (s): a few periods of the slowest judder. */
const WINDOW = 0.8;
/** Rolling between these speeds (km/h), for so long (s) and no further away (s), shows what the road does. Common practice, no source. */
const ROLLS = { speeds: [4, 30], seconds: 1.2, near: 30 } as const;
/** A take-up shakes by this many times what the road does, or it is the road. Common practice, no source. */
const BEYOND_ROAD = 2;
/** Engine orders that reach the shaft from a rough idle: half and first. */
const ORDERS = [0.5, 1] as const;

interface TakeUp {
  readonly from: number;
  readonly to: number;
  readonly amplitude: number;
  /** The same of rolling close by, where no clutch slips: what the road does; NaN where the car did not roll. */
  readonly road: number;
}
interface Observation {
  readonly takeUps: readonly TakeUp[];
  readonly certain: readonly { readonly certainty: Certainty }[];
}

export const judder = defineRule({
  id: 'transmission.judder',
  system: 'transmission',
  question: 'Does the clutch judder on take-up?',
  why: 'Judder means glazed or overheated clutch facings or spent fluid, and it shakes loose everything behind it.',
  weight: 2,
  needs: {
    channels: ['inputShaftSpeed'],
    optional: ['engineSpeed', 'vehicleSpeed', 'wheelSpeed'],
    derived: [SPEED],
    conditions: ['three gentle pull-aways from rest'],
  },
  limits: [
    limit('watch', 30, 'rpm', '>', 'amplitude of the input shaft speed at 5 to 20 Hz while the car is taken up'),
    limit('repair', 80, 'rpm', '>', 'amplitude of the input shaft speed at 5 to 20 Hz while the car is taken up'),
    limit('take-ups', 3, '1', '>=', 'take-ups that show it'),
  ],
  method:
    'In each pull-away between 2 and 15 km/h the input shaft speed, less its smooth rise and less what follows half and whole engine revolutions, is measured at 5 to 20 Hz. The amplitude that at least three take-ups reach is judged; those that shake less than twice as much as rolling within half a minute do not count.',
  decoys: [
    'rough idle: half and first engine order are fitted and taken out',
    'a rough road: it shakes the shaft while the car rolls as well; take-ups that shake less than twice as much do not count',
    'a single kerb or pothole: the third largest take-up counts',
    'designed slip: steady, not in the band',
    'noise of the sensor: part of the uncertainty',
  ],
  cautions: ['Try it on a level, empty place; creep and gentle starts only.'],
  proves: 'Three gentle pull-aways with warm fluid and three cold ones, with the clutch shaft speeds at 40 Hz or more.',
  notApplicable: ({ transmission: { kind } }) =>
    kind === 'converter' ? 'A converter takes the car up without a clutch that could judder.' : undefined,
  observe(view) {
    const speed = view.derive(SPEED);
    if (isRefusal(speed)) return speed;
    const shafts = view.family('inputShaftSpeed').filter((channel) => !channel.quality.constant);
    const fast = shafts.filter((channel) => freshRate(channel).hz >= 0.95 * RATE);
    if (fast.length === 0)
      return refuse(`the input shaft speed is too slow to show judder of ${BAND[0]} to ${BAND[1]} Hz`, {
        conditions: [`inputShaftSpeed at >= ${RATE} Hz`],
      });
    const { time } = view;
    const mask = maskWhere(speed.values.length, (i) => speed.values[i]! >= SPEEDS[0] && speed.values[i]! <= SPEEDS[1]);
    const interval = 1 / Math.min(100, freshRate(fast[0]!).hz);
    const engine = view.optional('engineSpeed');
    const turning = engine === undefined ? undefined : heldValues(engine.values, time);
    const starts = segmentsOf(mask, time, { minDuration: SHORTEST, maxStep: 0.5 }).filter(
      ({ start, end }) => speed.values[end]! - speed.values[start]! >= GAINS,
    );
    const rolls = rollingOf(speed.values, time, starts, fast, interval);
    const takeUps = starts.map(({ from, to }): TakeUp => {
      const length = Math.floor((to - from) / interval) + 1;
      const at = Float64Array.from({ length }, (_v, i) => from + i * interval);
      const orders = turning === undefined ? [] : phasesOf(resampled(turning, time, at, 4), interval);
      const amplitudes = fast.map((channel) => amplitudeOf(resampled(channel.values, time, at, 4), interval, orders));
      const amplitude = Math.max(0, ...amplitudes.filter((x) => !Number.isNaN(x)));
      const near = rolls.filter(({ at }) => at >= from - ROLLS.near && at <= to + ROLLS.near);
      return { from, to, amplitude, road: median(near.map((roll) => roll.amplitude)) };
    });
    return { takeUps, certain: fast };
  },
  judge,
});

/** Amplitude of stretches in which the car rolls and is not taken up; a shift in one of them is one of many. */
function rollingOf(
  speed: Float64Array,
  time: Float64Array,
  starts: readonly { readonly from: number; readonly to: number }[],
  shafts: readonly { readonly values: Float64Array }[],
  interval: number,
): { at: number; amplitude: number }[] {
  const taken = maskWhere(speed.length, (i) =>
    starts.some(({ from, to }) => time[i]! >= from - 0.5 && time[i]! <= to + 0.5),
  );
  const rolling = maskWhere(
    speed.length,
    (i) => taken[i] === 0 && speed[i]! >= ROLLS.speeds[0] && speed[i]! <= ROLLS.speeds[1],
  );
  const found: { at: number; amplitude: number }[] = [];
  for (const { from, to } of segmentsOf(rolling, time, { minDuration: ROLLS.seconds, maxStep: 0.5 })) {
    for (let begin = from; begin + ROLLS.seconds <= to; begin += ROLLS.seconds) {
      const at = Float64Array.from(
        { length: Math.floor(ROLLS.seconds / interval) + 1 },
        (_v, i) => begin + i * interval,
      );
      const amplitudes = shafts.map(({ values }) =>
        bandAmplitude(resampled(values, time, at, 4), interval, BAND[0], BAND[1]),
      );
      const known = amplitudes.filter((x) => !Number.isNaN(x));
      // The road shakes both shafts; that of the free gear also leaps when another is made ready.
      if (known.length > 0) found.push({ at: begin, amplitude: Math.min(...known) });
    }
  }
  return found;
}

/**
 * Amplitude of the worst part of a take-up: judder grows while the clutch slips and is gone when it holds. Where engine
 * orders explain the motion better than any one frequency does, only what they leave counts.
 */
function amplitudeOf(values: Float64Array, interval: number, orders: readonly Float64Array[]): number {
  const whole = bandAmplitude(values, interval, BAND[0], BAND[1]);
  const without = orders.length === 0 ? whole : bandAmplitude(values, interval, BAND[0], BAND[1], orders);
  if (without < 0.8 * whole) {
    let single = Number.POSITIVE_INFINITY;
    for (let f: number = BAND[0]; f <= BAND[1]; f += 0.5) {
      const phase = Float64Array.from(values, (_v, i) => 2 * Math.PI * f * i * interval);
      single = Math.min(single, bandAmplitude(values, interval, BAND[0], BAND[1], [phase]));
    }
    if (without < single) return without;
  }
  const size = Math.min(values.length, Math.floor(WINDOW / interval) + 1);
  let worst = 0;
  for (let begin = 0; begin + size <= values.length; begin += Math.max(1, size >> 2))
    worst = Math.max(worst, bandAmplitude(values.subarray(begin, begin + size), interval, BAND[0], BAND[1]) || 0);
  return worst;
}

/** Angle of each engine order over the samples, rad; none where the engine speed has holes. */
function phasesOf(engine: Float64Array, interval: number): Float64Array[] {
  const angle = new Float64Array(engine.length);
  for (let i = 1; i < engine.length; i++)
    angle[i] = angle[i - 1]! + (2 * Math.PI * (engine[i]! + engine[i - 1]!) * interval) / 120;
  if (Number.isNaN(angle[angle.length - 1] ?? Number.NaN)) return [];
  return ORDERS.map((order) => angle.map((a) => order * a));
}

function judge(observed: readonly Observed<Observation>[], context: Context): Judgement {
  const limits = context.limits();
  const need = limits['take-ups']!.value;
  const all = observed.flatMap(({ input, observation }) => observation.takeUps.map((takeUp) => ({ input, takeUp })));
  const smooth = all.filter(
    ({ takeUp: { amplitude, road } }) => !(amplitude < BEYOND_ROAD * road && amplitude > limits.watch!.value),
  );
  const rough = all.length - smooth.length;
  const sorted = [...smooth].sort((a, b) => b.takeUp.amplitude - a.takeUp.amplitude);
  const judged = sorted[need - 1]?.takeUp;
  const channels = observed.flatMap(({ observation }) => observation.certain);
  const base = {
    measures: {
      takeUps: { value: all.length },
      ...(judged === undefined ? {} : { amplitude: { value: judged.amplitude, unit: 'rpm' } }),
    },
    limits: Object.values(limits),
  };
  if (judged === undefined) {
    return {
      ...base,
      outcome: 'unproven',
      summary:
        rough > 0
          ? `In ${rough} of ${counted(all.length, 'pull-away')} the shaft shook, but about as much as in rolling close by: that is the road. ${need} on a smooth one are needed.`
          : `The recording holds ${counted(all.length, 'pull-away')} from rest, ${need} are needed.`,
      missing: { channels: [], conditions: [`>= ${need} pull-aways from rest${rough > 0 ? ' on a smooth road' : ''}`] },
    };
  }
  // Noise of the sensor in the band, and a short window: 3 rpm and 8 %.
  const u = Math.hypot(3, 0.08 * judged.amplitude);
  const severity = levelOf(judged.amplitude, u, limits);
  if (severity === undefined) {
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf({
        margin: limits.watch!.value - judged.amplitude,
        uncertainty: u,
        samples: 3 * all.length,
        channels,
      }),
      summary: `Smooth take-up: ${figure(judged.amplitude, 0)} rpm of judder at most in ${need} of ${counted(all.length, 'pull-away')} (limit ${figure(limits.watch!.value, 0)} rpm)${nearWhenBeyond(judged.amplitude, limits.watch!.value)}.`,
    };
  }
  const exceeded = limitOf(limits, severity);
  const usual = median(all.map(({ takeUp }) => takeUp.amplitude));
  const levelAt = (amplitude: number): Severity => (amplitude > limitOf(limits, 'repair').value ? 'repair' : 'watch');
  const shown = sorted.filter(({ takeUp }) => takeUp.amplitude > limits.watch!.value);
  return {
    ...base,
    outcome: 'finding',
    severity,
    confidence: confidenceOf({
      margin: judged.amplitude - exceeded.value,
      uncertainty: u,
      samples: 3 * shown.length,
      channels,
    }),
    events: shown
      .map(({ input, takeUp }) => ({
        input,
        from: takeUp.from,
        to: takeUp.to,
        severity: levelAt(takeUp.amplitude),
        peak: { value: takeUp.amplitude, unit: 'rpm' },
        usual: { value: usual, unit: 'rpm' },
        limit: { value: limitOf(limits, levelAt(takeUp.amplitude)).value, unit: 'rpm' },
      }))
      .sort((a, b) => a.input - b.input || a.from - b.from),
    summary: `The clutch judders: input speed swings by ${figure(judged.amplitude, 0)} rpm or more at ${BAND[0]} to ${BAND[1]} Hz in ${need} pull-aways (limit ${figure(exceeded.value, 0)} rpm); ${shown.length} of ${all.length} lie beyond ${figure(limits.watch!.value, 0)} rpm, the worst at ${clockTime(sorted[0]!.takeUp.from)}.`,
    causes: [
      'glazed or overheated clutch facings',
      'old or wrong transmission fluid',
      'clutch adaptation out of place',
      'worn engine or gearbox mounts',
    ],
    advice: [
      'Change the fluid for the prescribed one and have the clutches adapted again.',
      'Look at the mounts.',
      'If it stays, the clutch pack is due.',
    ],
  };
}
