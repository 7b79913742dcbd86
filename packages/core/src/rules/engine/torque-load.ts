import { BMEP } from '../../derived/bmep.js';
import { ENGINE_TORQUE } from '../../derived/engine-torque.js';
import { exceeds } from '../../derived/exceeds.js';
import { SHIFTS } from '../../derived/gear-shifts.js';
import { maskOf, widened } from '../../derived/intervals.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import { heldMaximum } from '../../math/held-maximum.js';
import { meanEffectivePressure } from '../../physics/torque.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Observed,
  type RuleEvent,
  type Severity,
} from '../rule.js';
import { clockTime, figure } from '../wording.js';

/** Speed (rpm) below which the pressure acts on the rods at the worst crank angles for the longest time. */
const BELOW = 3000;
const ABOVE = 900;
/** Seconds for which a pressure has to be held. */
const HELD = 1;
/** Seconds under load below that speed that it takes to say the engine is spared. */
const ENOUGH = 3;
/** Share of the rated (else 8 bar) pressure from which that load counts. */
const LOADED = 0.6;

const CP = 'common practice, no source';
const limits: readonly LimitDefinition[] = [
  {
    name: 'watch',
    value: 1.15,
    unit: '1',
    comparison: '>',
    source: CP,
    about: 'pressure below 3000 rpm over that of the rated torque, for 1 s',
  },
  { name: 'repair', value: 1.35, unit: '1', comparison: '>', source: CP, about: 'the same' },
  {
    name: 'unrated',
    value: 26,
    unit: 'bar',
    comparison: '>',
    source: CP,
    about: 'mean effective pressure below 3000 rpm for 1 s, rated torque unknown',
  },
  { name: 'unrated-strong', value: 30, unit: 'bar', comparison: '>', source: CP, about: 'the same, told as strong' },
];

interface TorqueObservation {
  /** Highest pressure held for a second below 3000 rpm, bar; NaN when none. */
  readonly held: number;
  readonly at: number;
  readonly rpm: number;
  /** Relative standard uncertainty. */
  readonly u: number;
  readonly channels: readonly Channel[];
  /** Seconds under load below 3000 rpm. */
  readonly seconds: number;
  readonly stretches: readonly { readonly from: number; readonly to: number; readonly peak: number }[];
  readonly notes: readonly string[];
}

export const torqueLoad = defineRule({
  id: 'engine.torque-load',
  system: 'engine',
  question: 'Is torque made so low down that rods and bearings suffer?',
  why: 'Rods, bearings and pistons carry the pressure of each firing; far more torque than the engine was built for, at low speed, bends them one day without a warning.',
  weight: 3,
  needs: {
    channels: ['engineSpeed'],
    optional: [
      'engineTorque',
      'engineTorquePercent',
      'engineTorqueReference',
      'airMassFlow',
      'manifoldPressure',
      'vehicleSpeed',
    ],
    derived: [BMEP, ENGINE_TORQUE, SHIFTS, SAMPLES],
    conditions: [
      `full load below ${BELOW} rpm for >= ${ENOUGH} s, where lawful and safe`,
      'vehicle profile with engine.displacement',
    ],
  },
  limits,
  method:
    'Engine torque is told from the control unit, from air mass and from road load, and reconciled; a channel that air and road outvote is left out. The mean effective pressure (4 pi T / Vd) that was held for a second below 3000 rpm is compared, by its lower 95 % bound, with that of the rated torque of the profile; without a rating with fixed pressures, and then never beyond watch.',
  decoys: [
    'a torque channel that is capped or was not rescaled: air and road load outvote it, or the uncertainty grows by the disagreement',
    'torque at the wheels: the channel is the crank’s; road load is taken back through the driveline',
    'overboost of a second while the turbocharger settles: has to be held for a full second',
    'shifts: 0.3 s on both sides are left out',
  ],
  cautions: [
    'Do not use full load below 3000 rpm in a high gear until the torque there is known to be within the rating.',
  ],
  proves:
    'One full-load stretch in a high gear from 1500 to 3500 rpm, where lawful and safe, with engine torque or air mass, engine speed, pedal and vehicle speed at 5 Hz or faster, and a vehicle profile with displacement and rated torque.',
  observe(view, context): TorqueObservation | ReturnType<typeof refuse> {
    const bmep = view.derive(BMEP);
    if (isRefusal(bmep)) return refuse(bmep.reason, bmep.missing);
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const speed = samples.held('engineSpeed')!;
    const shifts = view.derive(SHIFTS);
    const shifting = isRefusal(shifts) ? undefined : maskOf(widened(shifts, view.time, 0.3), view.time.length);
    const torque = view.derive(ENGINE_TORQUE);
    // Road load is told at fresh samples only: what lies between them is no gap.
    const low: number[] = [];
    const at: number[] = [];
    const rows: number[] = [];
    const { ratedTorque, displacement } = context.vehicle.engine;
    const loaded =
      ratedTorque === undefined ? 8 : LOADED * meanEffectivePressure(ratedTorque, displacement ?? Number.NaN);
    const limit = context.limits();
    const rated = ratedTorque === undefined ? undefined : meanEffectivePressure(ratedTorque, displacement!);
    const over = rated === undefined ? limit.unrated!.value : limit.watch!.value * rated;
    let seconds = 0;
    const stretches: { from: number; to: number; peak: number }[] = [];
    let open: { from: number; to: number; peak: number } | undefined;
    for (let i = 0; i < view.time.length; i++) {
      const inside = speed[i]! >= ABOVE && speed[i]! < BELOW && shifting?.[i] !== 1;
      const pressure = inside ? bmep.values[i]! : Number.NaN;
      if (inside && Number.isNaN(pressure)) continue;
      const step = at.length === 0 ? 0 : view.time[i]! - at[at.length - 1]!;
      low.push(pressure);
      at.push(view.time[i]!);
      rows.push(i);
      if (pressure >= loaded && step < samples.maxStep) seconds += step;
      if (!(pressure > over)) open = undefined;
      else if (open === undefined || step > samples.maxStep) {
        open = { from: view.time[i]!, to: view.time[i]!, peak: pressure };
        stretches.push(open);
      } else {
        open.to = view.time[i]!;
        open.peak = Math.max(open.peak, pressure);
      }
    }
    const best = heldMaximum(low, at, HELD, samples.maxStep);
    const widest = isRefusal(torque) ? [] : torque.agreements.filter(({ differs }) => differs);
    return {
      held: best.value,
      at: best.index < 0 ? Number.NaN : at[best.index]!,
      rpm: best.index < 0 ? Number.NaN : speed[rows[best.index]!]!,
      u: bmep.uncertainty,
      channels: [view.channel('engineSpeed'), view.optional('engineTorque'), view.optional('airMassFlow')].filter(
        (each) => each !== undefined,
      ),
      seconds,
      stretches: stretches.filter(({ from, to }) => to - from >= HELD),
      notes: [
        ...(!isRefusal(torque) && torque.outvoted
          ? [
              'The torque channel disagrees with air mass and road load, which agree: left out (not rescaled with the engine?).',
            ]
          : []),
        ...widest.map(
          ({ first, second, ratio }) =>
            `Torque by ${first} over torque by ${second} is ${figure(ratio, 2)}: the result is that much less sure.`,
        ),
      ],
    };
  },
  judge,
});

function judge(observed: readonly Observed<TorqueObservation>[], context: Context): Judgement {
  const limit = context.limits();
  const { ratedTorque, displacement } = context.vehicle.engine;
  const rated = ratedTorque === undefined ? undefined : meanEffectivePressure(ratedTorque, displacement!);
  const worst = observed.reduce((a, b) =>
    b.observation.held > a.observation.held || Number.isNaN(a.observation.held) ? b : a,
  );
  const { held, u } = worst.observation;
  const seconds = observed.reduce((total, { observation }) => total + observation.seconds, 0);
  const notes = [...new Set(observed.flatMap(({ observation }) => observation.notes))];
  const used = Object.values(limit).filter(({ name }) => (rated === undefined) === name.startsWith('unrated'));
  const share = rated === undefined ? Number.NaN : held / rated;
  const base = {
    measures: {
      ...(Number.isNaN(held) ? {} : { pressure: { value: held, unit: 'bar' } }),
      ...(rated === undefined || Number.isNaN(held)
        ? {}
        : { overRated: { value: share }, ratedPressure: { value: rated, unit: 'bar' } }),
      ...(Number.isNaN(held) ? {} : { uncertainty: { value: 100 * u, unit: '%' } }),
      loaded: { value: seconds, unit: 's' },
    },
    limits: used,
    notes: [
      ...notes,
      ...(rated === undefined
        ? ['Rated torque not in the profile: fixed pressures are used, never beyond watch.']
        : []),
    ],
  };
  if (Number.isNaN(held) || seconds < ENOUGH) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `Only ${figure(seconds)} s of load below ${BELOW} rpm: what the engine makes there is not shown.`,
      missing: { channels: [], conditions: [`full load below ${BELOW} rpm for >= ${ENOUGH} s, where lawful and safe`] },
    };
  }
  const compared = rated === undefined ? held : share;
  const beyond = (name: string) => exceeds(compared, u * compared, limit[name]!.value, limit[name]!.comparison);
  const [first, second] = rated === undefined ? ['unrated', 'unrated-strong'] : ['watch', 'repair'];
  const severity: Severity | undefined =
    beyond(second!) === 'beyond' && rated !== undefined ? 'repair' : beyond(first!) === 'beyond' ? 'watch' : undefined;
  const told = `${figure(held)} bar held for a second at ${figure(worst.observation.rpm, 0)} rpm (${clockTime(worst.observation.at)}, ±${figure(196 * u, 0)} %)`;
  const against =
    rated === undefined ? '' : `, ${figure(share, 2)} times that of the rated torque (${figure(rated)} bar)`;
  const samples = Math.max(1, Math.round(seconds));
  if (severity === undefined) {
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf({
        margin: limit[first!]!.value - compared,
        uncertainty: u * compared,
        samples,
        channels: [],
      }),
      summary: `Mean effective pressure below ${BELOW} rpm: at most ${told}${against}; watch beyond ${figure(limit[first!]!.value, 2)}${rated === undefined ? ' bar' : ' times'}${beyond(first!) === 'near' ? ', near the limit' : ''}.`,
    };
  }
  const counted = limit[severity === 'repair' ? 'repair' : first!]!;
  const strong = rated === undefined && beyond('unrated-strong') === 'beyond';
  const events: RuleEvent[] = observed.flatMap(({ input, observation }) =>
    observation.stretches.map(({ from, to, peak }) => ({
      input,
      from,
      to,
      severity,
      peak: { value: peak, unit: 'bar' },
    })),
  );
  return {
    ...base,
    outcome: 'finding',
    severity,
    confidence: confidenceOf({
      margin: compared - counted.value,
      uncertainty: u * compared,
      samples,
      channels: worst.observation.channels,
    }),
    summary: `${strong ? 'Very high' : 'High'} mean effective pressure low down: ${told}${against}; limit ${figure(counted.value, 2)}${rated === undefined ? ' bar' : ' times'}.`,
    events,
    causes: [
      'a map that asks for full torque as soon as the turbocharger can give it',
      'boost controlled too high at low speed, or its actuator does not follow',
      'an engine with other internals than the profile says: then the rating in the profile is not this engine’s',
    ],
    advice: [
      'Until it is settled: no full load below 3000 rpm in high gears.',
      'Ask who mapped the car, for which rods and pistons, and for the torque curve of that map.',
      'Have the torque below 3000 rpm reduced to the rating, with an equal curve above it, and record the same stretch again.',
      'With a high reading over a long time: compression and leak-down test, listen for rod knock hot, look for metal in the oil filter.',
    ],
  };
}
