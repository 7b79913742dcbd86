import { exceeds } from '../../derived/exceeds.js';
import { confidenceOf } from '../confidence.js';
import { rankOf } from '../ladder.js';
import type { Context, Judgement, Limit, Measure, Observed, Severity } from '../rule.js';
import { clockTime, figure } from '../wording.js';
import { isLean, type Mixture } from './rail-pressure-mixture.js';
import type { Deviation, Side, SideReading } from './rail-pressure-reading.js';

export interface RailObservation {
  readonly sides: readonly SideReading[];
  /** Lambda over its target while each side was low at full load; undefined when it does not tell. */
  readonly lean: readonly (Mixture | undefined)[];
  /** Share by which the feed was down when the rail fell; NaN when not known. */
  readonly feedBefore: number;
  /** Seconds of full load that were judged. */
  readonly fullLoad: number;
  readonly injection: 'port' | 'direct' | 'both' | undefined;
}

/** Full load (s) that it takes to say that the pressure holds; and fresh values a second for half a second. */
const ENOUGH = 2;
const RATE = 6;
/** A feed this far down (share) when the rail falls is the reason. Common practice, no source. */
const FEED_WEAK = 0.06;
const PULL = 'full-load pull of >= 3 s, where lawful and safe';
const NAME: Readonly<Record<Side, string>> = { rail: 'Rail pressure', feed: 'Feed pressure' };

interface Found {
  readonly input: number;
  readonly side: Side;
  readonly direction: 'below' | 'above';
  readonly deviation: Deviation;
  readonly severity: Severity;
  readonly limit: Limit;
  readonly lean: Mixture | undefined;
  readonly feedBefore: number;
  readonly reading: SideReading;
}

export function judgeRailPressure(observed: readonly Observed<RailObservation>[], context: Context): Judgement {
  const limits = context.limits();
  const seen = observed.map(({ observation }) => observation);
  const readings = seen.flatMap(({ sides }) => sides);
  const found = observed.flatMap((each) => foundIn(each, limits));
  found.sort((a, b) => rankOf(b.severity) - rankOf(a.severity) || b.deviation.value - a.deviation.value);
  const base = {
    measures: measuresOf(seen),
    limits: Object.values(limits),
    notes: [
      ...new Set(
        readings.flatMap(({ notes, refused }) => [...notes, ...(refused === undefined ? [] : [`${refused}.`])]),
      ),
    ],
    events: found.map(({ input, deviation, severity, side, direction }) => ({
      input,
      from: deviation.from,
      to: deviation.from + 0.5,
      severity,
      peak: { value: 100 * deviation.value * (direction === 'below' ? -1 : 1), unit: '%' },
      pressure: { value: deviation.actual, unit: 'kPa' },
      target: { value: deviation.target, unit: 'kPa' },
      side,
    })),
  };
  const [worst] = found;
  if (worst !== undefined) {
    const { deviation, limit, reading, severity } = worst;
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: 100 * deviation.value - limit.value,
        uncertainty: 100 * deviation.u,
        samples: reading.samples,
        channels: reading.channels,
      }),
      summary: summaryOf(worst),
      ...reasonsOf(worst),
    };
  }
  return calm(seen, readings, limits, base);
}

function foundIn({ input, observation }: Observed<RailObservation>, limits: Readonly<Record<string, Limit>>): Found[] {
  return observation.sides.flatMap((reading, k): Found[] => {
    const lean = observation.lean[k];
    const base = { input, side: reading.side, lean, feedBefore: observation.feedBefore, reading };
    const beyond = (deviation: Deviation, limit: Limit): boolean =>
      exceeds(100 * deviation.value, 100 * deviation.u, limit.value, limit.comparison) === 'beyond';
    const { below, above } = reading;
    const result: Found[] = [];
    const repair = limits['below-repair']!;
    const watch = limits['below-watch']!;
    if (below !== undefined && beyond(below, repair)) {
      const severity = isLean(lean, limits.lean!) ? 'stop' : 'repair';
      result.push({ ...base, direction: 'below', deviation: below, severity, limit: repair });
    } else if (below !== undefined && beyond(below, watch)) {
      result.push({ ...base, direction: 'below', deviation: below, severity: 'watch', limit: watch });
    }
    const high = limits['above-watch']!;
    if (above !== undefined && beyond(above, high))
      result.push({ ...base, direction: 'above', deviation: above, severity: 'watch', limit: high });
    return result;
  });
}

function calm(
  seen: readonly RailObservation[],
  readings: readonly SideReading[],
  limits: Readonly<Record<string, Limit>>,
  base: Pick<Judgement, 'measures'> & object,
): Judgement {
  const open = (summary: string, channels: readonly string[], conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels, conditions },
  });
  const usable = readings.filter(({ refused, below }) => refused === undefined && below !== undefined);
  const port = seen.some(({ injection }) => injection === 'port');
  const leading = usable.filter(({ side }) => side === 'rail' || port);
  const worst = usable.reduce<SideReading | undefined>(
    (a, b) => (a === undefined || b.below!.value > a.below!.value ? b : a),
    undefined,
  );
  if (worst === undefined)
    return open(
      readings.some(({ refused }) => refused !== undefined)
        ? 'Fuel pressure and its target cannot be compared.'
        : 'The target of the fuel pressure never rested long enough to compare.',
      readings.some(({ refused }) => refused !== undefined) ? ['fuelRailPressure', 'fuelRailPressureTarget'] : [],
      [PULL],
    );
  const told = usable.map(
    ({ side, below }) =>
      `${NAME[side].toLowerCase()} at most ${figure(Math.max(0, 100 * below!.value), 0)} % below its target`,
  );
  if (leading.length === 0)
    return open(
      `Only the feed could be judged: ${told.join(', ')}.`,
      ['fuelRailPressure', 'fuelRailPressureTarget'],
      [],
    );
  if (Math.max(...leading.map(({ loaded }) => loaded)) < ENOUGH)
    return open(`${sentence(told)}, but full load was not shown.`, [], [PULL]);
  const hz = Math.max(...leading.map((each) => each.hz));
  if (hz < 0.95 * RATE)
    return open(
      `Fuel pressure is recorded ${hz.toPrecision(2)} times a second: a fall of half a second would not be seen.`,
      [],
      [`fuelRailPressure at >= ${RATE} Hz`],
    );
  const watch = limits['below-watch']!;
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: watch.value - 100 * worst.below!.value,
      uncertainty: 100 * worst.below!.u,
      samples: Math.round(worst.seconds * Math.min(5, worst.hz)),
      channels: worst.channels,
    }),
    summary: `${sentence(told)} (watch beyond ${figure(watch.value)} %), full load included.`,
  };
}

function sentence(parts: readonly string[]): string {
  const text = parts.join(', ');
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
}

function summaryOf({ side, direction, deviation, limit, lean, severity, feedBefore }: Found): string {
  const mixture =
    severity === 'stop' && lean !== undefined ? `, and lambda is ${figure(lean.over, 2)} over its target` : '';
  const order =
    side === 'rail' && direction === 'below' && !Number.isNaN(feedBefore)
      ? feedBefore >= FEED_WEAK
        ? ` The feed had fallen by ${figure(100 * feedBefore, 0)} % before.`
        : ' The feed held.'
      : '';
  return `${NAME[side]} is ${figure(100 * deviation.value, 0)} % ${direction} its target at ${clockTime(deviation.from)} (${figure(deviation.actual / 100)} bar, ${figure(deviation.target / 100)} wanted; limit ${figure(limit.value)} %)${mixture}.${order}`;
}

const TANK_PUMP = [
  'tank pump worn, or short of voltage: supply, relay, earth, control module',
  'fuel filter or pick-up strainer clogged',
  'feed line pinched, or feed regulator leaking back',
];
const HIGH_PUMP = [
  'high-pressure pump at its end: worn cam follower or plunger, or too small for the power',
  'volume control valve of the pump',
  'rail relief valve or an injector leaking',
];

/** Causes, likely first, and tests, cheapest first. Common practice, no source. */
function reasonsOf(worst: Found): { causes: string[]; advice: string[] } {
  const stop =
    worst.severity === 'stop' || worst.severity === 'repair' ? ['No full load until the pressure holds.'] : [];
  if (worst.direction === 'above')
    return {
      causes: ['pressure regulator or volume control valve sticks', 'return line blocked', 'sensor reads high'],
      advice: [
        'Compare with the fuel trims: rich alike in every regime agrees with too much pressure.',
        'Compare the sensor with a gauge at key-on, engine off; then renew the valve.',
      ],
    };
  const feed = worst.side === 'feed' || worst.feedBefore >= FEED_WEAK;
  const unknown = worst.side === 'rail' && Number.isNaN(worst.feedBefore);
  return {
    causes: feed ? TANK_PUMP : unknown ? [...TANK_PUMP.slice(0, 2), ...HIGH_PUMP] : HIGH_PUMP,
    advice: [
      ...stop,
      ...(unknown ? ['Record the feed pressure in the same pull: which of the two falls first names the pump.'] : []),
      ...(feed || unknown
        ? ['Measure supply voltage and earth of the tank pump under load; renew the filter; then measure its delivery.']
        : []),
      ...(feed
        ? []
        : [
            'Look at the cam follower and the control valve of the high-pressure pump; measure the fall of the rail pressure after switching off.',
          ]),
    ],
  };
}

function measuresOf(seen: readonly RailObservation[]): Record<string, Measure> {
  const measures: Record<string, Measure> = {};
  const most = (values: readonly number[]): number =>
    values.reduce((a, b) => (b > a || Number.isNaN(a) ? b : a), Number.NaN);
  for (const side of ['rail', 'feed'] as const) {
    for (const direction of ['below', 'above'] as const) {
      const own = seen.flatMap(({ sides }) => sides.filter((each) => each.side === side));
      const value = most(own.map((each) => each[direction]?.value ?? Number.NaN));
      if (!Number.isNaN(value)) measures[`${side}.${direction}`] = { value: 100 * value, unit: '%' };
    }
  }
  const before = most(seen.map(({ feedBefore }) => feedBefore));
  if (!Number.isNaN(before)) measures.feedBefore = { value: 100 * before, unit: '%' };
  return measures;
}
