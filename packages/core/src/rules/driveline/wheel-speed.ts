import { ACCELERATION } from '../../derived/acceleration.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { SAMPLES } from '../../derived/samples.js';
import { SPEED } from '../../derived/speed.js';
import { STRAIGHT } from '../../derived/straight.js';
import { median } from '../../math/quantile.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, worst } from '../ladder.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Observed,
  type Severity,
} from '../rule.js';
import { clockTime, counted, figure, listed, signed } from '../wording.js';
import { deviationEvents, offsetEvents } from './wheel-speed-events.js';
import {
  type DropOut,
  deviationsOf,
  dropOutsOf,
  type Offset,
  type Stretch,
  steeringOffset,
  stretchOf,
  WHEELS,
  WORDS,
} from './wheel-speed-reading.js';

const CP = 'common practice, no source';
const limit = (name: string, value: number, unit: string, comparison: '>' | '>=', about: string): LimitDefinition => ({
  name,
  value,
  unit,
  comparison,
  source: CP,
  about,
});
/** Standard uncertainty of a wheel's deviation, points: tyre sizes, pressures. Common practice, no source. */
const TYRES = 0.15;

interface Observation {
  readonly deviations: readonly number[];
  /** Seconds of recording time from the first to the last straight row; NaN without one. */
  readonly straight: Stretch;
  readonly dropOuts: readonly DropOut[];
  /** Seconds in which a drop-out could have been seen. */
  readonly slow: number;
  readonly offset: Offset | undefined;
  readonly hz: number;
  readonly certain: readonly { readonly certainty: Certainty }[];
}

export const wheelSpeed = defineRule({
  id: 'driveline.wheel-speed',
  system: 'driveline',
  question: 'Does a wheel speed sensor lie, and does the car run straight?',
  why: 'Brakes, stability control and the all-wheel coupling act on these four speeds; a crooked car tells of an accident or of worn suspension.',
  weight: 2,
  needs: {
    channels: ['wheelSpeed'],
    optional: ['steeringAngle', 'yawRate', 'vehicleSpeed'],
    derived: [SPEED, STRAIGHT, ACCELERATION, SAMPLES],
    conditions: ['straight driving for >= 20 s', 'pull-aways and stops through 3 to 15 km/h'],
  },
  limits: [
    limit('sensor-repair', 3, '%', '>', 'one wheel against the middle of the other three, straight ahead'),
    limit('drop-out-repair', 3, '1', '>=', 'times that one wheel reads nothing while the others roll at 3 to 15 km/h'),
    limit('offset-watch', 3, 'deg', '>', 'steering angle when the car does not turn'),
    limit('offset-repair', 8, 'deg', '>', 'steering angle when the car does not turn'),
  ],
  method:
    'Each wheel is compared with the middle of the other three in straight driving without brakes. A drop-out is a wheel that reads nothing for a quarter of a second while the others roll slowly. The steering offset is the angle at zero yaw rate, by a line through angle and curvature. ' +
    'The coast-down of a dragging brake is compared with earlier drives of the same car, which one recording does not hold.',
  decoys: [
    'road crown: about a degree of steering; it is part of the uncertainty, and the limit is beyond it',
    'bends: straight driving only, and the offset is taken at zero curvature',
    'wheels locked by hard braking: no drop-out',
    'the floor of a good sensor at 2 to 3 km/h: all wheels lose it together, and slower speeds do not count',
    'tyres of another size or pressure: they differ by less than the limit',
    'an offset of the yaw sensor: its value at rest is taken off',
    'wind and slope: neither changes how wheels roll against one another',
  ],
  cautions: ['Do not trust anti-lock brakes and stability control with a lying wheel sensor.'],
  proves:
    'Half a minute straight ahead above 40 km/h, and three gentle stops and pull-aways, with four wheel speeds, steering angle and yaw rate at 5 Hz or more.',
  observe(view) {
    const channels = WHEELS.map((w) => view.optional(`wheelSpeed.${w}` as 'wheelSpeed'));
    const [fl, fr, rl, rr] = channels;
    if (!fl || !fr || !rl || !rr)
      return refuse('the speeds of all four wheels are not recorded', { channels: ['wheelSpeed'] });
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const wheels = [fl, fr, rl, rr].map((channel) => samples.held(channel.id)!);
    const straight = view.derive(STRAIGHT);
    const speed = view.derive(SPEED);
    const acceleration = view.derive(ACCELERATION);
    const usable = isRefusal(straight) ? new Uint8Array(view.time.length) : straight.mask;
    const hz = Math.min(...[fl, fr, rl, rr].map((channel) => samples.hz(channel.id)));
    let slow = 0;
    for (let i = 0; i < usable.length; i++) {
      const a = wheels[0]![i]!;
      const b = wheels[1]![i]!;
      const c = wheels[2]![i]!;
      const d = wheels[3]![i]!;
      // The middle lies between the least and the most: a median is needed where one of these is slow.
      if (!(Math.max(a, b, c, d) < 3 || Math.min(a, b, c, d) > 15)) {
        const v = median([a, b, c, d]);
        if (v >= 3 && v <= 15) slow += samples.spacing;
      }
    }
    const steering = view.optional('steeringAngle');
    const yaw = view.optional('yawRate');
    let offset: Offset | undefined;
    if (steering && yaw && !steering.quality.constant && !yaw.quality.constant && !isRefusal(speed)) {
      const angle = samples.held(steering.id)!;
      const rate = samples.held(yaw.id)!;
      const rest: number[] = [];
      for (let i = 0; i < rate.length; i++) if (speed.values[i]! < speed.standing) rest.push(rate[i]!);
      offset = steeringOffset(
        angle,
        rate,
        rest.length * samples.spacing >= 2 ? median(rest) : 0,
        speed.values,
        usable,
        samples,
      );
    }
    return {
      deviations: deviationsOf(wheels, usable, samples),
      straight: stretchOf(usable, view.time),
      dropOuts: dropOutsOf(wheels, isRefusal(acceleration) ? undefined : acceleration.values, view.time),
      slow,
      offset: offset === undefined || Number.isNaN(offset.value) ? undefined : offset,
      hz,
      certain: [fl, fr, rl, rr],
    };
  },
  judge,
});

function judge(observed: readonly Observed<Observation>[], context: Context): Judgement {
  const limits = context.limits();
  const all = observed.map(({ observation }) => observation);
  const drops = observed.flatMap(({ input, observation }) => observation.dropOuts.map((drop) => ({ input, drop })));
  const channels = all.flatMap((o) => o.certain);
  const deviations = WHEELS.map((wheel, k) => ({ wheel, value: median(all.map((o) => o.deviations[k]!)) }));
  const measured = deviations.filter(({ value }) => !Number.isNaN(value));
  const odd = measured.reduce((a, b) => (Math.abs(b.value) > Math.abs(a.value) ? b : a), measured[0] ?? deviations[0]!);
  const counts = WHEELS.map((wheel) => ({ wheel, count: drops.filter(({ drop }) => drop.wheel === wheel).length }));
  const lossy = counts.reduce((a, b) => (b.count > a.count ? b : a));
  const offset = all
    .flatMap((o) => o.offset ?? [])
    .reduce<Offset | undefined>((a, b) => (a === undefined || b.samples > a.samples ? b : a), undefined);
  const slow = all.reduce((sum, o) => sum + o.slow, 0);
  const sensor = levelOf(Math.abs(odd.value), TYRES, limits, 'sensor');
  const lost: Severity | undefined = lossy.count >= limits['drop-out-repair']!.value ? 'repair' : undefined;
  const crooked = offset === undefined ? undefined : levelOf(Math.abs(offset.value), offset.u, limits, 'offset');
  const severity = worst([sensor, lost, crooked]);
  const base = {
    measures: {
      ...(measured.length > 0 ? { deviation: { value: Math.abs(odd.value), unit: '%' } } : {}),
      dropOuts: { value: lossy.count },
      ...(offset === undefined ? {} : { steeringOffset: { value: offset.value, unit: 'deg' } }),
    },
    events: [
      ...(sensor === undefined ? [] : deviationEvents(observed, odd.wheel, sensor, limitOf(limits, sensor, 'sensor'))),
      ...(crooked === undefined ? [] : offsetEvents(observed, crooked, limitOf(limits, crooked, 'offset'))),
      ...drops.map(({ input, drop }) => ({
        input,
        from: drop.from,
        to: drop.to,
        ...(lossy.wheel === drop.wheel && lossy.count >= limits['drop-out-repair']!.value
          ? { severity: 'repair' as const }
          : {}),
        wheel: WORDS[drop.wheel],
        speed: { value: drop.speed, unit: 'km/h' },
      })),
    ],
    limits: Object.values(limits),
  };
  const deviates = `the ${WORDS[odd.wheel]} wheel reads ${signed(odd.value)} % against the middle of the other three, straight ahead (limit ${figure(limits['sensor-repair']!.value)} %)`;
  const turned =
    offset === undefined ? '' : `the steering wheel stands at ${signed(offset.value)}° when the car runs straight`;
  if (severity !== undefined) {
    const said: string[] = [];
    if (sensor !== undefined) said.push(deviates);
    if (lost !== undefined) {
      const first = drops.find(({ drop }) => drop.wheel === lossy.wheel)!.drop;
      said.push(
        `the ${WORDS[lossy.wheel]} wheel lost its signal ${counted(lossy.count, 'time')} while the car rolled, first at ${clockTime(first.from)} at ${figure(first.speed)} km/h`,
      );
    }
    if (crooked !== undefined) said.push(`${turned} (limit ${figure(limitOf(limits, crooked, 'offset').value)}°)`);
    const text = listed(said);
    const margin =
      sensor !== undefined
        ? Math.abs(odd.value) - limits['sensor-repair']!.value
        : lost !== undefined
          ? 1
          : Math.abs(offset!.value) - limitOf(limits, crooked!, 'offset').value;
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin,
        uncertainty: sensor !== undefined ? TYRES : lost !== undefined ? 0.3 : offset!.u,
        samples: lost !== undefined ? lossy.count * 2 : 20,
        channels,
      }),
      summary: `${text[0]!.toUpperCase()}${text.slice(1)}.`,
      causes: [
        ...(sensor !== undefined || lost !== undefined
          ? ['wheel sensor or its tone ring dirty, loose or cracked', 'play of a wheel bearing', 'a tyre of wrong size']
          : []),
        ...(crooked !== undefined
          ? [
              'wheel alignment out, bent or worn suspension parts',
              'steering angle sensor not calibrated after work',
              'repaired accident damage',
            ]
          : []),
      ],
      advice: [
        ...(sensor !== undefined || lost !== undefined
          ? ['Look at sensor, ring and bearing of that wheel; compare tyre sizes.']
          : []),
        ...(crooked !== undefined ? ['Have the alignment measured, and ask for the record of repairs.'] : []),
      ],
    };
  }
  const missing: string[] = [];
  if (measured.length === 0) missing.push('straight driving for >= 20 s');
  if (slow < 10) missing.push('pull-aways and stops: >= 10 s at 3 to 15 km/h');
  if (Math.min(...all.map((o) => o.hz)) < 3) missing.push('wheelSpeed at >= 5 Hz');
  if (missing.length > 0)
    return {
      ...base,
      outcome: 'unproven',
      summary: `The wheel speeds agree as far as seen; missing: ${listed(missing)}.`,
      missing: { channels: [], conditions: missing },
    };
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: limits['sensor-repair']!.value - Math.abs(odd.value),
      uncertainty: TYRES,
      samples: Math.floor(slow),
      channels,
      doubts: [offset === undefined ? 0.8 : 1],
    }),
    summary: `Wheel speeds agree within ${figure(Math.abs(odd.value), 2)} %, ${lossy.count === 0 ? 'no signal was lost' : counted(lossy.count, 'drop-out')}${turned === '' ? '; steering offset not shown, because steering angle and yaw rate are not both recorded' : `; ${turned}`}.`,
  };
}
