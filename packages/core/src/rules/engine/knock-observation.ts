import { type KnockEvent, knockSteps } from '../../derived/knock-events.js';
import { type KnockCell, knockMap, speedCell } from '../../derived/knock-map.js';
import type { KnockSignal } from '../../derived/knock-signal.js';
import type { Certainty } from '../../recording/recording.js';

/** A pull tells of knock when it was under high load for so long (s) with so many fresh retard values. */
const PULL_LOADED = 1;
const PULL_FRESH = 3;
/** Below this many other cylinders their mean is no yardstick; below this many channels "all cylinders" means little. */
const OTHERS = 2;
const ALL = 3;

export interface SeenKnock {
  readonly from: number;
  readonly to: number;
  readonly peak: number;
  readonly cylinder: number | undefined;
  readonly speed: number;
  /** NaN where the load has no number. */
  readonly load: number;
  /** Retard beyond the mean of the other cylinders, NaN when there are too few; and its standard uncertainty. */
  readonly spread: number;
  readonly spreadUncertainty: number;
  /** Least retard of all cylinders at that moment, NaN when not all are known. */
  readonly least: number;
  /** Charge or intake air temperature (degC) at the peak, NaN when unknown. */
  readonly air: number;
}

export interface SeenPull {
  readonly from: number;
  readonly to: number;
  /** Highest retard of an event in the pull; 0 when there was none. */
  readonly peak: number;
  /** Highest retard of an event by speed cell (lower edge, rpm). */
  readonly cells: ReadonlyMap<number, number>;
}

export interface KnockObservation {
  readonly events: readonly SeenKnock[];
  readonly pulls: readonly SeenPull[];
  readonly map: readonly KnockCell[];
  /** Standard uncertainty of one retard value (deg). */
  readonly uncertainty: number;
  readonly offset: number;
  readonly explained: number;
  readonly lowLoad: number;
  /** Fresh retard values under high load, and how many of them belong to events. */
  readonly fresh: number;
  readonly freshInEvents: number;
  readonly cylinders: readonly number[];
  readonly certainties: readonly Certainty[];
  readonly signal: Pick<KnockSignal, 'rate' | 'rateCertain' | 'blind' | 'loadBasis' | 'pullBasis'>;
}

/**
 * What one drive shows of knock.
 * @param step lowest retard (deg) of an event; @param cylinders number of cylinders of the engine when known;
 * @param air degC by row, when recorded; NaN is no sample
 */
export function observeKnock(
  signal: KnockSignal,
  time: Float64Array,
  step: number,
  cylinders: number | undefined,
  air: Float64Array | undefined,
): KnockObservation {
  const steps = signal.channels.map((channel, index) => knockSteps(channel, index, signal, time, step));
  const own = steps.flatMap((s, i) => (signal.channels[i]!.cylinder === undefined ? [] : s.events));
  const whole = steps.flatMap((s, i) => (signal.channels[i]!.cylinder === undefined ? s.events : []));
  // The retard of the whole engine tells the same events again: only those that no cylinder showed count.
  const events = [...own, ...whole.filter((w) => !own.some((o) => o.from <= w.to + 0.5 && w.from <= o.to + 0.5))];
  events.sort((a, b) => a.from - b.from || (a.cylinder ?? 0) - (b.cylinder ?? 0));
  let loadedTime = 0;
  for (let i = 0; i + 1 < time.length; i++)
    if (signal.loaded[i] === 1) loadedTime += Math.min(1, time[i + 1]! - time[i]!);
  const eventTime = events.reduce((sum, e) => sum + (e.to - e.from) + 1 / signal.rate, 0);
  const { rate, rateCertain, blind, loadBasis, pullBasis } = signal;
  return {
    events: events.map((event) => seen(event, signal, time, cylinders, air)),
    pulls: pullsOf(signal, events, time),
    map: knockMap(signal, events, time),
    uncertainty: signal.channels.reduce((most, c) => Math.max(most, c.uncertainty), 0),
    offset: signal.channels.reduce((most, c) => Math.max(most, c.offset), 0),
    explained: steps.reduce((sum, s) => sum + s.explained, 0),
    lowLoad: steps.reduce((sum, s) => sum + s.lowLoad, 0),
    fresh: Math.floor(loadedTime * rate),
    freshInEvents: Math.max(events.length, Math.floor(eventTime * rate)),
    cylinders: signal.channels.flatMap((c) => (c.cylinder === undefined ? [] : [c.cylinder])),
    certainties: signal.channels.map((c) => c.certainty),
    signal: { rate, rateCertain, blind, loadBasis, pullBasis },
  };
}

function seen(
  event: KnockEvent,
  signal: KnockSignal,
  time: Float64Array,
  cylinders: number | undefined,
  air: Float64Array | undefined,
): SeenKnock {
  const { from, to, peak, peakRow, cylinder } = event;
  const others: number[] = [];
  let uncertainty = signal.channels[event.channel]!.uncertainty;
  if (cylinder !== undefined) {
    for (let c = 0; c < signal.channels.length; c++) {
      const other = signal.channels[c]!;
      if (c === event.channel || other.cylinder === undefined) continue;
      const v = highestAround(other.own, time, peakRow, 1 / signal.rate);
      if (!Number.isNaN(v)) others.push(v);
    }
  }
  const mean = others.reduce((a, b) => a + b, 0) / others.length;
  // The others are rounded as well: variance of a difference of one value and a mean (JCGM 100, 5.1.2).
  uncertainty *= Math.sqrt(1 + 1 / Math.max(1, others.length));
  const count = others.length + 1;
  const complete = count >= ALL && count >= (cylinders ?? ALL);
  return {
    from,
    to,
    peak,
    cylinder,
    speed: signal.speed[peakRow]!,
    load: signal.load[peakRow]!,
    spread: others.length >= OTHERS ? peak - mean : Number.NaN,
    spreadUncertainty: uncertainty,
    least: complete ? Math.min(peak, ...others) : Number.NaN,
    air: air === undefined ? Number.NaN : lastUpTo(air, peakRow),
  };
}

/** A temperature moves slowly: the last sample stands for the empty cells after it. NaN before the first. */
function lastUpTo(values: Float64Array, row: number): number {
  let i = row;
  while (i > 0 && Number.isNaN(values[i]!)) i--;
  return values[i]!;
}

/** Cylinders are read one after the other: their values of one moment lie up to one spacing apart. NaN when none. */
function highestAround(values: Float64Array, time: Float64Array, row: number, reach: number): number {
  let highest = Number.NaN;
  for (let i = row; i >= 0 && time[row]! - time[i]! <= reach; i--) highest = better(highest, values[i]!);
  for (let i = row + 1; i < values.length && time[i]! - time[row]! <= reach; i++) highest = better(highest, values[i]!);
  return highest;
}

function better(a: number, b: number): number {
  if (Number.isNaN(a)) return b;
  return Number.isNaN(b) ? a : Math.max(a, b);
}

function pullsOf(signal: KnockSignal, events: readonly KnockEvent[], time: Float64Array): SeenPull[] {
  const pulls: SeenPull[] = [];
  for (const { from, to, start, end } of signal.pulls) {
    let loaded = 0;
    for (let i = start; i <= end && i + 1 < time.length; i++) {
      if (signal.loaded[i] === 1) loaded += Math.min(1, time[i + 1]! - time[i]!);
    }
    if (loaded < PULL_LOADED - 1e-6 || loaded * signal.rate + 1 < PULL_FRESH - 1e-6) continue;
    const cells = new Map<number, number>();
    let peak = 0;
    for (const event of events) {
      const { own } = signal.channels[event.channel]!;
      for (let i = Math.max(start, event.start); i <= Math.min(end, event.end); i++) {
        const v = Math.min(own[i]!, event.peak);
        if (signal.loaded[i] === 0 || Number.isNaN(v)) continue;
        const cell = speedCell(signal.speed[i]!);
        if (v > (cells.get(cell) ?? 0)) cells.set(cell, v);
        if (v > peak) peak = v;
      }
    }
    pulls.push({ from, to, peak, cells });
  }
  return pulls;
}
