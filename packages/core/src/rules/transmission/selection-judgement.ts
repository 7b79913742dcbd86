import type { DropOut, Selection, Selections } from '../../derived/selections.js';
import { median } from '../../math/quantile.js';
import { confidenceOf } from '../confidence.js';
import { rankOf } from '../ladder.js';
import type { Context, Judgement, Limit, Measure, Observed, RuleEvent, Severity } from '../rule.js';
import { clockTime, counted, figure, nearWhenBeyond } from '../wording.js';
import type { FirstGears } from './selection-starts.js';

export interface SelectionObservation {
  readonly selections: Selections;
  readonly starts: FirstGears;
  /** The recording begins with everything cold: the car had a long rest. */
  readonly rested: boolean;
  readonly channels: readonly { readonly certainty: 'certain' | 'likely' | 'inferred' | 'user' }[];
}

/** Fluid below this (degC) engages slowly by design (rule catalogue). */
export const COLD = 20;
/** Selections into one direction that make a median (rule catalogue). */
export const LEAST = 3;

/** Fresh values of selector and gear per second in which the shortest drop-out that counts shows twice. */
export const NEEDED = 4;

interface Timed extends Selection {
  readonly input: number;
}
type Dropped = Pick<DropOut, 'to' | 'droppedOut' | 'droppedAt'> & { readonly input: number };
interface Found {
  readonly severity: Severity;
  readonly summary: string;
  readonly margin: number;
  readonly uncertainty: number;
  readonly samples: number;
  readonly events: readonly RuleEvent[];
  readonly causes: readonly string[];
}

export function judgeSelection(observed: readonly Observed<SelectionObservation>[], context: Context): Judgement {
  const limits = context.limits();
  const all = observed.flatMap(({ input, observation }) =>
    observation.selections.preselected
      ? []
      : observation.selections.events.map((event): Timed => ({ ...event, input })),
  );
  const counting = all.filter(({ fluid, braked }) => braked && !(fluid < COLD));
  const drive = counting.filter(({ to }) => to === 'D');
  const reverse = counting.filter(({ to }) => to === 'R');
  const drops = observed.flatMap(({ input, observation }) =>
    observation.selections.drops.filter(({ fluid }) => !(fluid < COLD)).map((drop) => ({ ...drop, input })),
  );
  const longestFirst = [...counting].sort((a, b) => b.droppedOut - a.droppedOut);
  const spacing = Math.max(...observed.map(({ observation }) => observation.selections.spacing));
  const found = [
    ...[drive, reverse].flatMap((events) => delayed(events, limits)),
    ...longestFirst.flatMap((event) => dropped(event, limits, spacing)),
    ...atHalts(drops, limits, spacing),
    ...observed.flatMap(({ input, observation }) => secondForFirst(input, observation.starts, limits)),
    ...observed.flatMap(({ input, observation }) => restOf(input, observation, counting, limits)),
  ];
  const channels = observed.flatMap(({ observation }) => observation.channels);
  const base = {
    measures: measuresOf(drive, reverse, [...counting, ...drops]),
    limits: Object.values(limits),
    notes: notesOf(observed, all, counting),
  };
  const worst = found.reduce<Found | undefined>(
    (a, b) => (a === undefined || rankOf(b.severity) > rankOf(a.severity) ? b : a),
    undefined,
  );
  if (worst !== undefined) {
    return {
      ...base,
      outcome: 'finding',
      severity: worst.severity,
      confidence: confidenceOf({ ...worst, channels }),
      summary: worst.summary,
      events: found.flatMap(({ events }) => events),
      causes: worst.causes,
      advice: [
        'Check fluid level and condition at the temperature the maker states.',
        'Repeat the selector exercise with warm fluid, brake pressed, clear space front and rear.',
        'Read out stored codes and clutch adaptations; clear none.',
      ],
    };
  }
  const wide = [...drive, ...reverse].some(({ low, high }) => high - low > 1.2 && high > limits.watch!.value);
  if (drive.length < LEAST || reverse.length < LEAST || wide) {
    const conditions = wide
      ? [`selector and gear at >= ${NEEDED} Hz`]
      : [`>= ${LEAST} selections each of D and R at standstill, brake pressed, fluid >= ${COLD} °C`];
    return {
      ...base,
      outcome: 'unproven',
      summary: `${counted(drive.length, 'selection')} of D and ${reverse.length} of R at standstill could be timed; ${LEAST} of each are needed.`,
      missing: { channels: [], conditions },
    };
  }
  const timed = `D engaged within ${figure(middle(drive), 1)} s and R within ${figure(middle(reverse), 1)} s of the selector (median of ${drive.length} and ${reverse.length}; limit ${figure(limits.watch!.value)} s)`;
  if (!(spacing <= 1 / (0.95 * NEEDED))) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `${timed}; whether it let go again for ${figure(limits['drop-repair']!.value)} s does not show in ${figure(1 / spacing, 1)} values a second.`,
      missing: { channels: [], conditions: [`selector and gear at >= ${NEEDED} Hz`] },
    };
  }
  const slowest = Math.max(middle(drive), middle(reverse));
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: limits.watch!.value - slowest,
      uncertainty: Math.max(0.05, spacing / Math.sqrt(12)),
      samples: drive.length + reverse.length,
      channels,
    }),
    summary: `${timed}${nearWhenBeyond(slowest, limits.watch!.value)}.`,
  };
}

/** Middle of the bounds; one that never came counts with the time it was waited for. */
function delayOf({ low, high }: Selection): number {
  return Number.isFinite(high) ? (low + high) / 2 : low;
}

function middle(events: readonly Selection[]): number {
  return median(events.map(delayOf));
}

function delayed(events: readonly Timed[], limits: Readonly<Record<string, Limit>>): Found[] {
  if (events.length < LEAST) return [];
  // The median of the lower bounds: slower than that at least half of them were.
  const low = median(events.map((event) => event.low));
  const severity = low > limits.repair!.value ? 'repair' : low > limits.watch!.value ? 'watch' : undefined;
  if (severity === undefined) return [];
  const limit = limits[severity]!;
  const { to } = events[0]!;
  return [
    {
      severity,
      margin: middle(events) - limit.value,
      uncertainty: Math.max(0.05, (middle(events) - low) / Math.sqrt(3)),
      samples: events.length,
      summary: `${to} takes ${figure(middle(events), 1)} s from selector to engaged gear (median of ${events.length}, first at ${clockTime(events[0]!.at)}), beyond the ${severity} limit of ${figure(limit.value)} s.`,
      events: events.map((event) => eventOf(event, severity, middle(events), limit.value)),
      causes: [
        'fluid level low or fluid aged',
        'slow fill of the clutch or brake of that gear: leak, valve or seal',
        'selector fork or its sensor slow',
      ],
    },
  ];
}

/** Of drop-outs at halts this many are a fault; one alone may be decoupling that ended by itself. Common practice, no source. */
const AGAIN = 2;

/** Drop-outs at halts that nobody made a selector test of. */
function atHalts(drops: readonly Dropped[], limits: Readonly<Record<string, Limit>>, spacing: number): Found[] {
  const found = [...drops]
    .sort((a, b) => b.droppedOut - a.droppedOut)
    .flatMap((drop) => dropped(drop, limits, spacing));
  const told = found.map((each) => ({
    ...each,
    summary: `${each.summary.slice(0, -1)}; ${counted(found.length, 'drop-out')} at halts with the brake held.`,
  }));
  if (found.length >= AGAIN) return told;
  return told.map((each) => ({
    ...each,
    severity: 'watch' as const,
    events: each.events.map((event) => ({ ...event, severity: 'watch' as const })),
  }));
}

function dropped(event: Dropped, limits: Readonly<Record<string, Limit>>, spacing: number): Found[] {
  const limit = event.droppedOut >= limits['drop-stop']!.value ? limits['drop-stop']! : limits['drop-repair']!;
  // At least two rows must show it; one row is a glitch of the bus.
  if (!(event.droppedOut >= limit.value && event.droppedOut >= spacing)) return [];
  const severity = limit === limits['drop-stop'] ? 'stop' : 'repair';
  return [
    {
      severity,
      margin: event.droppedOut + spacing / 2 - limit.value,
      uncertainty: spacing / Math.sqrt(12),
      samples: 3,
      summary: `${event.to} let go again for ${figure(event.droppedOut, 1)} s at ${clockTime(event.droppedAt)} with the selector left alone, at or beyond the limit of ${figure(limit.value)} s.`,
      events: [
        {
          input: event.input,
          from: event.droppedAt,
          to: event.droppedAt + event.droppedOut,
          severity,
          kind: 'drop-out',
          selected: event.to,
          dropOut: { value: event.droppedOut, unit: 's' },
          limit: { value: limit.value, unit: 's' },
        },
      ],
      causes: [
        'pressure breaks down: fluid low, leak, pump',
        'fork jumps out or its sensor is lost',
        'wiring or selector sensor',
      ],
    },
  ];
}

function secondForFirst(input: number, starts: FirstGears, limits: Readonly<Record<string, Limit>>): Found[] {
  const { inSecond, inFirst, requested, hard } = starts;
  const limit = limits.second!;
  if (!(inSecond.length >= limit.value)) return [];
  const never = inFirst.length === 0 && inSecond.length >= LEAST && (requested > 0 || hard > 0);
  const severity: Severity = never ? 'stop' : requested > 0 || inFirst.length > 0 ? 'repair' : 'watch';
  const why = never
    ? 'first gear never came although it was wanted'
    : requested > 0
      ? 'first gear was wanted'
      : inFirst.length > 0
        ? 'other starts in the same mode and temperature used first gear'
        : 'no start in first gear was seen';
  return [
    {
      severity,
      margin: inSecond.length,
      uncertainty: 0.5,
      samples: inSecond.length + inFirst.length,
      summary: `${counted(inSecond.length, 'start')} from standstill in second gear, the first at ${clockTime(inSecond[0]!)}; ${why}.`,
      events: inSecond.map((at) => ({ input, from: at, to: at, severity, kind: 'start in second gear' })),
      causes: [
        'fork or sensor of first gear',
        'protection of the odd-gear clutch',
        'a mode that starts in second gear (winter, eco)',
      ],
    },
  ];
}

function restOf(
  input: number,
  { rested }: SelectionObservation,
  counting: readonly Timed[],
  limits: Readonly<Record<string, Limit>>,
): Found[] {
  const own = counting.filter((event) => event.input === input);
  const [first, ...later] = own;
  if (!rested || first === undefined || later.length < LEAST) return [];
  const usual = middle(later);
  const limit = limits.rest!;
  if (!(first.low > 2 * usual && first.low - usual > limit.value)) return [];
  return [
    {
      severity: 'watch',
      margin: first.low - usual - limit.value,
      uncertainty: 0.1,
      samples: later.length,
      summary: `The first engagement after a long rest took ${figure(delayOf(first), 1)} s at ${clockTime(first.at)}, later ones ${figure(usual, 1)} s: more than twice and ${figure(limit.value)} s longer.`,
      events: [eventOf(first, 'watch', usual, Math.max(2 * usual, usual + limit.value))],
      causes: ['fluid drains back overnight: check valve or filter seal', 'fluid level low'],
    },
  ];
}

/** When, which direction, how long it took, the usual of this car and the limit (s) that it was held against. */
function eventOf(event: Timed, severity: Severity, usual: number, limit: number): RuleEvent {
  return {
    input: event.input,
    from: event.at,
    to: event.at + delayOf(event),
    severity,
    kind: `selector to ${event.to}`,
    delay: { value: delayOf(event), unit: 's' },
    usual: { value: usual, unit: 's' },
    limit: { value: limit, unit: 's' },
    ...(Number.isNaN(event.fluid) ? {} : { fluid: { value: event.fluid, unit: 'degC' } }),
  };
}

function measuresOf(
  drive: readonly Timed[],
  reverse: readonly Timed[],
  all: readonly Dropped[],
): Record<string, Measure> {
  const measures: Record<string, Measure> = { selections: { value: drive.length + reverse.length } };
  if (drive.length > 0) measures['delay.D'] = { value: middle(drive), unit: 's' };
  if (reverse.length > 0) measures['delay.R'] = { value: middle(reverse), unit: 's' };
  if (all.length > 0) measures.dropOut = { value: Math.max(...all.map(({ droppedOut }) => droppedOut)), unit: 's' };
  return measures;
}

function notesOf(
  observed: readonly Observed<SelectionObservation>[],
  all: readonly Timed[],
  counting: readonly Timed[],
): string[] {
  const notes: string[] = [];
  if (observed.some(({ observation }) => observation.selections.preselected)) {
    notes.push(
      'The gear column names a gear in P or N as well: it shows the gear held ready, not the drive taken up; it was not timed.',
    );
  }
  const left = all.length - counting.length;
  if (left > 0) notes.push(`${counted(left, 'selection')} left out: fluid below ${COLD} °C or brake not pressed.`);
  return notes;
}
