import { AMBIENT } from '../../derived/ambient.js';
import { AUTHORITY, BOOST_AUTHORITY } from '../../derived/boost-authority.js';
import { BOOST_DYNAMICS } from '../../derived/boost-dynamics.js';
import { exceeds } from '../../derived/exceeds.js';
import { FULL_LOAD } from '../../derived/full-load.js';
import { SAMPLES } from '../../derived/samples.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, worst } from '../ladder.js';
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
import { POSITION_HELD, readTurbo, type TurboReading } from './turbo-health-reading.js';

const CP = 'common practice, no source';
const PULLS_NEEDED = 2;
/** Deviations of the position that have to agree. */
const TIMES = 2;
/** kPa; thinner air takes a turbocharger to its end on purpose. About 1300 m. */
const LOWEST_BAROMETER = 86;
const STILL_ENOUGH = 5;
const CONDITION = `${PULLS_NEEDED} pulls at full pedal of >= 5 s from 2000 rpm to beyond 4000 rpm below 1300 m of altitude, where lawful and safe`;

const limits: readonly LimitDefinition[] = [
  {
    name: 'missing-repair',
    value: 10,
    unit: 'kPa',
    comparison: '>',
    source: CP,
    about: `boost missing with the actuator at ${AUTHORITY.share} % of its authority or more for ${AUTHORITY.seconds} s above ${AUTHORITY.rpm} rpm, in ${PULLS_NEEDED} pulls`,
  },
  {
    name: 'position-watch',
    value: 5,
    unit: '%',
    comparison: '>',
    source: CP,
    about: `position of the boost actuator off its command, the command still, for ${POSITION_HELD} s, ${TIMES} times`,
  },
  { name: 'position-repair', value: 10, unit: '%', comparison: '>', source: CP, about: 'the same' },
  {
    name: 'banks-watch',
    value: 15,
    unit: '%',
    comparison: '>',
    source: CP,
    about: 'difference between the duties of two boost actuators at settled full load',
  },
];

export const turboHealth = defineRule({
  id: 'air.turbo-health',
  system: 'air',
  question: 'Are the turbocharger and its actuator wearing out?',
  why: 'A tired turbocharger or a wastegate that no longer shuts is made up for by the actuator, until it stands at its end and boost goes missing.',
  weight: 2,
  needs: {
    channels: [],
    optional: [
      'wastegateDuty',
      'wastegatePosition',
      'wastegateTarget',
      'turbineVanePosition',
      'turbineVaneTarget',
      'boostPressure',
      'boostPressureTarget',
      'manifoldPressure',
      'manifoldPressureTarget',
      'barometricPressure',
      'engineSpeed',
      'pedalPosition',
      'vehicleSpeed',
      'gear',
      'wheelSpeed',
    ],
    derived: [AMBIENT, SAMPLES, FULL_LOAD, BOOST_DYNAMICS, BOOST_AUTHORITY],
    conditions: [CONDITION],
  },
  limits,
  method:
    'In full-load stretches, after boost has had three seconds to build: boost that is missing while the actuator has nothing left, second largest of the pulls. Which end of the duty makes boost is learned from what the control unit does while boost is still missing. Beside it the actuator’s position against its command while the command stands still, and the duties of two actuators. Spool time, spool speed and duty at settled boost are reported for comparison with later drives.',
  decoys: [
    'altitude: below 86 kPa of barometric pressure a healthy turbocharger reaches its end, not judged',
    'a turbocharger that is still running up: the first three seconds of full pedal and everything below 3000 rpm are left out',
    'duty polarity: learned, not assumed',
    'hot charge air lowers the target itself: only what is missing against the target counts',
    'a raised target (map change) asks for what the turbocharger never made: named among the causes',
    'an actuator that moves late: only a command that stands still is compared',
  ],
  cautions: ['Full-load runs only on a closed course or a dynamometer, and within the law; the passenger watches.'],
  proves:
    'Three pulls at full pedal in third or fourth gear from 2000 rpm to near the limit, where lawful and safe, with boost pressure, its target, actuator duty, position and its command, engine speed and barometric pressure at 5 Hz or faster.',
  observe: (view) => readTurbo(view),
  judge,
});

function judge(observed: readonly Observed<TurboReading>[], context: Context): Judgement {
  const named = context.limits();
  const high = observed.filter(({ observation }) => observation.barometer < LOWEST_BAROMETER);
  const pulls = observed
    .filter(({ observation }) => observation.barometer >= LOWEST_BAROMETER)
    .flatMap(({ input, observation }) =>
      (observation.authority?.pulls ?? []).map((pull) => ({ input, u: observation.authority!.pair.u, ...pull })),
    );
  const short = pulls.filter(({ missing }) => !Number.isNaN(missing)).sort((a, b) => b.missing - a.missing);
  const missing = named['missing-repair']!;
  const lead = short[PULLS_NEEDED - 1];
  const exhausted = lead !== undefined && exceeds(lead.missing, lead.u, missing.value, missing.comparison) === 'beyond';
  const deviations = observed
    .flatMap(({ input, observation }) => observation.deviations.map((each) => ({ input, ...each })))
    .sort((a, b) => b.value - a.value);
  const off = deviations[TIMES - 1];
  const byPosition = off === undefined ? undefined : levelOf(off.value, off.u, named, 'position');
  const banks = Math.max(...observed.map(({ observation }) => observation.banks).filter((x) => !Number.isNaN(x)), -1);
  const byBanks = banks < 0 ? undefined : levelOf(banks, 1, named, 'banks');
  const severity = worst([exhausted ? 'repair' : undefined, byPosition, byBanks]);
  const first = <K extends 'spoolTime' | 'spoolSpeed' | 'settledDuty'>(key: K): number =>
    observed.map(({ observation }) => observation[key]).find((x) => !Number.isNaN(x)) ?? Number.NaN;
  const still = observed.reduce((total, { observation }) => total + observation.still, 0);
  const used = pulls.length === 0 ? Number.NaN : Math.max(...pulls.map((each) => each.used));
  const measure = (name: string, value: number, unit: string) =>
    Number.isNaN(value) ? {} : { [name]: { value, unit } };
  const base = {
    measures: {
      pulls: { value: pulls.length },
      ...measure('missing', lead?.missing ?? Number.NaN, 'kPa'),
      ...measure('used', used, '%'),
      ...measure('position', off?.value ?? Number.NaN, '%'),
      ...measure('banks', banks < 0 ? Number.NaN : banks, '%'),
      ...measure('spoolTime', first('spoolTime'), 's'),
      ...measure('spoolSpeed', first('spoolSpeed'), 'rpm'),
      ...measure('settledDuty', first('settledDuty'), '%'),
    },
    limits: Object.values(named),
    notes: [
      ...(high.length > 0
        ? ['High up a healthy turbocharger reaches its end as well: boost there was not judged.']
        : []),
      ...observed
        .flatMap(({ observation }) => observation.authority?.actuators ?? [])
        .slice(0, 1)
        .map(({ polarity }) => `Learned from this car: ${polarity > 0 ? 'more' : 'less'} duty makes more boost.`),
    ],
  };
  const channels = observed.flatMap(({ observation }) => [
    ...(observation.authority?.channels ?? []),
    ...observation.positions,
  ]);
  if (severity !== undefined) {
    const parts = [
      ...(exhausted
        ? [
            `With the actuator at its end boost stayed ${figure(lead.missing, 0)} kPa and more under its target in ${counted(short.filter((each) => each.missing >= lead.missing).length, 'pull')}, among others from ${clockTime(lead.at)} at ${figure(lead.rpm, 0)} rpm (limit ${missing.value} kPa)`,
          ]
        : []),
      ...(byPosition !== undefined && off !== undefined
        ? [
            `the boost actuator stood ${figure(off.value)} points off its command for ${POSITION_HELD} s and more, among others from ${clockTime(off.from)} (limit ${named[`position-${byPosition}`]!.value})`,
          ]
        : []),
      ...(byBanks !== undefined
        ? [
            `the two actuators differ by ${figure(banks, 0)} points at settled boost (limit ${named['banks-watch']!.value})`,
          ]
        : []),
    ].join('; ');
    const limit = exhausted
      ? missing
      : byPosition === severity
        ? named[`position-${byPosition}`]!
        : named['banks-watch']!;
    const value = exhausted ? lead.missing : byPosition === severity ? off!.value : banks;
    const events: RuleEvent[] = [
      ...(exhausted
        ? short
            .filter(({ missing: kPa, u }) => exceeds(kPa, u, missing.value, missing.comparison) === 'beyond')
            .map(({ input, at, missing: kPa, rpm }) => ({
              input,
              from: at,
              to: at + AUTHORITY.seconds,
              severity: 'repair' as Severity,
              peak: { value: kPa, unit: 'kPa' },
              engineSpeed: { value: rpm, unit: 'rpm' },
            }))
        : []),
      ...(byPosition === undefined
        ? []
        : deviations.flatMap(({ input, from, value: points, u, id }) => {
            const each = levelOf(points, u, named, 'position');
            return each === undefined
              ? []
              : [
                  {
                    input,
                    from,
                    to: from + POSITION_HELD,
                    severity: each,
                    channel: id,
                    peak: { value: points, unit: '%' },
                  },
                ];
          })),
    ];
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: value - limit.value,
        uncertainty: exhausted ? lead.u : (off?.u ?? 1),
        samples: 3 * Math.max(1, events.length),
        channels,
      }),
      summary: `${parts.charAt(0).toUpperCase()}${parts.slice(1)}.`,
      events: events.sort((a, b) => a.input - b.input || a.from - b.from),
      causes: [
        ...(exhausted
          ? [
              'charge air escapes: see the rule on charge leaks',
              'wastegate that does not shut: worn flap, bush or seat',
              'actuator weak: diaphragm, spring, control valve, hose',
              'exhaust leak before the turbine, or a blocked exhaust or intake',
              'turbocharger worn: bearing play, damaged blades',
              'target raised beyond what this turbocharger makes (map change)',
            ]
          : []),
        ...(byPosition === undefined
          ? []
          : [
              'actuator worn, sticking or not learned after it was changed',
              'linkage out of adjustment or with play',
              'position sensor off',
            ]),
        ...(byBanks === undefined ? [] : ['one side leaks, or one wastegate or turbocharger is worn']),
      ],
      advice: [
        'Smoke-test the charge pipes first: it is cheap and the most frequent cause.',
        'Check the actuator with a hand pump or by its own test with the engine off and cold: travel, hold, adjustment.',
        'Look at intake and exhaust for restriction and for leaks before the turbine.',
        'Feel the play of the turbocharger shaft and look at its blades with the engine cold.',
      ],
    };
  }
  const shown = pulls.length >= PULLS_NEEDED;
  if (!shown && still < STILL_ENOUGH) {
    const absent = observed.flatMap(({ observation }) => observation.authorityMissing?.missing.channels ?? []);
    return {
      ...base,
      outcome: 'unproven',
      summary:
        high.length > 0
          ? 'All pulls were driven high up, where a healthy turbocharger reaches its end as well.'
          : `${counted(pulls.length, 'pull')} in which boost had its time to build, and ${figure(still)} s of a still actuator command.`,
      missing: { channels: [...new Set(absent)], conditions: [CONDITION] },
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: Math.min(missing.value - (lead?.missing ?? 0), named['position-watch']!.value - (off?.value ?? 0)),
      uncertainty: Math.max(pulls[0]?.u ?? 0, off?.u ?? 0),
      samples: 3 * Math.max(pulls.length, 1),
      channels,
      doubts: shown ? [] : [0.8],
    }),
    summary: `${shown ? `In ${counted(pulls.length, 'pull')} boost did not go missing with the actuator at its end; it used up to ${figure(used, 0)} % of its authority` : 'Boost against the actuator’s authority was not shown'}${off === undefined ? '' : `; the actuator stayed within ${figure(off.value)} points of its command`}.`,
  };
}
