import { exceeds } from '../../derived/exceeds.js';
import type { Zero } from '../../derived/oil-pressure.js';
import { type OwnCells, type OwnLoss, ownLoss } from '../../derived/oil-pressure-own.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Limit, Measure, Observed, RuleEvent, Severity } from '../rule.js';
import {
  IDLE_SECONDS,
  type IdleReading,
  SPEED_FROM,
  type SpeedEvent,
  type SpeedReading,
} from './oil-pressure-reading.js';
import {
  adviceOf,
  CAUSES,
  clearSummary,
  idleWords,
  lossWords,
  OWN_CAUSES,
  openSummary,
  speedWords,
} from './oil-pressure-wording.js';

export interface OilPressureObservation {
  readonly hz: number;
  readonly certainties: readonly Certainty[];
  /** What showed that the oil was hot; undefined when nothing could. */
  readonly hotBy: string | undefined;
  readonly measured: boolean;
  /** Channels that would have shown it. */
  readonly refused: readonly string[];
  readonly wasHot: boolean;
  readonly zero: Zero;
  readonly idle: readonly IdleReading[];
  readonly speed: SpeedReading;
  readonly own: OwnCells;
  readonly within?: OwnLoss & { readonly at: number };
}

type Seen = Observed<OilPressureObservation>;

interface Found {
  readonly severity: Severity;
  readonly words: string;
  readonly margin: number;
  readonly uncertainty: number;
  readonly samples: number;
  readonly causes: readonly string[];
  /** The finding may be a stage of a pump that is not known. */
  readonly doubt: number;
}

const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };
/** Seconds above `SPEED_FROM` that "high enough at speed" takes. */
const SPEED_SECONDS = 5;

/** Weighs what all drives showed: the lowest hot idle, the worst event at speed, and the car against itself. */
export function judgeOilPressure(observed: readonly Seen[], context: Context): Judgement {
  const pump = context.vehicle.engine.oilPump;
  const limits = context.limits({ pump: pump ?? 'regulated' });
  const idle = lowestIdle(observed);
  const nearest = nearestAtSpeed(observed);
  const loss = worstLoss(observed);
  const found = [...idleFound(idle, limits), ...speedFound(observed, limits), ...lossFound(loss, limits)];
  const events = [...eventsOf(observed, limits)].sort((a, b) => a.input - b.input || a.from - b.from);
  const base = {
    measures: { ...measuresOf(observed, idle, nearest, loss), events: { value: events.length } },
    events,
    limits: Object.values(limits),
    notes: notesOf(observed, pump),
  };
  const channels = observed.flatMap(({ observation }) => observation.certainties.map((certainty) => ({ certainty })));
  const all = observed.map(({ observation }) => observation);
  const doubts = [all.some((o) => o.measured) ? 1 : 0.85, all.some((o) => o.zero.kind === 'odd') ? 0.8 : 1];
  found.sort((a, b) => RANK[b.severity] - RANK[a.severity] || b.margin / b.uncertainty - a.margin / a.uncertainty);
  const [worst] = found;
  if (worst !== undefined) {
    return {
      ...base,
      outcome: 'finding',
      severity: worst.severity,
      confidence: confidenceOf({ ...worst, channels, doubts: [...doubts, worst.doubt] }),
      summary: found
        .filter((each, k) => k === 0 || (k === 1 && each.causes === worst.causes))
        .map(({ words }) => words)
        .join(' '),
      causes: worst.causes,
      advice: adviceOf(worst.severity),
    };
  }
  const seconds = all.reduce((sum, o) => sum + o.speed.seconds, 0);
  const conditions = [
    ...(idle === undefined ? [`engine oil >= 80 °C: idle for >= ${IDLE_SECONDS} s`] : []),
    ...(seconds < SPEED_SECONDS || nearest === undefined
      ? [`engine oil >= 80 °C: engine speed > ${SPEED_FROM} rpm for >= ${SPEED_SECONDS} s`]
      : []),
  ];
  if (idle === undefined || nearest === undefined || conditions.length > 0) {
    const unknown = all.every((o) => o.hotBy === undefined);
    const channelsMissing = unknown ? [...new Set(all.flatMap((o) => o.refused))] : [];
    return {
      ...base,
      outcome: 'unproven',
      summary: openSummary(
        idle,
        nearest,
        unknown,
        all.some((o) => o.wasHot),
      ),
      missing: { channels: channelsMissing, conditions },
    };
  }
  // A gauge that was never seen at rest may be an absolute one: near the limit that would be one bar of false comfort.
  const unchecked =
    all.every((o) => o.zero.kind === 'unchecked') && idle.reading.pressure < limits['idle-watch']!.value + 1.05;
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: Math.min(idle.reading.pressure - limits['idle-watch']!.value, nearest.pressure - nearest.limit),
      uncertainty: idle.reading.uncertainty,
      samples: idle.reading.samples,
      channels,
      doubts: [...doubts, unchecked ? 0.9 : 1],
    }),
    summary: clearSummary(idle.reading, nearest, limits),
  };
}

interface PlacedIdle {
  readonly input: number;
  readonly reading: IdleReading;
}

function lowestIdle(observed: readonly Seen[]): PlacedIdle | undefined {
  let lowest: PlacedIdle | undefined;
  for (const { input, observation } of observed) {
    for (const reading of observation.idle) {
      if (lowest === undefined || reading.pressure < lowest.reading.pressure) lowest = { input, reading };
    }
  }
  return lowest;
}

function nearestAtSpeed(observed: readonly Seen[]): SpeedReading['nearest'] | undefined {
  let found: SpeedReading['nearest'] | undefined;
  for (const { nearest } of observed.map(({ observation }) => observation.speed)) {
    if (Number.isNaN(nearest.pressure)) continue;
    if (found === undefined || nearest.pressure / nearest.limit < found.pressure / found.limit) found = nearest;
  }
  return found;
}

type PlacedLoss = OwnLoss & { readonly input: number; readonly at: number; readonly between: boolean };

/** Within each drive, and from each drive to each later one. */
function worstLoss(observed: readonly Seen[]): PlacedLoss | undefined {
  let worst: PlacedLoss | undefined;
  observed.forEach(({ input, observation }, k) => {
    const { within } = observation;
    if (within && within.loss > (worst?.loss ?? 0)) worst = { ...within, input, between: false };
    for (let j = 0; j < k; j++) {
      const found = ownLoss(observed[j]!.observation.own, observation.own);
      if (found && found.loss > (worst?.loss ?? 0)) worst = { ...found, input, at: Number.NaN, between: true };
    }
  });
  return worst;
}

function idleSeverity(reading: IdleReading, limits: Readonly<Record<string, Limit>>): Severity | undefined {
  for (const level of ['stop', 'repair', 'watch'] as const) {
    const { value, comparison } = limits[`idle-${level}`]!;
    if (exceeds(reading.pressure, reading.uncertainty, value, comparison) === 'beyond') return level;
  }
  return undefined;
}

function idleFound(idle: PlacedIdle | undefined, limits: Readonly<Record<string, Limit>>): Found[] {
  const severity = idle && idleSeverity(idle.reading, limits);
  if (idle === undefined || severity === undefined) return [];
  const limit = limits[`idle-${severity}`]!;
  return [
    {
      severity,
      words: idleWords(idle.reading, limit),
      margin: limit.value - idle.reading.pressure,
      uncertainty: idle.reading.uncertainty,
      samples: idle.reading.samples,
      causes: CAUSES,
      doubt: 1,
    },
  ];
}

function speedFound(observed: readonly Seen[], limits: Readonly<Record<string, Limit>>): Found[] {
  let worst: SpeedEvent | undefined;
  let uncertainty = Number.NaN;
  const events = observed.flatMap(({ observation }) =>
    observation.speed.events.map((event) => ({ event, of: observation })),
  );
  for (const { event, of } of events) {
    const rank = RANK[event.level] - (worst === undefined ? 0 : RANK[worst.level]);
    const deeper = worst !== undefined && event.limit - event.pressure > worst.limit - worst.pressure;
    if (rank > 0 || (rank === 0 && deeper)) {
      worst = event;
      uncertainty = of.speed.uncertainty;
    }
  }
  if (worst === undefined) return [];
  return [
    {
      severity: worst.level,
      words: speedWords(worst, limits),
      margin: worst.limit - worst.pressure,
      uncertainty,
      samples: worst.samples,
      causes: CAUSES,
      doubt: 1,
    },
  ];
}

function lossFound(loss: PlacedLoss | undefined, limits: Readonly<Record<string, Limit>>): Found[] {
  const limit = limits['own-watch']!;
  if (loss === undefined || exceeds(loss.loss, loss.uncertainty, limit.value, limit.comparison) !== 'beyond') return [];
  return [
    {
      severity: 'watch',
      words: lossWords(loss, limit),
      margin: loss.loss - limit.value,
      uncertainty: loss.uncertainty,
      samples: loss.samples,
      causes: OWN_CAUSES,
      doubt: loss.between ? 0.8 : 0.9,
    },
  ];
}

function measuresOf(
  observed: readonly Seen[],
  idle: PlacedIdle | undefined,
  nearest: SpeedReading['nearest'] | undefined,
  loss: PlacedLoss | undefined,
): Record<string, Measure> {
  const measures: Record<string, Measure> = {};
  if (idle) {
    measures.hotIdle = { value: idle.reading.pressure, unit: 'bar' };
    measures.hotIdleSpeed = { value: idle.reading.rpm, unit: 'rpm' };
  }
  if (nearest) {
    measures.atSpeed = { value: nearest.pressure, unit: 'bar' };
    measures['atSpeed.limit'] = { value: nearest.limit, unit: 'bar' };
    measures['atSpeed.engineSpeed'] = { value: nearest.rpm, unit: 'rpm' };
  }
  measures.secondsAtSpeed = {
    value: observed.reduce((sum, { observation }) => sum + observation.speed.seconds, 0),
    unit: 's',
  };
  if (loss) measures.ownLoss = { value: loss.loss, unit: '%' };
  return measures;
}

function eventsOf(observed: readonly Seen[], limits: Readonly<Record<string, Limit>>): RuleEvent[] {
  return observed.flatMap(({ input, observation }) => [
    ...observation.idle.flatMap((reading): RuleEvent[] => {
      const severity = idleSeverity(reading, limits);
      const { from, to, pressure } = reading;
      return severity === undefined ? [] : [{ input, from, to, severity, peak: { value: pressure, unit: 'bar' } }];
    }),
    ...observation.speed.events.map(
      ({ from, to, level, pressure, rpm }): RuleEvent => ({
        input,
        from,
        to,
        severity: level,
        peak: { value: pressure, unit: 'bar' },
        engineSpeed: { value: rpm, unit: 'rpm' },
      }),
    ),
  ]);
}

function notesOf(observed: readonly Seen[], pump: string | undefined): string[] {
  const all = observed.map(({ observation }) => observation);
  const notes: string[] = [];
  if (pump === undefined)
    notes.push('Kind of oil pump unknown: the cap of a regulated pump is used; a fixed pump has to make more.');
  if (all.some((o) => o.zero.kind === 'absolute')) {
    notes.push(
      'The sensor reads barometric pressure with the engine at rest: taken as absolute, and that reading taken off.',
    );
  } else if (all.some((o) => o.zero.kind === 'odd')) {
    const rest = all.find((o) => o.zero.kind === 'odd')!.zero.rest;
    notes.push(
      `The sensor reads ${rest.toFixed(2)} bar with the engine at rest: its zero is doubtful, nothing was taken off.`,
    );
  } else if (all.every((o) => o.zero.kind === 'unchecked')) {
    notes.push(
      'The engine was never at rest in the recording: that the pressure is a gauge pressure is taken from its column, not seen.',
    );
  }
  if (all.some((o) => o.hotBy === 'coolantTemperature')) {
    notes.push('Oil temperature not recorded: oil taken as hot after ten minutes of running with warm coolant.');
  }
  return notes;
}
