import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { rankOf, worst } from '../ladder.js';
import type { Context, Judgement, Limit, Observed, RuleEvent, Severity } from '../rule.js';
import { clockTime, counted, figure, nearWhenBeyond } from '../wording.js';
import { REPEATED, type SlipEvent, type SlipReading } from './clutch-slip-reading.js';

export type Certain = Pick<Channel, 'certainty'>;

export interface SlipObservation extends SlipReading {
  readonly basis: 'shafts' | 'wheels';
  readonly source: string;
  readonly hz: number;
  readonly doubtful: boolean;
  readonly certain: readonly Certain[];
}

/** Seconds under load, settled, before "the clutches hold" says anything; half of them would be one short pull. */
const ENOUGH = 4;

/** Seconds under load between two gears from which "the clutches hold" is open. Common practice, no source. */
const STRAY = 1;

interface Placed {
  readonly input: number;
  readonly event: SlipEvent;
  /** Slip of the same drive at light load (%), NaN when not seen. */
  readonly light: number;
}

export function judgeSlip(observed: readonly Observed<SlipObservation>[], context: Context): Judgement {
  const all = observed.map(({ observation }) => observation);
  // Shafts see more than wheels: where both kinds of drive exist, shafts decide.
  const basis = all.some((o) => o.basis === 'shafts') ? 'shafts' : 'wheels';
  const used = observed.filter(({ observation }) => observation.basis === basis);
  const limits = context.limits({ basis });
  const events: Placed[] = used.flatMap(({ input, observation }) =>
    observation.events.map((event) => ({ input, event, light: observation.light })),
  );
  const repeated = events.filter(({ event }) => rankOf(event.severity) >= rankOf('repair')).length >= REPEATED;
  const graded = (event: SlipEvent): Severity => (event.severity === 'repair' && !repeated ? 'watch' : event.severity);
  const severity = worst(events.map(({ event }) => graded(event)));
  const loaded = used.reduce((total, { observation }) => total + observation.loaded, 0);
  const high = used.reduce((total, { observation }) => total + observation.high, 0);
  const samples = used.reduce((total, { observation }) => total + observation.samples, 0);
  const stray = used.reduce((total, { observation }) => total + observation.stray, 0);
  const slips = used.map(({ observation }) => observation.slip).filter((x) => !Number.isNaN(x));
  const top = used.reduce((a, b) =>
    b.observation.slip > a.observation.slip || Number.isNaN(a.observation.slip) ? b : a,
  );
  const measures = {
    ...(slips.length > 0 ? { slip: { value: Math.max(...slips), unit: '%' } } : {}),
    ...(Number.isNaN(top.observation.u) ? {} : { slipUncertainty: { value: top.observation.u, unit: '%' } }),
    events: { value: events.length },
    loaded: { value: loaded, unit: 's' },
    ...(stray > 0 ? { stray: { value: stray, unit: 's' } } : {}),
  };
  const base = {
    measures,
    events: events.map((placed) => eventOf(placed, graded(placed.event), limits)),
    limits: Object.values(limits),
    notes: [`Measured from ${top.observation.source}.`],
  };
  const channels = used.flatMap(({ observation }) => observation.certain);
  if (severity !== undefined) {
    const doubtful = used.some(({ observation }) => observation.doubtful);
    if (doubtful)
      return {
        ...base,
        outcome: 'unproven',
        summary: `The engine runs ${figure(Math.max(...slips))} % ahead of the wheels under load; with the kind of transmission unknown that may be a slipping clutch or an open converter.`,
        missing: { channels: ['inputShaftSpeed'], conditions: ['kind of transmission in the vehicle profile'] },
      };
    const worstEvent = events
      .filter(({ event }) => graded(event) === severity)
      .reduce((a, b) => (b.event.slip > a.event.slip ? b : a)).event;
    const limit = limits[severity]!;
    const count = events.length;
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: worstEvent.slip - limit.value,
        uncertainty: worstEvent.u,
        samples: worstEvent.samples,
        channels,
        doubts: [basis === 'wheels' ? 0.85 : 1, count >= REPEATED ? 1 : 0.85],
      }),
      summary: `${which(events)} slipped ${figure(worstEvent.slip)}${doubt(worstEvent.u)} % (${figure(worstEvent.speed, 0)} rpm of ${figure((100 * worstEvent.speed) / worstEvent.slip, 0)} rpm) under load in gear ${worstEvent.gear} at ${clockTime(worstEvent.from)}, limit ${figure(limit.value)} %; ${counted(count, 'event')}.`,
      causes: [
        'worn or glazed clutch facings',
        'clutch pressure too low: leaking seal, worn pump or valve, wrong adaptation',
        'more engine torque than the clutch was made for after a power increase',
        'wrong or burnt transmission fluid',
      ],
      advice: [
        'Do no more full-load runs; smell and look at the transmission fluid.',
        'Read clutch adaptation values and transmission codes.',
        'Have the clutch pressures measured and the adaptation run relearned before the clutches are replaced.',
      ],
    };
  }
  const told =
    slips.length > 0
      ? `Highest slip held for a second under load: ${figure(Math.max(...slips))}${doubt(top.observation.u)} %`
      : '';
  if (loaded < ENOUGH || slips.length === 0) {
    return {
      ...base,
      outcome: 'unproven',
      summary:
        loaded < ENOUGH
          ? `The drive holds ${figure(loaded)} s of settled load only, ${ENOUGH} s are needed: that the clutches hold is not shown.`
          : `The drive holds ${figure(loaded)} s of settled load, but nowhere a whole second in one piece: that the clutches hold is not shown.`,
      missing: {
        channels: [],
        conditions: [`>= ${ENOUGH} s under load in a settled gear${basis === 'wheels' ? ' from third upwards' : ''}`],
      },
    };
  }
  if (stray >= STRAY) {
    const first = used.find(({ observation }) => observation.stray > 0)!.observation;
    return {
      ...base,
      outcome: 'unproven',
      summary: `${told}, but for ${figure(stray)} s under load engine and road speed ran at a steady ratio between two gears, first at ${clockTime(first.strayAt)}: a slipping clutch looks like that, and so does a gear whose ratio could not be learned.`,
      missing: {
        channels: ['gear'],
        conditions: ['overrun or gentle driving of >= 5 s in each gear that is used under load'],
      },
    };
  }
  const limit = limits.watch!;
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: limit.value - Math.max(...slips),
      uncertainty: Number.isNaN(top.observation.u) ? limit.value / 2 : top.observation.u,
      samples,
      channels,
      doubts: [basis === 'wheels' ? 0.85 : 1, high >= 2 ? 1 : 0.75],
    }),
    summary: `${told} (watch beyond ${figure(limit.value)} %), over ${figure(loaded, 0)} s under load${high >= 2 ? ', full load included' : '; full load was not asked for'}${nearWhenBeyond(Math.max(...slips), limit.value)}.`,
  };
}

/** The bound that a finding is held against lies this far from the slip; nothing where that rounds away. @param u standard uncertainty, points */
function doubt(u: number): string {
  const half = ONE_SIDED_95 * u;
  return half >= 0.005 ? ` ± ${figure(half, half < 0.095 ? 2 : 1)}` : '';
}

/** Which clutch it is, where that is known. */
function which(events: readonly Placed[]): string {
  const clutches = new Set(events.map(({ event }) => event.clutch));
  const [only] = clutches;
  if (clutches.size > 1) return 'Both clutches';
  if (only === 1 || only === 2) return `Clutch ${only}`;
  return 'The clutch';
}

/** When, which gear and clutch, how far it slipped, what this car slips at light load, and the limit that it passed. */
function eventOf(
  { input, event, light }: Placed,
  severity: Severity,
  limits: Readonly<Record<string, Limit>>,
): RuleEvent {
  const { from, to, slip, u, speed, gear, clutch } = event;
  const limit = limits[severity];
  return {
    input,
    from,
    to,
    severity,
    peak: { value: slip, unit: '%' },
    uncertainty: { value: u, unit: '%' },
    speed: { value: speed, unit: 'rpm' },
    gear: { value: gear },
    ...(clutch > 0 ? { clutch: { value: clutch } } : {}),
    ...(Number.isNaN(light) ? {} : { usualAtLightLoad: { value: light, unit: '%' } }),
    ...(limit === undefined ? {} : { limit: { value: limit.value, unit: limit.unit } }),
  };
}
