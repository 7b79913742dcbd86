import {
  BOOST_DYNAMICS,
  type BoostDynamics,
  type BoostResponse,
  OSCILLATION,
  OVERSHOOT_HELD,
  STEADY_HELD,
} from '../../derived/boost-dynamics.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { SENSOR_LAGS, type SensorLag } from '../../derived/sensor-lags.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, worst } from '../ladder.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, figure } from '../wording.js';
import { ADVICE, CAUSES, eventsOf, type Kind, sentenceOf, type Told } from './boost-control-wording.js';

const CP = 'common practice, no source';
const PULLS_NEEDED = 2;
/** Fresh samples that a duration needs. */
const FRESH = 3;

const limits: readonly LimitDefinition[] = [
  {
    name: 'overshoot-watch',
    value: 15,
    unit: 'kPa',
    comparison: '>',
    source: CP,
    about: `boost over its target for ${OVERSHOOT_HELD} s in ${PULLS_NEEDED} pulls`,
  },
  { name: 'overshoot-repair', value: 30, unit: 'kPa', comparison: '>', source: CP, about: 'the same' },
  {
    name: 'steady-watch',
    value: 10,
    unit: 'kPa',
    comparison: '>',
    source: CP,
    about: `settled boost off its target, to either side, for ${STEADY_HELD} s`,
  },
  { name: 'steady-repair', value: 20, unit: 'kPa', comparison: '>', source: CP, about: 'the same' },
  {
    name: 'swing-watch',
    value: 8,
    unit: 'kPa',
    comparison: '>',
    source: CP,
    about: `boost swinging about its target at ${OSCILLATION.low} to ${OSCILLATION.high} Hz for ${OSCILLATION.cycles} cycles, amplitude`,
  },
];
const CONDITION = `${PULLS_NEEDED} pulls at full pedal of >= 4 s from 2000 rpm in a middle gear, where lawful and safe`;
const CHECKED = 'else a smoke test of the charge pipes, and boost read beside a gauge of its own';

export interface BoostControlObservation {
  readonly dynamics: BoostDynamics;
  readonly lags: readonly SensorLag[];
}

export const boostControl = defineRule({
  id: 'air.boost-control',
  system: 'air',
  question: 'Does boost follow its target?',
  why: 'Boost that overshoots breaks engines, boost that falls short hides leaks and worn actuators, and boost that swings is felt as jerks.',
  weight: 2,
  needs: {
    channels: [],
    optional: [
      'boostPressure',
      'boostPressureTarget',
      'manifoldPressure',
      'manifoldPressureTarget',
      'barometricPressure',
      'engineSpeed',
      'pedalPosition',
      'throttlePosition',
      'engineTorque',
      'engineTorqueTarget',
      'torqueLimiterActive',
      'airMassFlow',
      'gear',
      'vehicleSpeed',
      'wheelSpeed',
    ],
    derived: [BOOST_DYNAMICS, SENSOR_LAGS],
    conditions: [CONDITION],
  },
  limits,
  method:
    'Boost and its target of the same place, over the barometric pressure, in full-load stretches of one gear. Overshoot: the excess that lasted, the second largest of all pulls. Settled error: the deviation that lasted from 1.5 s after boost had arrived (or from 3 s of full pedal above 3000 rpm, where it never arrives). Oscillation: the smallest half swing of three cycles in a row. Spool time and speed, settling and the lag between air channels are reported.',
  decoys: [
    'a target before torque limits: too little boost does not count where the throttle is closed on purpose; where nothing shows that, too little boost is not judged',
    'torque that meets its demand: the unit may have asked for less, or its model of torque may not know of the missing boost; too little boost is then neither a finding nor clear',
    'pressure flat at 255 kPa is the end of the format: set aside',
    'traction control and shifts: left out with half a second after them',
    'a target that steps: what follows within a second does not count',
    'targets of another place: manifold pressure is not set against a target before the throttle',
    'altitude: boost is counted over the barometric pressure',
  ],
  cautions: ['Full-load runs only on a closed course or a dynamometer, and within the law; the passenger watches.'],
  proves:
    'Three pulls at full pedal in third or fourth gear from 2000 rpm to near the limit, where lawful and safe, with boost pressure, its target, throttle, pedal, engine speed and gear at 10 Hz or faster.',
  observe(view): BoostControlObservation | Refusal {
    const dynamics = view.derive(BOOST_DYNAMICS);
    if (isRefusal(dynamics)) return refuse(dynamics.reason, dynamics.missing);
    const lags = view.derive(SENSOR_LAGS);
    return { dynamics, lags: isRefusal(lags) ? [] : lags };
  },
  judge,
});

function judge(observed: readonly Observed<BoostControlObservation>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.flatMap(({ input, observation: { dynamics } }) =>
    dynamics.responses.map((response) => ({ input, response, dynamics })),
  );
  const pulls = new Set(all.map(({ input, response }) => `${input}/${response.piece.pull}`)).size;
  const told = new Set(observed.flatMap(({ observation }) => observation.dynamics.limitsTold));
  const of = (
    kind: Kind,
    read: (response: BoostResponse, dynamics: BoostDynamics) => readonly [number, number, number],
  ) =>
    perPull(
      all.flatMap(({ input, response, dynamics }): Told[] => {
        const [value, from, to] = read(response, dynamics);
        return Number.isNaN(value)
          ? []
          : [{ kind, input, pull: response.piece.pull, value, u: dynamics.pair.u, from, to, response }];
      }),
    );
  const overshoots = of('overshoot', ({ overshoot }, { overshootHeld }) => [
    overshoot.value,
    overshoot.at,
    overshoot.at + overshootHeld,
  ]);
  const overs = of('over', ({ over }) => [over.value, over.at, over.at + STEADY_HELD]);
  const shorts = of('short', ({ short }) => [short.value, short.at, short.at + STEADY_HELD]);
  const [excused] = of('short', ({ excused: each }) => [each.value, each.at, each.at + STEADY_HELD]);
  const swung = of('swing', ({ swing }) => [swing.amplitude, swing.from, swing.to]);
  // Once is an accident: the second largest of the pulls counts.
  const overshoot = overshoots[PULLS_NEEDED - 1];
  const graded = [
    { what: 'overshoot', lead: overshoot },
    { what: 'steady', lead: overs[0] },
    { what: 'steady', lead: told.size > 0 ? shorts[0] : undefined },
    { what: 'swing', lead: swung[0] },
  ].flatMap(({ what, lead }) => {
    const severity = lead === undefined ? undefined : levelOf(lead.value, lead.u, named, what);
    return lead === undefined || severity === undefined ? [] : [{ what, lead, severity }];
  });
  const severity = worst(graded.map((each) => each.severity));
  const judged = all.reduce((total, { response }) => total + response.judged, 0);
  const hz = Math.min(...observed.map(({ observation }) => observation.dynamics.pair.hz));
  const first = observed[0]?.observation.dynamics.pair;
  const spool = middle(all.map(({ response }) => response.spoolTime));
  const base = {
    measures: {
      pulls: { value: pulls },
      ...kPa('overshoot', overshoot?.value),
      ...kPa('over', overs[0]?.value),
      ...kPa('short', shorts[0]?.value),
      ...kPa('excused', excused?.value),
      ...kPa('swing', swung[0]?.value),
      ...(swung[0] === undefined ? {} : { swingRate: { value: swung[0].response.swing.frequency, unit: 'Hz' } }),
      ...(Number.isNaN(spool) ? {} : { spoolTime: { value: spool, unit: 's' } }),
      ...rpm('spoolSpeed', middle(all.map(({ response }) => response.spoolSpeed))),
      ...seconds('settling', middle(all.map(({ response }) => response.settling))),
    },
    limits: Object.values(named),
    notes: notesOf(observed, told.size > 0, shorts[0], named['steady-watch']!.value),
    details: {
      lags: observed.flatMap(({ input, observation }) =>
        observation.lags.map(({ first: a, second: b, seconds: s, uncertainty, correlation }) => ({
          input,
          first: a,
          second: b,
          seconds: s,
          uncertainty,
          correlation,
        })),
      ),
    },
  };
  const channels = first?.channels ?? [];
  const samples = all.reduce((total, { response }) => total + response.samples, 0);
  const doubts = first?.place === undefined ? [0.95] : [];
  if (severity !== undefined) {
    const lead = graded.find((each) => each.severity === severity)!;
    const limit = named[`${lead.what}-${severity}`]!;
    const kinds = graded.map((each) => each.lead.kind);
    const counted = { overshoot: overshoots, over: overs, short: told.size > 0 ? shorts : [], swing: swung };
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: lead.lead.value - limit.value,
        uncertainty: lead.lead.u,
        samples,
        channels,
        doubts,
      }),
      summary: `${graded.map((each) => sentenceOf(each.lead, named[`${each.what}-${each.severity}`]!)).join('. ')}.`,
      events: eventsOf(counted, named, PULLS_NEEDED),
      causes: kinds.flatMap((kind) => CAUSES[kind]),
      advice: [...new Set(kinds.flatMap((kind) => ADVICE[kind]))],
    };
  }
  const slow = hz < (0.95 * FRESH) / OVERSHOOT_HELD;
  const hidden = told.size === 0 && shorts[0] !== undefined && shorts[0].value > named['steady-watch']!.value;
  const unsettled = judged < STEADY_HELD || shorts.length === 0;
  const doubtful = excused !== undefined && excused.value > named['steady-watch']!.value;
  if (pulls < PULLS_NEEDED || unsettled || slow || hidden || doubtful) {
    const summary = doubtful
      ? `Boost stayed ${figure(excused.value, 0)} kPa under its target from ${clockTime(excused.from)} with the throttle open, while reported torque met its demand (limit ${figure(named['steady-watch']!.value)} kPa): less was asked for on purpose, or the model of torque knows nothing of the missing boost; the recording does not tell which.`
      : pulls < PULLS_NEEDED
        ? `${pulls === 0 ? 'No full-load stretch' : 'Only one full-load stretch'} with boost and its target.`
        : slow
          ? `Boost comes at ${figure(hz)} Hz: too slow for an overshoot of ${OVERSHOOT_HELD} s; nothing longer was found.`
          : hidden
            ? `Boost stayed ${figure(shorts[0]!.value, 0)} kPa under its target, but nothing recorded shows whether torque was limited on purpose.`
            : 'Boost never was settled long enough without a limit on purpose.';
    return {
      ...base,
      outcome: 'unproven',
      summary,
      missing:
        slow && pulls >= PULLS_NEEDED
          ? { channels: [], conditions: [`${channels[0]?.id ?? 'boostPressure'} at >= ${FRESH / OVERSHOOT_HELD} Hz`] }
          : {
              channels: doubtful ? ['torqueLimiterActive'] : hidden ? ['throttlePosition'] : [],
              conditions: doubtful ? [`${CONDITION}, with what limits torque recorded; ${CHECKED}`] : [CONDITION],
            },
    };
  }
  const margins = [
    named['overshoot-watch']!.value - (overshoot?.value ?? 0),
    named['steady-watch']!.value - Math.max(overs[0]?.value ?? 0, shorts[0]?.value ?? 0),
    named['swing-watch']!.value - (swung[0]?.value ?? 0),
  ];
  const margin = Math.min(...margins);
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({ margin, uncertainty: first!.u, samples, channels, doubts }),
    summary: `Over ${pulls} pulls boost followed its target: at most ${figure(Math.max(0, overshoot?.value ?? 0), 0)} kPa of overshoot and ${figure(Math.max(0, overs[0]?.value ?? 0, shorts[0]?.value ?? 0), 0)} kPa of settled error (watch beyond ${figure(named['overshoot-watch']!.value)} and ${figure(named['steady-watch']!.value)} kPa)${margin < 0 ? ', near the limit' : ''}.`,
  };
}

/** The worst of each pull, largest first. */
function perPull(events: readonly Told[]): Told[] {
  const best = new Map<string, Told>();
  for (const event of events) {
    const key = `${event.input}/${event.pull}`;
    const before = best.get(key);
    if (before === undefined || event.value > before.value) best.set(key, event);
  }
  return [...best.values()].sort((a, b) => b.value - a.value);
}

function notesOf(
  observed: readonly Observed<BoostControlObservation>[],
  told: boolean,
  short: Told | undefined,
  limit: number,
): string[] {
  const pairs = observed.map(({ observation }) => observation.dynamics.pair);
  return [
    ...(pairs.some(({ place }) => place === undefined)
      ? ['Boost and its target are taken as of one place, by their names.']
      : []),
    ...(pairs.some(({ clipped }) => clipped > 0)
      ? ['Boost stood at the end of its range: these samples were set aside.']
      : []),
    ...(!told && short !== undefined && short.value > limit
      ? ['Too little boost was not judged: neither throttle nor torque demand shows whether it was limited on purpose.']
      : []),
    ...pairs
      .filter(({ hz }) => hz < 4 * OSCILLATION.high)
      .slice(0, 1)
      .map(({ hz }) => `At ${figure(hz)} Hz an oscillation is seen up to ${figure(hz / 4)} Hz.`),
  ];
}

function middle(values: readonly number[]): number {
  const told = values.filter((x) => !Number.isNaN(x)).sort((a, b) => a - b);
  return told.length === 0 ? Number.NaN : told[told.length >> 1]!;
}

const kPa = (name: string, value: number | undefined) =>
  value === undefined || Number.isNaN(value) ? {} : { [name]: { value, unit: 'kPa' } };
const rpm = (name: string, value: number) => (Number.isNaN(value) ? {} : { [name]: { value, unit: 'rpm' } });
const seconds = (name: string, value: number) => (Number.isNaN(value) ? {} : { [name]: { value, unit: 's' } });
