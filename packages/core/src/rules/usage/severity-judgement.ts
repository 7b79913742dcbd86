import { exceeds } from '../../derived/exceeds.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Limit, Measure, Observed } from '../rule.js';
import { clockTime, counted, figure } from '../wording.js';
import { BRAKE_RATE, type SeverityReading } from './severity-reading.js';

export interface SeverityObservation {
  readonly reading: SeverityReading;
  readonly lacking: readonly string[];
  readonly revLimitKnown: boolean;
  readonly channels: readonly { readonly certainty: Certainty }[];
}

/** Seconds of movement that a share is taken over (rule catalogue). */
export const LONG_ENOUGH = 600;

const CAUSES = [
  'driven on a circuit, or as on one',
  'mountain road or open motorway driven as fast as the car goes',
  'a test drive by somebody who wanted to know',
];
const ADVICE = [
  'Ask the seller for circuit days, and compare with oil, brake and tyre invoices.',
  'Look at brake discs (cracks, blue colour), pads, tyre shoulders and the heat marks around them.',
  'Change engine oil, transmission fluid and brake fluid early, and look for metal and clutch debris in them.',
  'Weigh what clutch slip, clutch adaptation and oil pressure show: that is where such use leaves its mark.',
];

/** Drives that are judged as one. */
interface Pool {
  readonly drives: readonly SeverityObservation[];
  readonly moving: number;
  readonly distance: number;
  /** %; NaN when a drive of it could not tell. */
  readonly share: number;
  readonly shareU: number;
  /** Share that the pedal alone allows, %. */
  readonly most: number;
  readonly perKm: number;
  /** The same with those that are within their uncertainty of the limit. */
  readonly perKmMost: number;
}

export function judgeSeverity(observed: readonly Observed<SeverityObservation>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.map(({ observation }) => observation);
  const long = all.filter(({ reading }) => reading.moving >= LONG_ENOUGH);
  const short = all.filter(({ reading }) => reading.moving < LONG_ENOUGH);
  const pools = [...long.map((each) => poolOf([each])), ...(short.length > 0 ? [poolOf(short)] : [])].filter(
    ({ moving }) => moving >= LONG_ENOUGH - 1e-6,
  );
  const everything = poolOf(all);
  const lead = pools.reduce<Pool | undefined>(
    (a, b) => (a === undefined || score(b, named) > score(a, named) ? b : a),
    undefined,
  );
  const shown = lead ?? everything;
  const measures: Record<string, Measure> = {
    ...(Number.isNaN(shown.share) ? {} : { share: { value: shown.share, unit: '%' } }),
    ...(Number.isNaN(shown.perKm) ? {} : { brakingsPerKm: { value: shown.perKm } }),
    brakings: { value: shown.drives.reduce((sum, { reading }) => sum + sureOf(reading), 0) },
    moving: { value: shown.moving, unit: 's' },
    distance: { value: shown.distance, unit: 'km' },
  };
  const base = {
    measures,
    events: observed.flatMap(({ input, observation }) =>
      observation.reading.brakings
        .filter(({ sure }) => sure)
        .map(({ from, to, deceleration, speed }) => ({
          input,
          from,
          to,
          peak: { value: deceleration, unit: 'm/s2' },
          speed: { value: speed, unit: 'km/h' },
        })),
    ),
    limits: Object.values(named),
    notes: all.some(({ revLimitKnown }) => !revLimitKnown)
      ? [
          'No rev limit in the vehicle profile: full load at high revs is judged by the pedal alone, as the most it can have been.',
        ]
      : [],
  };
  const open = (summary: string, channels: readonly string[], conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels: [...new Set(channels)], conditions: [...new Set(conditions)] },
  });
  if (lead === undefined)
    return open(
      `The car moved for ${figure(everything.moving / 60)} min only.`,
      [],
      [`driving for >= ${LONG_ENOUGH / 60} min`],
    );
  const verdicts = pools.map((pool) => ({ pool, verdict: verdictOf(pool, named) }));
  const found = verdicts.filter(({ verdict }) => verdict === 'finding');
  const channels = lead.drives.flatMap((each) => each.channels);
  if (found.length > 0) {
    const { pool } = found.reduce((a, b) => (b.pool.share > a.pool.share ? b : a));
    const hardest = pool.drives
      .flatMap(({ reading }) => reading.brakings)
      .reduce((a, b) => (b.deceleration > a.deceleration ? b : a));
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: pool.share - named.watch!.value,
        uncertainty: pool.shareU,
        samples: pool.drives.reduce((sum, { reading }) => sum + reading.brakings.length, 0),
        channels,
      }),
      summary: `Full load at high revs for ${figure(pool.share)} % of ${figure(pool.moving / 60, 0)} min (watch from ${figure(named.watch!.value)} %) and ${figure(pool.perKm)} hard brakings per km (watch from ${figure(named.brakings!.value)}), the hardest ${figure(hardest.deceleration)} m/s² at ${clockTime(hardest.from)}: driven as on a circuit.`,
      causes: CAUSES,
      advice: ADVICE,
    };
  }
  const doubtful = verdicts.find(({ verdict }) => verdict === 'open');
  if (doubtful !== undefined) return open(...missingOf(doubtful.pool));
  const near = verdicts.some(({ verdict }) => verdict === 'near');
  const by = lead.most < named.watch!.value ? lead.most : lead.share;
  const clearByLoad = by < named.watch!.value;
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: clearByLoad ? named.watch!.value - by : named.brakings!.value - lead.perKmMost,
      uncertainty: clearByLoad ? lead.shareU : 0,
      samples: lead.moving,
      channels,
      doubts: [near ? 0.6 : 1],
    }),
    summary: clearSummary(lead, named, near),
  };
}

function poolOf(drives: readonly SeverityObservation[]): Pool {
  const sum = (of: (reading: SeverityReading) => number): number =>
    drives.reduce((total, { reading }) => total + of(reading), 0);
  const moving = sum((each) => each.moving);
  const distance = sum((each) => each.distance);
  const fast = drives.every(({ reading }) => reading.brakeHz >= 0.95 * BRAKE_RATE);
  const known = drives.every(({ reading }) => reading.pedalKnown);
  return {
    drives,
    moving,
    distance,
    share: (100 * sum((each) => each.hard)) / moving,
    shareU: (100 * Math.sqrt(sum((each) => each.uncertainty ** 2))) / moving,
    most: known ? (100 * sum((each) => each.floored)) / moving : Number.NaN,
    perKm: fast ? sum(sureOf) / distance : Number.NaN,
    perKmMost: sum((each) => each.possible) / distance,
  };
}

function sureOf(reading: SeverityReading): number {
  return reading.brakings.filter(({ sure }) => sure).length;
}

/** How near a pool is to both limits at once: the weaker sign decides. */
function score(pool: Pool, named: Readonly<Record<string, Limit>>): number {
  const load = (Number.isNaN(pool.share) ? 100 : pool.share) / named.watch!.value;
  const brakes = (Number.isNaN(pool.perKm) ? 10 : pool.perKm) / named.brakings!.value;
  return Math.min(load, brakes);
}

function verdictOf(pool: Pool, named: Readonly<Record<string, Limit>>): 'finding' | 'near' | 'clear' | 'open' {
  const { watch, brakings } = named;
  const told = (value: number, u: number, limit: Limit): 'beyond' | 'near' | 'within' | undefined =>
    Number.isNaN(value) ? undefined : exceeds(value, u, limit.value, limit.comparison);
  const most = told(pool.most, pool.shareU, watch!);
  const load = told(pool.share, pool.shareU, watch!);
  const brakes = told(pool.perKm, 0, brakings!);
  const brakesMost = told(pool.perKmMost, 0, brakings!);
  // Either sign below its limit clears, whatever is not known of the other.
  if (
    brakesMost === 'within' ||
    most === 'within' ||
    (load === 'within' && pool.drives.every(({ reading }) => reading.pedalKnown))
  )
    return 'clear';
  if (load === 'beyond' && brakes === 'beyond') return 'finding';
  if (load === undefined || brakes === undefined || load === 'within') return 'open';
  return 'near';
}

function missingOf(pool: Pool): [string, readonly string[], readonly string[]] {
  const channels = pool.drives.flatMap(({ lacking }) => lacking);
  const conditions: string[] = [];
  if (pool.drives.some(({ revLimitKnown }) => !revLimitKnown))
    conditions.push('engine.revLimit in the vehicle profile');
  if (Number.isNaN(pool.perKm)) conditions.push(`vehicleSpeed at >= ${BRAKE_RATE} Hz`);
  if (channels.length === 0 && pool.drives.some(({ reading }) => !reading.pedalKnown))
    conditions.push('accelerator pressed to the floor once');
  const known = Number.isNaN(pool.perKm)
    ? 'Brakings could not be counted'
    : `${figure(pool.perKm)} hard brakings per km, but full load at high revs could not be told`;
  return [`${known} in ${counted(pool.drives.length, 'drive')}.`, channels, conditions];
}

function clearSummary(pool: Pool, named: Readonly<Record<string, Limit>>, near: boolean): string {
  const load = Number.isNaN(pool.share)
    ? Number.isNaN(pool.most)
      ? undefined
      : `full pedal for ${figure(pool.most)} % of ${figure(pool.moving / 60, 0)} min`
    : `full load at high revs for ${figure(pool.share)} % of ${figure(pool.moving / 60, 0)} min (limit ${figure(named.watch!.value)} %)`;
  const brakes = Number.isNaN(pool.perKm)
    ? pool.perKmMost < named.brakings!.value
      ? `at most ${figure(pool.perKmMost)} hard brakings per km (limit ${figure(named.brakings!.value)})`
      : undefined
    : `${figure(pool.perKm)} hard brakings per km (limit ${figure(named.brakings!.value)})`;
  const text = [load, brakes].filter((each) => each !== undefined).join(', ');
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}${near ? ': near the limit' : ''}.`;
}
