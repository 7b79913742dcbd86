import { exceeds } from '../../derived/exceeds.js';
import { FULL_LOAD } from '../../derived/full-load.js';
import { PEDAL_RELATIVE } from '../../derived/pedal-relative.js';
import { SAMPLES } from '../../derived/samples.js';
import { SPEED } from '../../derived/speed.js';
import { FLOOR, THROTTLE_FULL } from '../../derived/throttle-full.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, counted, figure } from '../wording.js';
import { type ClosureReading, GEAR_FROM, HELD, readClosures } from './throttle-closure-reading.js';

const PULLS_NEEDED = 2;
const ENOUGH = 2; // s
const FRESH = 3;
const CONDITION = `${PULLS_NEEDED} pulls with the pedal on the floor for >= 4 s in gear ${GEAR_FROM} or higher, warm, where lawful and safe`;

const limits: readonly LimitDefinition[] = [
  {
    name: 'watch',
    value: 15,
    unit: '%',
    comparison: '>',
    source: 'common practice, no source',
    about: `points of throttle below its own 95th percentile at relative pedal >= ${FLOOR} %, for ${HELD} s in ${PULLS_NEEDED} pulls`,
  },
];

export const throttleClosure = defineRule({
  id: 'air.throttle-closure',
  system: 'air',
  question: 'Does the control unit shut the throttle at full pedal?',
  why: 'A throttle that closes under full pedal is a limit at work: torque, boost, knock or temperature. It costs power and points to what the engine is protected from.',
  weight: 1,
  needs: {
    channels: [],
    optional: [
      'throttlePosition',
      'throttlePositionRelative',
      'throttleAngle',
      'pedalPosition',
      'engineSpeed',
      'vehicleSpeed',
      'gear',
      'wheelSpeed',
      'engineOilTemperature',
      'coolantTemperature',
      'engineTorqueTarget',
      'boostPressure',
      'boostPressureTarget',
      'knockRetard',
      'chargeAirTemperature',
      'torqueLimiterActive',
      'limpMode',
    ],
    derived: [SAMPLES, PEDAL_RELATIVE, SPEED, FULL_LOAD, THROTTLE_FULL],
    conditions: [CONDITION],
  },
  limits,
  method:
    'With the pedal on the floor for a second and more, in the higher gears and warm: the throttle against what it reads itself when open (its 95th percentile at full pedal), held for the time of the limit, in at least two pulls. What else moves in that moment names the limiter: flags, demanded torque, boost over its target, knock, temperature.',
  decoys: [
    'torque limits of the lower gears: gears below the third are not judged; without a gear, nothing below 80 km/h',
    'throttles that read 75 to 90 % open: only the own full-load reading counts',
    'shifts and traction control: left out with half a second after them; where nothing shows the traction control, nothing below 100 km/h is judged',
    'the limiter of engine speed: what lies close to it is left out',
    'cold oil: limits on purpose below 60 °C',
  ],
  cautions: ['Full-load runs only on a closed course or a dynamometer, and within the law; the passenger watches.'],
  proves:
    'Two pulls with the pedal on the floor in third gear or higher from 2000 rpm, warm, where lawful and safe, with throttle and pedal position, engine speed, gear and wheel speeds at 10 Hz or faster.',
  observe: (view) => readClosures(view),
  judge,
});

function judge(observed: readonly Observed<ClosureReading>[], context: Context): Judgement {
  const { watch } = context.limits();
  const limit = watch!;
  const all = observed.flatMap(({ input, observation }) =>
    observation.closures.map((closure) => ({ input, u: observation.u, ...closure })),
  );
  const best = new Map<string, (typeof all)[number]>();
  for (const each of all) {
    const key = `${each.input}/${each.pull}`;
    const before = best.get(key);
    if (before === undefined || each.points > before.points) best.set(key, each);
  }
  const pulls = [...best.values()].sort((a, b) => b.points - a.points);
  const lead = pulls[PULLS_NEEDED - 1];
  const judged = observed.reduce((total, { observation }) => total + observation.judged, 0);
  const hz = Math.min(...observed.map(({ observation }) => observation.hz));
  const level = observed[0]?.observation.level ?? Number.NaN;
  const base = {
    measures: {
      pulls: { value: pulls.length },
      judged: { value: judged, unit: 's' },
      open: { value: level, unit: '%' },
      ...(lead === undefined ? {} : { closure: { value: lead.points, unit: '%' } }),
    },
    limits: [limit],
  };
  const channels = observed.map(({ observation }) => observation.channel);
  if (lead !== undefined && exceeds(lead.points, lead.u, limit.value, limit.comparison) === 'beyond') {
    const closed = pulls.filter(({ points, u }) => exceeds(points, u, limit.value, limit.comparison) === 'beyond');
    const limiters = [...new Set(closed.flatMap((each) => each.limiters))];
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: lead.points - limit.value,
        uncertainty: lead.u,
        samples: FRESH * closed.length,
        channels,
      }),
      summary: `With the pedal on the floor the throttle stood ${figure(lead.points, 0)} points or more under its own full opening of ${figure(level, 0)} % in ${counted(closed.length, 'pull')}, among others from ${clockTime(lead.from)} at ${figure(lead.rpm, 0)} rpm (limit ${figure(limit.value)} points)${limiters.length > 0 ? `; ${limiters.join('; ')}` : '; nothing recorded names the limiter'}.`,
      events: closed
        .sort((a, b) => a.input - b.input || a.from - b.from)
        .map(({ input, from, to, points, rpm, limiters: named }) => ({
          input,
          from,
          to,
          severity: 'watch' as const,
          peak: { value: points, unit: '%' },
          ...(Number.isNaN(rpm) ? {} : { engineSpeed: { value: rpm, unit: 'rpm' } }),
          ...(named[0] === undefined ? {} : { limiter: named[0] }),
        })),
      causes: [
        ...limiters.map((each) => `limited on purpose: ${each}`),
        'a torque limit of gearbox, driving mode or map that the tuning did not lift',
        'boost control that cannot hold its target, so that the throttle has to',
        'knock, charge temperature or fuel pressure protection',
        'throttle actuator that does not reach its stop',
      ],
      advice: [
        'Read the stored codes before anything else; clear none.',
        'Record demanded torque, boost with its target, knock retard and charge temperature in the same pulls: what moves first is the limiter.',
        'Compare throttle position with its target: the same means wanted, different means the actuator.',
      ],
    };
  }
  const slow = hz < (0.95 * FRESH) / HELD;
  if (pulls.length < PULLS_NEEDED || judged < ENOUGH || slow) {
    const blind = pulls.length === 0 && observed.some(({ observation }) => observation.blind);
    return {
      ...base,
      outcome: 'unproven',
      summary:
        slow && pulls.length >= PULLS_NEEDED
          ? `The throttle comes at ${figure(hz)} Hz: too slow for a closure of ${HELD} s; nothing longer was found.`
          : `${counted(pulls.length, 'pull')} and ${figure(judged)} s of full pedal that could be judged.`,
      missing:
        slow && pulls.length >= PULLS_NEEDED
          ? { channels: [], conditions: [`${channels[0]?.id ?? 'throttlePosition'} at >= ${FRESH / HELD} Hz`] }
          : { channels: blind ? ['wheelSpeed'] : [], conditions: [CONDITION] },
    };
  }
  const first = pulls[0]!;
  const near = first.points > limit.value ? `; once ${figure(first.points, 0)} points at ${clockTime(first.from)}` : '';
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: limit.value - lead!.points,
      uncertainty: lead!.u,
      samples: pulls.length * FRESH,
      channels,
    }),
    summary: `In ${counted(pulls.length, 'pull')} the throttle stayed open at full pedal, at most ${figure(Math.max(0, lead!.points), 0)} points under its own ${figure(level, 0)} % (watch beyond ${figure(limit.value)})${near}.`,
  };
}
