import { AXLE_SPEEDS } from '../../derived/axle-speeds.js';
import { ENGINE_TORQUE } from '../../derived/engine-torque.js';
import { exceeds } from '../../derived/exceeds.js';
import { PEDAL_RELATIVE } from '../../derived/pedal-relative.js';
import { SAMPLES } from '../../derived/samples.js';
import { PULLS } from '../../derived/segments.js';
import { SPEED } from '../../derived/speed.js';
import { TORQUE_INTERVENTIONS } from '../../derived/torque-interventions.js';
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
import { clockTime, counted, figure } from '../wording.js';
import { type ProtectionObservation, readProtection, type Top } from './protection-reading.js';

const CP = 'common practice, no source';
/** Full-load stretches that a ceiling has to show in, and events that make a shortfall repeated. */
const TRIES = 3;
const REPEATED = 2;
/** Seconds of comparable full load that it takes to say nothing limits the engine. */
const ENOUGH = 3;
/** Standard uncertainty of demand against actual torque, both from one control unit, share. Common practice. */
const SAME_UNIT = 0.02;

const limits: readonly LimitDefinition[] = [
  {
    name: 'deficit',
    value: 0.1,
    unit: '1',
    comparison: '>',
    source: CP,
    about: 'demanded less actual torque over the demand at full pedal, for 1 s',
  },
  {
    name: 'ceiling',
    value: 0.85,
    unit: '1',
    comparison: '<',
    source: CP,
    about: `highest torque over that of the profile in ${TRIES} full-load stretches`,
  },
];
const CONDITION = `>= ${ENOUGH} s of full pedal at 2500 to 4800 rpm with warm oil, where lawful and safe`;

/** How far a ceiling is believed where a driving mode may have made it. Common practice, no source. */
const MILD = 0.8;

export const protection = defineRule({
  id: 'engine.protection',
  system: 'engine',
  question: 'Does an emergency mode or a limiter hide a fault?',
  why: 'A control unit that protects the engine takes torque away quietly: the car drives, and the fault behind it goes on.',
  weight: 2,
  needs: {
    channels: [],
    optional: [
      'engineTorque',
      'engineTorqueTarget',
      'engineSpeed',
      'pedalPosition',
      'limpMode',
      'torqueLimiterActive',
      'engineOilTemperature',
      'coolantTemperature',
      'vehicleSpeed',
      'wheelSpeed',
      'tractionControlActive',
    ],
    derived: [AXLE_SPEEDS, SAMPLES, PEDAL_RELATIVE, SPEED, PULLS, ENGINE_TORQUE, TORQUE_INTERVENTIONS],
    conditions: [CONDITION],
  },
  limits,
  method:
    'At full pedal, from 1.5 s after it was reached and once torque has come (that of the demand, or the most of the stretch), above 2500 rpm, with warm oil and on the move: demanded less actual torque that is held for a second; the highest torque of each full-load stretch against the rated torque of the profile, by its upper 95 % bound, in at least three; and the flags of the control unit. Shifts, traction control and starts are left out.',
  decoys: [
    'shifts, traction control, launches: told by gear, flags, wheel speeds and road speed, and left out; where neither flags nor wheel speeds are recorded nothing is said',
    'a turbocharger that is still running up, or an engine speed too low for its boost: what comes before torque has come once, and below 2500 rpm, does not count',
    'cold oil limits speed and torque on purpose: not judged below 60 °C',
    'a gentle driving mode asks for less and gets it: demand and actual agree; a ceiling in such a mode is named among the causes',
    'the limiter of an ordinary rev limit: above the speeds that are judged',
  ],
  cautions: ['Do not force an engine that protects itself: find out what it protects itself from.'],
  proves:
    'Three full-load stretches from 2000 rpm to the limit, where lawful and safe, with demanded and actual torque, pedal, engine speed, gear and oil temperature at 5 Hz, and the rated torque in the profile.',
  observe: (view, context) => readProtection(view, context.limits().deficit!.value),
  judge,
});

function most({ torque, reconciled }: Top): number {
  return Math.max(torque, reconciled);
}

function judge(observed: readonly Observed<ProtectionObservation>[], context: Context): Judgement {
  const { deficit, ceiling } = context.limits();
  const rated = context.vehicle.engine.ratedTorque;
  const compared = observed.reduce((total, { observation }) => total + observation.compared, 0);
  const short = observed.flatMap(({ input, observation }) =>
    observation.deficits
      .filter(({ share }) => exceeds(share, SAME_UNIT, deficit!.value, deficit!.comparison) === 'beyond')
      .map((each) => ({ input, ...each })),
  );
  const flags = observed.flatMap(({ input, observation }) => observation.flags.map((each) => ({ input, ...each })));
  const tops = observed.flatMap(({ input, observation }) =>
    observation.tops.map((each) => ({ input, ...each, u: observation.torqueU })),
  );
  const best = tops.reduce<(typeof tops)[number] | undefined>(
    (a, b) => (a === undefined || b.torque > a.torque ? b : a),
    undefined,
  );
  const share = best === undefined || rated === undefined ? Number.NaN : best.torque / rated;
  // Where air or road load say that the control unit's own torque reads low, it shows no ceiling.
  const highest = tops.length === 0 || rated === undefined ? Number.NaN : Math.max(...tops.map(most)) / rated;
  const capped =
    tops.length >= TRIES &&
    !Number.isNaN(highest) &&
    exceeds(highest, highest * best!.u, ceiling!.value, ceiling!.comparison) === 'beyond';
  const limp = flags.some(({ id }) => id === 'limpMode');
  // Nothing was refused: a mode that the driver chose may have asked for no more.
  const mild = capped && short.length === 0 && flags.length === 0;
  const severity: Severity | undefined =
    limp || capped || short.length >= REPEATED ? 'repair' : short.length > 0 || flags.length > 0 ? 'watch' : undefined;
  const base = {
    measures: {
      compared: { value: compared, unit: 's' },
      shortfalls: { value: short.length },
      ...(observed.every(({ observation }) => Number.isNaN(observation.largest))
        ? {}
        : {
            largest: {
              value: Math.max(
                ...observed.map(({ observation }) => (Number.isNaN(observation.largest) ? -1 : observation.largest)),
              ),
            },
          }),
      ...(best === undefined ? {} : { torque: { value: best.torque, unit: 'N.m' } }),
      ...(Number.isNaN(share) ? {} : { ofRated: { value: share } }),
      tries: { value: tops.length },
      flags: { value: flags.length },
    },
    limits: [deficit!, ceiling!],
    notes: [
      ...new Set(observed.flatMap(({ observation }) => observation.notes)),
      ...(mild ? ['The engine gave what was demanded: a driving mode that holds back looks the same.'] : []),
    ],
  };
  const channels = observed.flatMap(({ observation }) => observation.channels);
  if (severity !== undefined) {
    const worst = short.reduce<(typeof short)[number] | undefined>(
      (a, b) => (a === undefined || b.share > a.share ? b : a),
      undefined,
    );
    const told = [
      ...flags
        .slice(0, 1)
        .map(
          ({ id, from }) =>
            `${id === 'limpMode' ? 'The emergency mode was active' : 'A torque limiter was active at full pedal'} from ${clockTime(from)}`,
        ),
      ...(worst === undefined
        ? []
        : [
            `At full pedal the engine gave ${figure(100 * worst.share, 0)} % less than was demanded for a second and more, ${counted(short.length, 'time')}, first at ${clockTime(short[0]!.from)} (limit ${figure(100 * deficit!.value, 0)} %)`,
          ]),
      ...(capped
        ? [
            `Torque never passed ${figure(best!.torque, 0)} N.m in ${counted(tops.length, 'full-load stretch').replace('stretchs', 'stretches')}: ${figure(100 * share, 0)} % of the rated ${figure(rated!, 0)} N.m (limit ${figure(100 * ceiling!.value, 0)} %)`,
          ]
        : []),
    ];
    const margin = worst !== undefined ? worst.share - deficit!.value : capped ? ceiling!.value - highest : 1;
    const events: RuleEvent[] = [
      ...short.map(({ input, from, to, share: missing, rpm }) => ({
        input,
        from,
        to,
        severity: short.length >= REPEATED ? ('repair' as const) : ('watch' as const),
        peak: { value: missing },
        ...(Number.isNaN(rpm) ? {} : { engineSpeed: { value: rpm, unit: 'rpm' } }),
      })),
      ...(capped
        ? tops.map(({ input, from, to, torque }) => ({
            input,
            from,
            to,
            severity: 'repair' as const,
            peak: { value: torque, unit: 'N.m' },
          }))
        : []),
      ...flags.map(({ input, from, to, id }) => ({
        input,
        from,
        to,
        severity: id === 'limpMode' ? ('repair' as const) : ('watch' as const),
        flag: id,
      })),
    ];
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin,
        uncertainty: worst !== undefined ? SAME_UNIT : capped ? highest * best!.u : 0,
        samples: Math.max(1, events.length * 3),
        channels,
        doubts: [mild ? MILD : 1],
      }),
      summary: `${told.join('. ')}.`,
      events,
      causes: [
        'a stored fault has put the engine into an emergency mode: boost, knock, fuel pressure, temperature',
        'a limiter for temperature, knock or fuel pressure is at work: see these rules',
        'boost is missed: charge leak, wastegate, worn turbocharger',
        'torque limits of another gearbox or map, or a driving mode that holds back',
      ],
      advice: [
        'Read the stored codes before anything else; clear none.',
        'Look at knock, charge temperature, rail pressure and boost against target in the same stretches.',
        'Repeat in the sportiest driving mode with warm oil.',
        'Smoke test of the charge pipes.',
      ],
    };
  }
  const ceilingShown = tops.length >= TRIES && share >= ceiling!.value;
  if (compared < ENOUGH && !ceilingShown) {
    const blind = observed.every(({ observation }) => observation.blind);
    const known = channels.length >= 2;
    return {
      ...base,
      outcome: 'unproven',
      summary: blind
        ? 'Neither wheel speeds nor a flag tell of the traction control, which takes torque on purpose.'
        : known
          ? `Only ${figure(compared)} s of full pedal with warm oil in which demand and actual torque could be compared.`
          : 'Demanded and actual torque are not both recorded, and no three full-load stretches could be set against a rated torque.',
      missing: blind
        ? { channels: ['wheelSpeed'], conditions: [CONDITION] }
        : known
          ? { channels: [], conditions: [CONDITION] }
          : { channels: ['engineTorqueTarget', 'engineTorque'], conditions: [CONDITION] },
    };
  }
  const largest = base.measures.largest?.value ?? Number.NaN;
  const parts = [
    ...(compared >= ENOUGH
      ? [
          `over ${figure(compared)} s of full pedal the engine gave what was demanded${largest > 0 ? `, at most ${figure(100 * largest, 0)} % less` : ''} (limit ${figure(100 * deficit!.value, 0)} %)`,
        ]
      : []),
    ...(ceilingShown ? [`it reached ${figure(100 * share, 0)} % of its rated torque`] : []),
  ].join('; ');
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: compared >= ENOUGH && !Number.isNaN(largest) ? deficit!.value - largest : share - ceiling!.value,
      uncertainty: compared >= ENOUGH ? SAME_UNIT : share * best!.u,
      samples: Math.max(1, Math.round(compared) + tops.length),
      channels,
    }),
    summary: `${parts.charAt(0).toUpperCase()}${parts.slice(1)}.`,
  };
}
