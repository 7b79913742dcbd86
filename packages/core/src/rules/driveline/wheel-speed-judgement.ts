import type { CoastDown } from '../../derived/coast-down.js';
import { median } from '../../math/quantile.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, worst } from '../ladder.js';
import type { Context, Judgement, Observed, Severity } from '../rule.js';
import { clockTime, counted, figure, listed, nearWhenBeyond, signed } from '../wording.js';
import { COAST_DRIVES, coastOf } from './wheel-speed-coast.js';
import { deviationEvents, offsetEvents } from './wheel-speed-events.js';
import { type DropOut, type Offset, type Stretch, WHEELS, WORDS } from './wheel-speed-reading.js';

/** Fresh wheel speeds per second in which a drop-out shows. */
const NEEDED = 5;
/** Standard uncertainty of a wheel's deviation, points: tyre sizes, pressures. Common practice, no source. */
const TYRES = 0.15;

export interface WheelObservation {
  readonly deviations: readonly number[];
  /** Seconds of recording time from the first to the last straight row; NaN without one. */
  readonly straight: Stretch;
  readonly dropOuts: readonly DropOut[];
  /** Seconds in which a drop-out could have been seen. */
  readonly slow: number;
  readonly offset: Offset | undefined;
  readonly coast: CoastDown | undefined;
  readonly hz: number;
  readonly certain: readonly { readonly certainty: Certainty }[];
}

export function judgeWheels(observed: readonly Observed<WheelObservation>[], context: Context): Judgement {
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
  const coast = coastOf(observed, limits);
  const severity = worst([sensor, lost, crooked, coast.severity]);
  const base = {
    measures: {
      ...(measured.length > 0 ? { deviation: { value: Math.abs(odd.value), unit: '%' } } : {}),
      dropOuts: { value: lossy.count },
      ...(offset === undefined ? {} : { steeringOffset: { value: offset.value, unit: 'deg' } }),
      ...coast.measures,
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
      ...coast.events,
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
    if (coast.severity !== undefined) said.push(coast.said);
    const text = listed(said);
    const margin =
      sensor !== undefined
        ? Math.abs(odd.value) - limits['sensor-repair']!.value
        : lost !== undefined
          ? 1
          : crooked !== undefined
            ? Math.abs(offset!.value) - limitOf(limits, crooked, 'offset').value
            : coast.margin;
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin,
        uncertainty:
          sensor !== undefined ? TYRES : lost !== undefined ? 0.3 : crooked !== undefined ? offset!.u : coast.u,
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
        ...(coast.severity !== undefined
          ? [
              'a brake that does not release: seized caliper or guide, hand brake, hose',
              'a wheel bearing',
              'tyres with little pressure',
            ]
          : []),
      ],
      advice: [
        ...(sensor !== undefined || lost !== undefined
          ? ['Look at sensor, ring and bearing of that wheel; compare tyre sizes.']
          : []),
        ...(crooked !== undefined ? ['Have the alignment measured, and ask for the record of repairs.'] : []),
        ...(coast.severity !== undefined
          ? [
              'After a drive without braking, compare the warmth of the four wheels from outside, without touching discs; have each wheel turned by hand on rated stands.',
            ]
          : []),
      ],
    };
  }
  const missing: string[] = [];
  if (measured.length === 0) missing.push('straight driving for >= 20 s');
  if (slow < 10) missing.push('pull-aways and stops: >= 10 s at 3 to 15 km/h');
  if (!(Math.min(...all.map((o) => o.hz)) >= 0.95 * NEEDED)) missing.push(`wheelSpeed at >= ${NEEDED} Hz`);
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
    summary: `Wheel speeds agree within ${figure(Math.abs(odd.value), 2)} %${nearWhenBeyond(Math.abs(odd.value), limits['sensor-repair']!.value)}, ${lossy.count === 0 ? 'no signal was lost' : counted(lossy.count, 'drop-out')}${turned === '' ? '; steering offset not shown, because steering angle and yaw rate are not both recorded' : `; ${turned}`}${coast.said === '' ? `; a dragging brake is not shown: it takes ${COAST_DRIVES} drives with coasts in neutral` : `; ${coast.said}`}.`,
  };
}
