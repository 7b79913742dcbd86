import type { KnockChannel, KnockSignal } from './knock-signal.js';

/** One step of knock retard, from the step until the retard has ramped back or high load ends. */
export interface KnockEvent {
  /** Index into the signal's channels. */
  readonly channel: number;
  readonly cylinder: number | undefined;
  readonly from: number;
  readonly to: number;
  /** Rows, inclusive. */
  readonly start: number;
  readonly end: number;
  /** Highest retard above the learned offset (deg), and where. */
  readonly peak: number;
  readonly peakRow: number;
}

export interface KnockSteps {
  readonly events: readonly KnockEvent[];
  /** Steps that something else explains: tip-in, shift, traction control, low load. */
  readonly explained: number;
  /** Of these, steps that began outside high load. */
  readonly lowLoad: number;
}

/** A step must stand this long (s); a log slower than that shows it with one sample. */
const STANDING = 0.1;
/** An explained retard fades within about this time (s) or keeps this share (common practice, no source). */
const FADE_TIME = 2;
const FADE_SHARE = 0.8;
/**
 * A single step begins to fade within half a second. One that stands on its peak (within this much, deg) for so long (s),
 * and for so long after what explained it has passed, is renewed by the engine (common practice, no source).
 */
const RENEWED = { within: 0.15, since: 0.6, after: 0.3 } as const;

/**
 * Steps of one retard channel. Between a step and its ramp back to half the step limit there is one event, unless the
 * retard falls by half the limit and then rises by the whole limit again. A step that begins outside `eligible` is
 * explained; it turns into an event when it rises by the limit again inside, or does not fade there. NaN is skipped.
 * @param step lowest retard (deg) of an event
 */
export function knockSteps(
  channel: KnockChannel,
  index: number,
  signal: KnockSignal,
  time: Float64Array,
  step: number,
): KnockSteps {
  const v = channel.values;
  const { loaded } = signal;
  const { eligible } = channel;
  const release = step / 2;
  const events: KnockEvent[] = [];
  let explained = 0;
  let lowLoad = 0;
  let state: 'quiet' | 'event' | 'explained' = 'quiet';
  let start = 0;
  let trough = 0;
  let peak = 0;
  let inside = Number.NaN;
  let entry = 0;

  const begin = (i: number): void => {
    const knock = eligible[i] === 1;
    state = knock ? 'event' : 'explained';
    start = i;
    trough = v[i]!;
    peak = v[i]!;
    inside = Number.NaN;
    if (knock) return;
    explained++;
    if (loaded[i] === 0) lowLoad++;
  };
  const close = (end: number): void => {
    if (state === 'event') {
      const event = eventOf(channel, index, signal, time, start, end, step);
      if (event) events.push(event);
    }
    state = 'quiet';
  };

  for (let i = 0; i < v.length; i++) {
    if (state === 'quiet') {
      i = nextReach(v, step, i);
      if (i < v.length) begin(i);
      continue;
    }
    const now = v[i]!;
    if (Number.isNaN(now)) continue;
    if (now < release) {
      close(i - 1);
      continue;
    }
    if (state === 'event') {
      if (peak - trough >= release && reaches(now - trough, step)) {
        close(i - 1);
        begin(i);
      } else if (now > peak) {
        peak = now;
        trough = now;
      } else if (now < trough) trough = now;
      continue;
    }
    // An explained retard: what it carries into the eligible rows is not knock, what it adds there is.
    if (eligible[i] === 0) {
      inside = Number.NaN;
      if (now > peak) peak = now;
      trough = now;
      continue;
    }
    if (Number.isNaN(inside)) {
      inside = time[i]!;
      entry = now;
      trough = now;
    } else if (now < trough) trough = now;
    if (now > peak) peak = now;
    const again = reaches(now - Math.min(trough, entry), step);
    const stays = time[i]! - inside >= FADE_TIME && reaches(now, step) && now >= FADE_SHARE * entry;
    const renewed =
      loaded[start] === 1 &&
      now >= peak - RENEWED.within &&
      time[i]! - time[start]! >= RENEWED.since - 1e-6 &&
      time[i]! - inside >= RENEWED.after - 1e-6;
    if (again || stays || (renewed && reaches(now, step))) {
      explained--;
      begin(i);
    }
  }
  close(v.length - 1);
  return { events, explained, lowLoad };
}

/** First row from `from` at which a value reaches the limit; the number of rows when there is none. */
function nextReach(values: Float64Array, limit: number, from: number): number {
  let i = from;
  while (i < values.length && !reaches(values[i]!, limit)) i++;
  return i;
}

/** Decimal steps of the log must not decide whether 2.0 reaches 2. */
function reaches(value: number, limit: number): boolean {
  return value >= limit - 1e-9;
}

function eventOf(
  channel: KnockChannel,
  index: number,
  signal: KnockSignal,
  time: Float64Array,
  start: number,
  last: number,
  step: number,
): KnockEvent | undefined {
  const v = channel.own;
  let standing = 0;
  let peak = Number.NEGATIVE_INFINITY;
  let peakRow = start;
  let end = start;
  let previous = Number.NaN;
  // Faster than 20 Hz a lone sample is no peak: two successive ones must reach it.
  const paired = signal.rate > 20;
  for (let i = start; i <= last; i++) {
    const now = v[i]!;
    if (Number.isNaN(now) || signal.loaded[i] === 0) continue;
    end = i;
    if (reaches(now, step)) standing += spacingAfter(time, i);
    const level = paired && i > start ? Math.min(now, previous) : paired ? Number.NEGATIVE_INFINITY : now;
    if (level > peak) {
      peak = level;
      peakRow = i;
    }
    previous = now;
  }
  // The step began and ended somewhere between two rows: half a row is the least that rounds fairly.
  if (standing < STANDING - spacingAfter(time, start) / 2 || !reaches(peak, step)) return undefined;
  const to = time[end]!;
  return { channel: index, cylinder: channel.cylinder, from: time[start]!, to, start, end, peak, peakRow };
}

function spacingAfter(time: Float64Array, i: number): number {
  if (i + 1 < time.length) return time[i + 1]! - time[i]!;
  return i > 0 ? time[i]! - time[i - 1]! : 0;
}
