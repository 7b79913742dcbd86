import { resampled } from '../../derived/aligned.js';
import { GEAR, SHIFTS } from '../../derived/gear-shifts.js';
import { HELD_GEAR } from '../../derived/held-gear.js';
import { both, except, maskOf, type Segment, segmentsOf, widened } from '../../derived/intervals.js';
import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { PEDAL_RELATIVE } from '../../derived/pedal-relative.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { freshRate, heldValues } from '../../derived/refresh.js';
import { PULLS } from '../../derived/segments.js';
import { SPEED } from '../../derived/speed.js';
import { bandAmplitude, Spectrum } from '../../math/band-amplitude.js';
import { madn } from '../../math/madn.js';
import { median, quantile } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';

/** Band (Hz) of what a driver feels as jerking, and the rate (Hz) that shows it. Common practice, no source. */
export const BAND = [2, 10] as const;
export const RATE = 25;
/** Seconds that are measured at a time: four periods of the slowest jerk. */
export const WINDOW = 2;
/** km/h; s away from a shift; points that the pedal may move meanwhile; share of full load that is no part load any more. */
const SLOWEST = 20;
const AWAY = 0.7;
const STILL = 12;
const FULL = 0.9;
/** Windows of cruise, and stretches of part load, that it takes. */
export const CRUISES = 8;
export const STRETCHES = 3;
/** Most windows of a kind that are measured: what a day on the road adds to them tells nothing new. */
const MOST = 200;
/** Roads change within about this time (s). */
const NEAR = 60;
/** Amplitude of narrow-band noise over one window scatters by about this share (Rayleigh with seven degrees of freedom). */
const SCATTER = 0.27;

interface Window {
  readonly from: number;
  readonly amplitude: number;
}

/** Windows of part load that follow each other. */
export interface JerkStretch {
  readonly from: number;
  readonly to: number;
  readonly windows: number;
  /** rpm, median over the windows. */
  readonly amplitude: number;
  /** The same over the cruise around it. */
  readonly ratio: number;
  /** Hz of the strongest part. */
  readonly frequency: number;
  readonly speed: number;
}

export interface JerkReading {
  readonly stretches: readonly JerkStretch[];
  /** rpm, median over cruise, and its relative standard uncertainty. */
  readonly cruise: number;
  readonly cruiseU: number;
  readonly cruises: number;
  /** Amplitude (rpm) of each window of part load, and of cruise, over the cruise around. */
  readonly ratios: readonly number[];
  readonly cruiseRatios: readonly number[];
  readonly channel: Channel;
}

type Reads = Pick<Drive, 'time' | 'derive'> & { readonly channel: (id: 'engineSpeed') => Channel };

/** Swing of the engine speed at 2 to 10 Hz in a held gear, at part load beside cruise. */
export function readJerks(view: Reads): JerkReading | Refusal {
  const channel = view.channel('engineSpeed');
  const { hz } = freshRate(channel);
  if (!(hz >= 0.95 * RATE))
    return refuse(`the engine speed comes too slowly to show jerks of ${BAND[0]} to ${BAND[1]} Hz`, {
      conditions: [`engineSpeed at >= ${RATE} Hz`],
    });
  const load = view.derive(LOAD_FRACTION);
  if (isRefusal(load)) return load;
  const gear = view.derive(HELD_GEAR);
  if (isRefusal(gear)) return gear;
  const speed = view.derive(SPEED);
  if (isRefusal(speed)) return speed;
  const { time } = view;
  const shifts = view.derive(SHIFTS);
  const near = isRefusal(shifts) ? undefined : maskOf(widened(shifts, time, AWAY), time.length);
  const pulls = view.derive(PULLS);
  const pulling = isRefusal(pulls) ? undefined : maskOf(pulls, time.length);
  const pedal = view.derive(PEDAL_RELATIVE);
  const foot = isRefusal(pedal) ? undefined : heldValues(pedal.values, time);
  const driven = settledRows(gear.values, speed.values);
  const settled = near === undefined ? driven : except(driven, near);
  const windowsOf = (mask: Uint8Array): Row[][] =>
    sliced(segmentsOf(both(settled, mask), time, { maxStep: 0.5 }), time)
      .map((rows) => rows.filter(({ start, end }) => alike(gear.values, start, end) && still(foot, start, end)))
      .filter((rows) => rows.length > 0);
  const interval = 1 / Math.min(50, hz);
  const measured = ({ start, end }: Row): Window => ({
    from: time[start]!,
    amplitude: bandAmplitude(cut(channel.values, time, start, end, interval), interval, BAND[0], BAND[1]),
  });
  const partly = except(load.loaded, fullRows(load.values));
  const loads = windowsOf(pulling === undefined ? partly : except(partly, pulling));
  const cruises = thinned(windowsOf(load.cruiseLow).flat())
    .map(measured)
    .filter(({ amplitude }) => !Number.isNaN(amplitude));
  const amplitudes = cruises.map(({ amplitude }) => amplitude);
  const cruise = median(amplitudes);
  const usual = quantile(amplitudes, 0.9);
  const around = (t: number): number => {
    const own = cruises.filter(({ from }) => Math.abs(from - t) <= NEAR).map(({ amplitude }) => amplitude);
    return Math.max(cruise, own.length >= 3 ? median(own) : usual);
  };
  const total = loads.reduce((sum, rows) => sum + rows.length, 0);
  const stride = Math.max(1, Math.ceil(total / MOST));
  const ratios: number[] = [];
  const stretches = loads
    .filter((_rows, k) => k % stride === 0)
    .flatMap((rows): JerkStretch[] => {
      const windows = rows.map(measured).filter(({ amplitude }) => !Number.isNaN(amplitude));
      if (windows.length === 0) return [];
      const own = windows.map(({ from, amplitude }) => amplitude / around(from));
      ratios.push(...own);
      const worst = windows.reduce((a, b) => (b.amplitude > a.amplitude ? b : a));
      const { start, end } = rows.find((row) => time[row.start] === worst.from)!;
      return [
        {
          from: time[rows[0]!.start]!,
          to: time[rows[rows.length - 1]!.end]!,
          windows: windows.length,
          amplitude: median(windows.map(({ amplitude }) => amplitude)),
          ratio: median(own),
          frequency: frequencyOf(cut(channel.values, time, start, end, interval), interval),
          speed: median(channel.values.subarray(start, end + 1)),
        },
      ];
    });
  return {
    stretches,
    cruise,
    cruiseU: (1.2533 * Math.max(SCATTER, madn(amplitudes) / cruise)) / Math.sqrt(Math.max(1, amplitudes.length)),
    cruises: amplitudes.length,
    ratios,
    cruiseRatios: amplitudes.map((amplitude) => amplitude / cruise),
    channel,
  };
}

/** Relative standard uncertainty of an amplitude that is the median of so many windows. */
export function scatterOf(windows: number): number {
  return (1.2533 * SCATTER) / Math.sqrt(Math.max(1, windows));
}

/** In a gear, and on the move. */
function settledRows(gear: Float64Array, speed: Float64Array): Uint8Array {
  const mask = new Uint8Array(gear.length);
  for (let i = 0; i < mask.length; i++) if (gear[i]! >= 1 && speed[i]! >= SLOWEST) mask[i] = 1;
  return mask;
}

function fullRows(load: Float64Array): Uint8Array {
  const mask = new Uint8Array(load.length);
  for (let i = 0; i < mask.length; i++) if (load[i]! >= FULL) mask[i] = 1;
  return mask;
}

interface Row {
  readonly start: number;
  readonly end: number;
}

/** Whole windows one after the other, by segment. */
function sliced(segments: readonly Segment[], time: Float64Array): Row[][] {
  return segments.map(({ start, end }) => {
    const rows: Row[] = [];
    let first = start;
    for (let i = start; i <= end; i++) {
      if (time[i]! - time[first]! < WINDOW - 1e-6) continue;
      rows.push({ start: first, end: i });
      first = i + 1;
    }
    return rows;
  });
}

function alike(values: Float64Array, start: number, end: number): boolean {
  for (let i = start + 1; i <= end; i++) if (values[i] !== values[start]) return false;
  return true;
}

/** The foot rests; an unknown pedal counts as resting. */
function still(pedal: Float64Array | undefined, start: number, end: number): boolean {
  if (pedal === undefined) return true;
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = start; i <= end; i++) {
    low = Math.min(low, pedal[i]!);
    high = Math.max(high, pedal[i]!);
  }
  return !(high - low > STILL);
}

function thinned(rows: readonly Row[]): readonly Row[] {
  const stride = Math.max(1, Math.ceil(rows.length / MOST));
  return rows.filter((_row, k) => k % stride === 0);
}

function cut(values: Float64Array, time: Float64Array, start: number, end: number, interval: number): Float64Array {
  const length = Math.floor((time[end]! - time[start]!) / interval + 1e-6) + 1;
  // Rounding must not carry the last one past the end, where nothing is known.
  const at = Float64Array.from({ length }, (_v, i) => Math.min(time[end]!, time[start]! + i * interval));
  return resampled(values.subarray(start, end + 1), time.subarray(start, end + 1), at, 3);
}

/** Hz: middle of the band of 1 Hz that moves most. */
function frequencyOf(values: Float64Array, interval: number): number {
  const spectrum = new Spectrum(values, interval);
  let best = Number.NaN;
  let most = -1;
  for (let f = BAND[0]; f < BAND[1]; f += 0.5) {
    const amplitude = spectrum.amplitude(f, f + 1);
    if (amplitude > most) {
      most = amplitude;
      best = f + 0.5;
    }
  }
  return best;
}

/** What the reading needs, for the rule to name. */
export const JERK_DERIVED = [LOAD_FRACTION, HELD_GEAR, GEAR, SHIFTS, SPEED, PULLS, PEDAL_RELATIVE] as const;
