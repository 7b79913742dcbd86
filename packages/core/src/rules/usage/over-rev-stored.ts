import { exceeds } from '../../derived/exceeds.js';
import { lastValue } from '../../derived/last-value.js';
import type { Certainty, Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Limit, Measure, Observed } from '../rule.js';
import { COUNTS, type StoredVerdict, withStored } from '../stored-value.js';
import { counted, figure, listed, signed } from '../wording.js';
import { judgeSeen, type OverRevObservation } from './over-rev-judgement.js';

/** Counters at their end are full or unsupported. */
const FULL = [255, 65535, 4294967295];
/** Half-width of a stored engine speed, rpm: kept in steps of up to 50 rpm. Common practice, no source. */
const STEP = 25;
/** A stored speed this many times the rev limit is a filler, not an engine speed. Common practice, no source. */
const FILLER = 1.5;
const REV_LIMIT = 'engine.revLimit in the vehicle profile';

interface RangeCount {
  /** NaN for a counter without a range. */
  readonly range: number;
  readonly count: number;
}

/** What the control unit of one recording has kept. */
export interface StoredOverRev {
  /** Highest engine speed, rpm; NaN when not read. */
  readonly peak: number;
  readonly counts: readonly RangeCount[];
  readonly certainties: readonly Certainty[];
}

/** One recording: what it showed, and what the control unit has kept. */
export interface OverRevRecord {
  /** Absent in a read-out. */
  readonly seen?: OverRevObservation;
  readonly stored: StoredOverRev;
}

/** Undefined when neither a highest engine speed nor a counter holds a value. */
export function storedOverRev(
  maximum: Channel | undefined,
  counters: readonly Channel[],
  revLimit: number | undefined,
): StoredOverRev | undefined {
  // Without a limit there is nothing to compare a speed with.
  const peak = revLimit === undefined ? Number.NaN : lastValue(maximum);
  const counts = counters.flatMap((channel): RangeCount[] => {
    const count = lastValue(channel);
    return Number.isNaN(count) ? [] : [{ range: Number(/\d+$/.exec(channel.id)?.[0] ?? Number.NaN), count }];
  });
  if (Number.isNaN(peak) && counts.length === 0) return undefined;
  const read = [...(Number.isNaN(peak) || maximum === undefined ? [] : [maximum]), ...counters];
  return { peak, counts, certainties: read.map(({ certainty }) => certainty) };
}

export const NOTHING_STORED: StoredOverRev = { peak: Number.NaN, counts: [], certainties: [] };

/** Weighs what the drives showed, and what the control unit has kept of the time before. */
export function judgeOverRev(observed: readonly Observed<OverRevRecord>[], context: Context): Judgement {
  const { revLimit } = context.vehicle.engine;
  const limits = context.limits();
  const stored = verdictOf(
    observed.map(({ observation }) => observation.stored),
    limits,
    revLimit,
  );
  const drives = observed.flatMap(({ input, observation: { seen } }) =>
    seen === undefined ? [] : [{ input, observation: seen }],
  );
  if (drives.length > 0) return withStored(judgeSeen(drives, context), stored);
  const missing =
    revLimit === undefined ? { channels: [], conditions: [REV_LIMIT] } : { channels: ['engineSpeed'], conditions: [] };
  const summary =
    'The values that the control unit has stored show no over-rev beyond the limits; how the engine is driven today was not recorded.';
  return withStored({ outcome: 'unproven', summary, missing, measures: {}, limits: Object.values(limits) }, stored);
}

function verdictOf(
  all: readonly StoredOverRev[],
  limits: Readonly<Record<string, Limit>>,
  revLimit: number | undefined,
): StoredVerdict {
  const notes: string[] = [];
  const measures: Record<string, Measure> = {};
  const channels = all.flatMap(({ certainties }) => certainties.map((certainty) => ({ certainty })));
  const counts = highestOf(all, notes);
  const ranges = counts.filter(({ range }) => !Number.isNaN(range));
  for (const { range, count } of counts)
    measures[Number.isNaN(range) ? 'storedCount' : `storedCount.range${range}`] = { value: count };
  const filled = counts.filter(({ count }) => count > 0);
  if (filled.length > 0)
    notes.push(
      `Stored over-rev counters: ${listed(filled.map(({ range, count }) => (Number.isNaN(range) ? `${count}` : `${count} in range ${range}`)))}. The lowest ranges begin at the limiter; what speed a range stands for is the maker's to say.`,
    );
  const peak = peakOf(all, revLimit, notes);
  if (revLimit !== undefined && !Number.isNaN(peak)) {
    measures.storedPeak = { value: peak, unit: 'rpm' };
    const uncertainty = Math.hypot(STEP, 0.001 * revLimit) / Math.sqrt(3);
    // No pedal is kept with it: up to the overshoot of a limiter it says nothing, beyond the highest limit nothing but wheels.
    for (const name of ['stop', 'watch'] as const) {
      const limit = limits[name]!;
      const rpm = revLimit * (1 + limit.value / 100);
      if (exceeds(peak, uncertainty, rpm, limit.comparison) !== 'beyond') continue;
      return {
        measures,
        notes,
        finding: {
          severity: COUNTS[name],
          confidence: confidenceOf({ margin: peak - rpm, uncertainty, samples: 4, channels, doubts: [0.8] }),
          summary: `The control unit has stored a highest engine speed of ${figure(peak, 0)} rpm, ${signed(100 * (peak / revLimit - 1))} % over the limit of ${figure(revLimit, 0)} rpm and beyond ${signed(limit.value)} %; when, and whether the wheels pushed it, is not known.`,
          causes: CAUSES,
          advice: ADVICE,
        },
      };
    }
  }
  const from = limits['stored-range']!;
  const high = ranges.filter(({ range, count }) => count > 0 && range >= from.value);
  if (high.length === 0) return { measures, notes };
  return {
    measures,
    notes,
    finding: {
      severity: 'watch',
      // Which speed a range stands for differs from maker to maker.
      confidence: confidenceOf({ margin: 1, uncertainty: 0, samples: 4, channels, doubts: [0.7] }),
      summary: `The control unit has counted ${listed(high.map(({ range, count }) => `${counted(count, 'over-rev')} in range ${range}`))}, where ranges from ${figure(from.value, 0)} on lie beyond the overshoot of a limiter; when is not known.`,
      causes: CAUSES,
      advice: ADVICE,
    },
  };
}

/** The counters of several read-outs only rise: the highest of each range counts. */
function highestOf(all: readonly StoredOverRev[], notes: string[]): readonly RangeCount[] {
  const best = new Map<number, number>();
  for (const { range, count } of all.flatMap(({ counts }) => counts)) {
    if (FULL.includes(count)) {
      notes.push(`A stored over-rev counter reads ${count}: full or not supported, left out.`);
    } else best.set(range, Math.max(best.get(range) ?? 0, count));
  }
  return [...best].map(([range, count]) => ({ range, count })).sort((a, b) => a.range - b.range);
}

function peakOf(all: readonly StoredOverRev[], revLimit: number | undefined, notes: string[]): number {
  let peak = Number.NaN;
  for (const each of all) {
    if (Number.isNaN(each.peak) || revLimit === undefined) continue;
    if (each.peak >= FILLER * revLimit)
      notes.push(`The stored highest engine speed of ${figure(each.peak, 0)} rpm is no engine speed: left out.`);
    else if (!(each.peak <= peak)) peak = each.peak;
  }
  return peak;
}

const CAUSES = [
  'downshift into too low a gear at some time in the past: the wheels pushed the engine past its limit',
  'rev limit raised in the engine software above the one in the profile',
  'rev limit of the profile not that of this engine',
];
const ADVICE = [
  'Read the over-rev counters by range with the engine hours of each last event: an event of long ago has been outlived.',
  'Ask who changed the engine software, and look up the rev limit of this engine as it was built.',
  'Have a leak-down (cylinder pressure loss) test done before buying: bent valves show there first.',
];
