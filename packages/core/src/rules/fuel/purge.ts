import { BOOST } from '../../derived/boost.js';
import { CLOSED_LOOP } from '../../derived/closed-loop.js';
import { exceeds } from '../../derived/exceeds.js';
import { FUEL_CUT } from '../../derived/fuel-cut.js';
import { firstAtOrAfter, segmentsOf, widened } from '../../derived/intervals.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import { totalTrim } from '../../derived/total-trim.js';
import { madn } from '../../math/madn.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, figure, signed } from '../wording.js';

/** A step of the duty: points, within this long (s); it has to rest before and after. */
const STEP = 15;
const WITHIN = 2;
const REST_BEFORE = 3;
/** The trim follows after 1 to 5 s: it is read from here to there after the step, s. Common practice, no source. */
const AFTER = [4, 8] as const;
const STEPS = 10;
/** Engine speed may differ by this share before and after, or something else moved the trim. */
const ALIKE = 0.2;
/** Stretches of boost (kPa over the barometer) in which the tank is watched: length (s) and count. */
const BOOSTED = 20;
const BOOST_SECONDS = 2;
const STRETCHES = 3;
const TANK_U = 0.08;
const CONDITION = `warm cruise with >= ${STEPS} openings or closings of the tank ventilation (about ten minutes)`;

interface PurgeObservation {
  /** Trim after a step less trim before, points per opening, one a step. */
  readonly answers: readonly number[];
  readonly first: number;
  /** Rise of the tank pressure in each stretch of boost, kPa; empty when not recorded. */
  readonly rises: readonly number[];
  readonly boostAt: number;
  readonly channels: readonly Channel[];
}

const limit = (name: string, value: number, unit: string, about: string): LimitDefinition => ({
  name,
  value,
  unit,
  comparison: '>',
  source: 'common practice, no source',
  about,
});

export const purge = defineRule({
  id: 'fuel.purge',
  system: 'fuel',
  question: 'Does the tank ventilation work?',
  why: 'A canister soaked with fuel or a valve that leaks spoils idle and trims; boost that reaches the tank can burst it.',
  weight: 1,
  needs: {
    channels: ['purgeDuty'],
    optional: ['fuelTrimShort', 'fuelTrimLong', 'fuelTankPressure', 'engineSpeed', 'manifoldPressure'],
    derived: [SAMPLES, CLOSED_LOOP, FUEL_CUT, BOOST],
    conditions: [CONDITION],
  },
  limits: [
    limit(
      'watch',
      15,
      '%',
      'points by which the total trim moves when the tank ventilation opens or closes, median of at least ten steps',
    ),
    limit('tank', 0.5, 'kPa', 'rise of the tank pressure within a stretch of boost, median of at least three: repair'),
  ],
  method:
    'Each step of the purge duty in warm closed loop is a test: total trim four to eight seconds after it against that just before, at like engine speed, as the median over at least ten steps. Tank pressure, where it is recorded, must not rise with boost.',
  decoys: [
    'just refuelled or a warm tank: fresh vapour moves the trim by some points; only the limit counts',
    'load changes: steps at which engine speed changes are left out',
    'fuel cuts and open loop: left out',
    'an empty canister draws air: the sign is told, either way counts',
  ],
  cautions: ['Fuel vapour burns: no flames or sparks near tank, canister and lines.'],
  proves:
    'Ten minutes of steady warm driving with purge duty, short and long trims of each bank, engine speed, tank pressure and manifold pressure at 1 Hz or faster.',
  observe(view): PurgeObservation | Refusal {
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const { time } = view;
    const duty = samples.held('purgeDuty')!;
    const tank = view.optional('fuelTankPressure');
    const boost = view.derive(BOOST);
    const rises =
      tank === undefined || isRefusal(boost) ? undefined : risesOf(samples.held(tank.id)!, boost.values, time);
    const short = view.family('fuelTrimShort')[0];
    const long = view.family('fuelTrimLong')[0];
    const loop = view.derive(CLOSED_LOOP);
    const channels = [view.channel('purgeDuty'), short, long, tank].filter((each) => each !== undefined);
    const tankOnly = {
      answers: [],
      first: Number.NaN,
      rises: rises?.values ?? [],
      boostAt: rises?.at ?? Number.NaN,
      channels,
    };
    if (short === undefined || isRefusal(loop)) {
      if (tankOnly.rises.length > 0) return tankOnly;
      return short === undefined
        ? refuse('no trims to see the tank ventilation by', { channels: ['fuelTrimShort'] })
        : (loop as Refusal);
    }
    const s = samples.held(short.id)!;
    const l = long === undefined ? undefined : samples.held(long.id);
    const cut = view.derive(FUEL_CUT);
    const use = loop.mask.slice();
    if (!isRefusal(cut)) for (const { start, end } of widened(cut.segments, time, 0, 3)) use.fill(0, start, end + 1);
    const rpm = samples.held('engineSpeed');
    const between = (from: number, to: number): { trim: number; speed: number } => {
      const trims: number[] = [];
      const speeds: number[] = [];
      for (let i = firstAtOrAfter(time, from); i < time.length && time[i]! <= to; i++) {
        if (use[i] === 0) return { trim: Number.NaN, speed: Number.NaN };
        trims.push(totalTrim(s[i]!, l?.[i] ?? 0));
        speeds.push(rpm?.[i] ?? 1);
      }
      return { trim: trims.length < 2 ? Number.NaN : median(trims), speed: median(speeds) };
    };
    const answers: number[] = [];
    let first = Number.NaN;
    for (const { at, up, next } of stepsOf(duty, time)) {
      if (next - at < AFTER[0] + 1) continue;
      const before = between(at - REST_BEFORE, at - 0.2);
      const after = between(at + AFTER[0], Math.min(at + AFTER[1], next));
      const change = after.trim - before.trim;
      if (Number.isNaN(change) || Math.abs(after.speed / before.speed - 1) > ALIKE) continue;
      if (Number.isNaN(first)) first = at;
      answers.push(up ? change : -change);
    }
    return { ...tankOnly, answers, first };
  },
  judge,
});

interface Step {
  /** Seconds at which the duty begins to move. */
  readonly at: number;
  readonly up: boolean;
  /** Seconds at which it moves again. */
  readonly next: number;
}

/** Moves of the duty by at least `STEP` points within `WITHIN` seconds. */
function stepsOf(duty: Float64Array, time: Float64Array): Step[] {
  const found: { at: number; up: boolean }[] = [];
  let back = 0;
  let free = Number.NEGATIVE_INFINITY;
  for (let i = 1; i < duty.length; i++) {
    while (time[i]! - time[back]! > WITHIN) back++;
    const change = duty[i]! - duty[back]!;
    if (!(Math.abs(change) >= STEP) || time[back]! < free) continue;
    found.push({ at: time[back]!, up: change > 0 });
    free = time[i]! + 0.5;
  }
  return found.map((each, k) => ({ ...each, next: found[k + 1]?.at ?? time[time.length - 1]! }));
}

/** Tank pressure at the end of each stretch of boost less that at its beginning. */
function risesOf(tank: Float64Array, boost: Float64Array, time: Float64Array): { values: number[]; at: number } {
  const mask = new Uint8Array(boost.length);
  for (let i = 0; i < mask.length; i++) if (boost[i]! > BOOSTED) mask[i] = 1;
  const stretches = segmentsOf(mask, time, { minDuration: BOOST_SECONDS, maxStep: 2.5 });
  const values = stretches.map(({ start, end }) => tank[end]! - tank[start]!).filter((each) => !Number.isNaN(each));
  return { values, at: stretches[0]?.from ?? Number.NaN };
}

function judge(observed: readonly Observed<PurgeObservation>[], context: Context): Judgement {
  const { watch, tank } = context.limits();
  const answers = observed.flatMap(({ observation }) => observation.answers);
  const rises = observed.flatMap(({ observation }) => observation.rises);
  const effect = median(answers);
  const effectU = Math.hypot((1.25 * madn(answers)) / Math.sqrt(answers.length), 0.4);
  const rise = median(rises);
  const riseU = Math.hypot((1.25 * madn(rises)) / Math.sqrt(rises.length), TANK_U);
  const lead =
    observed.find(({ observation }) => observation.answers.length > 0 || observation.rises.length > 0) ?? observed[0]!;
  const channels = lead.observation.channels;
  const base = {
    measures: {
      steps: { value: answers.length },
      ...(answers.length === 0 ? {} : { effect: { value: effect, unit: '%' } }),
      ...(rises.length === 0 ? {} : { tankRise: { value: rise, unit: 'kPa' } }),
    },
    limits: [watch!, tank!],
  };
  const burst = rises.length >= STRETCHES && exceeds(rise, riseU, tank!.value, tank!.comparison) === 'beyond';
  if (burst)
    return {
      ...base,
      outcome: 'finding',
      severity: 'repair',
      confidence: confidenceOf({ margin: rise - tank!.value, uncertainty: riseU, samples: rises.length, channels }),
      summary: `The tank pressure rises by ${figure(rise, 2)} kPa with each stretch of boost (limit ${figure(tank!.value)} kPa; ${rises.length} stretches): boost reaches the tank.`,
      events: [
        {
          input: lead.input,
          from: lead.observation.boostAt,
          to: lead.observation.boostAt + BOOST_SECONDS,
          severity: 'repair',
          peak: { value: rise, unit: 'kPa' },
        },
      ],
      causes: [
        'check valve between purge line and intake leaks or was fitted the wrong way round',
        'purge valve does not close',
      ],
      advice: [
        'No boost until it is mended.',
        'Blow through the check valve and the purge valve by hand: each must pass one way only, or not at all.',
        'Look at the routing of the vacuum and purge lines after any work on the intake.',
      ],
    };
  const enough = answers.length >= STEPS;
  if (enough && exceeds(Math.abs(effect), effectU, watch!.value, watch!.comparison) === 'beyond') {
    const rich = effect < 0;
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: Math.abs(effect) - watch!.value,
        uncertainty: effectU,
        samples: answers.length,
        channels,
      }),
      summary: `When the tank ventilation opens the total trim moves by ${signed(effect)} points (limit ${figure(watch!.value)}; median of ${answers.length} steps from ${clockTime(lead.observation.first)}): ${rich ? 'much fuel' : 'much air'} comes through it.`,
      events: [
        {
          input: lead.input,
          from: lead.observation.first,
          to: lead.observation.first + AFTER[1],
          severity: 'watch',
          peak: { value: effect, unit: '%' },
        },
      ],
      causes: rich
        ? [
            'canister full of fuel: tank overfilled, or its roll-over valve leaks',
            'purge valve opens further than told',
            'tank very warm, or fuel of high vapour pressure',
          ]
        : ['leak in the purge line, canister or tank cap: it draws air', 'purge valve opens further than told'],
      advice: [
        'Ask when it was refuelled, and whether past the click of the nozzle; repeat on another day.',
        'Pinch off the purge line: the trims must calm down.',
        'Weigh or renew the canister; test valve and lines.',
      ],
    };
  }
  if (!enough)
    return {
      ...base,
      outcome: 'unproven',
      summary: `Only ${answers.length} steps of the purge duty at steady driving; ${STEPS} are needed.`,
      missing: { channels: [], conditions: [CONDITION] },
    };
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: watch!.value - Math.abs(effect),
      uncertainty: effectU,
      samples: answers.length,
      channels,
      doubts: [rises.length >= STRETCHES ? 1 : 0.9],
    }),
    summary: `Opening the tank ventilation moves the total trim by ${signed(effect)} points (watch beyond ${figure(watch!.value)})${rises.length >= STRETCHES ? `, and the tank pressure by ${signed(rise, 2)} kPa under boost` : '; tank pressure under boost was not shown'}.`,
  };
}
