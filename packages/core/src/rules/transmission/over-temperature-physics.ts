import { firstAtOrAfter } from '../../derived/intervals.js';
import type { FluidSeries, Stay } from '../../derived/temperature-series.js';
import { median } from '../../math/quantile.js';

/** Reference temperature of the ageing chart, degC: 175 degF. */
const REFERENCE = 79.4;
/** Life halves for each step of this many kelvin: 20 degF. */
const HALVING = 11.1;

/**
 * Ageing of transmission fluid relative to 79.4 degC (175 degF): 2^((T - 79.4) / 11.1), NaN stays NaN.
 * Source: trade chart of fluid life, credited to the rebuilders' association (seen in three public copies; life halves
 * per 20 degF). Domain: conventional automatic-transmission fluid, 79 to 157 degC, where the formula follows the chart
 * within 11 %; it is 30 % off at 199 degC. Below 79 degC it is an extrapolation, and no such chart exists for
 * dual-clutch fluid: a comparison of drives, never a verdict.
 * @param celsius fluid temperature, degC
 */
export function ageingFactor(celsius: number): number {
  return 2 ** ((celsius - REFERENCE) / HALVING);
}

/** Hours at 79.4 degC that age the fluid as much as this drive did; gaps are not counted. */
export function equivalentHours(series: FluidSeries): number {
  const { value, hold } = series;
  let seconds = 0;
  let last = Number.NaN;
  let factor = Number.NaN;
  for (let i = 0; i < value.length; i++) {
    if (value[i] !== last) {
      last = value[i]!;
      factor = ageingFactor(last);
    }
    seconds += hold[i]! * factor;
  }
  return seconds / 3600;
}

/** Heat goes from the clutch into the sump for this long after a pull (s). Common practice, no source. */
const SOAK = 30;

/**
 * Rise of the fluid, in K, from the beginning of each stretch to the highest reading until 30 s after its end or the
 * beginning of the next; a stretch without readings is left out.
 */
export function heatingPer(series: FluidSeries, stretches: readonly { from: number; to: number }[]): number[] {
  const rises: number[] = [];
  stretches.forEach((stretch, k) => {
    const until = Math.min(stretch.to + SOAK, stretches[k + 1]?.from ?? Number.POSITIVE_INFINITY);
    const start = firstAtOrAfter(series.time, stretch.from);
    let before = Number.NaN;
    let top = Number.NEGATIVE_INFINITY;
    for (let i = start; i < series.time.length && series.time[i]! <= until; i++) {
      if (i > start && series.time[i]! - series.time[i - 1]! > series.maxGap) return;
      if (Number.isNaN(before)) before = series.value[i]!;
      top = Math.max(top, series.value[i]!);
    }
    if (!Number.isNaN(before) && series.time[start]! - stretch.from <= series.maxGap) rises.push(top - before);
  });
  return rises;
}

/** How fast the fluid gives its heat away once the load is gone. */
export interface Cooling {
  /** s */
  readonly timeConstant: number;
  /** Ends of the interval (s) in which the fit is not clearly worse. */
  readonly low: number;
  readonly high: number;
}

/** A fall has to be seen for this long (s) and by this much (K) before a curve is fitted to it. */
const FALL = { seconds: 60, drop: 8, rebound: 1.5 };

/**
 * Newton's law of cooling, T = Te + A exp(-t / tau), fitted by least squares to the longest fall after a peak; Te, A
 * linear, tau by search from 20 to 2000 s. Undefined when nothing falls far enough, or when the fall is so short beside
 * tau that it cannot be told from a straight line.
 */
export function coolingOf(series: FluidSeries, stays: readonly Stay[]): Cooling | undefined {
  const falls = peaksOf(series, stays)
    .map((top) => ({ top, end: endOfFall(series, top) }))
    .filter(({ top, end }) => series.time[end]! - series.time[top]! >= FALL.seconds)
    .filter(({ top, end }) => series.value[top]! - series.value[end]! >= FALL.drop)
    .sort((a, b) => series.time[b.end]! - series.time[b.top]! - (series.time[a.end]! - series.time[a.top]!));
  const [fall] = falls;
  return fall ? fitDecay(series, fall.top, fall.end) : undefined;
}

function peaksOf(series: FluidSeries, stays: readonly Stay[]): number[] {
  if (stays.length > 0) return stays.map((stay) => firstAtOrAfter(series.time, stay.peakAt));
  let top = 0;
  for (let i = 1; i < series.value.length; i++) if (series.value[i]! > series.value[top]!) top = i;
  return [top];
}

/** Last row of the fall that begins at `top`: its lowest point before the fluid warms again or the readings stop. */
function endOfFall(series: FluidSeries, top: number): number {
  let lowest = top;
  for (let i = top + 1; i < series.value.length; i++) {
    if (series.time[i]! - series.time[i - 1]! > series.maxGap) break;
    if (series.value[i]! < series.value[lowest]!) lowest = i;
    else if (series.value[i]! > series.value[lowest]! + FALL.rebound) break;
  }
  return lowest;
}

const SEARCH = { from: 20, to: 2000, steps: 240 };

function fitDecay(series: FluidSeries, start: number, end: number): Cooling | undefined {
  const stride = Math.max(1, Math.floor((end - start) / 400));
  const t: number[] = [];
  const y: number[] = [];
  for (let i = start; i <= end; i += stride) {
    t.push(series.time[i]! - series.time[start]!);
    y.push(series.value[i]!);
  }
  const tries = Array.from({ length: SEARCH.steps + 1 }, (_, k) => {
    const tau = SEARCH.from * (SEARCH.to / SEARCH.from) ** (k / SEARCH.steps);
    return { tau, ...decayError(t, y, tau) };
  });
  const best = tries.reduce((a, b) => (b.error < a.error ? b : a));
  const length = t[t.length - 1]!;
  // Readings of a slow fluid are not independent: count one in five seconds.
  const independent = Math.max(4, Math.min(t.length, length / 5));
  const floor = Math.max(best.error, t.length * 0.05 ** 2);
  const alike = tries.filter(({ error }) => error <= floor * (1 + 4 / (independent - 3)));
  // The search goes in steps: the ends are at most one step further out.
  const step = (SEARCH.to / SEARCH.from) ** (1 / SEARCH.steps);
  const low = Math.min(...alike.map(({ tau }) => tau)) / step;
  const high = Math.max(...alike.map(({ tau }) => tau)) * step;
  const drop = y[0]! - y[y.length - 1]!;
  const fits = Math.sqrt(best.error / t.length) <= Math.max(0.5, 0.1 * drop);
  const told = best.amplitude > 0 && length >= best.tau && low > SEARCH.from && high < SEARCH.to;
  return fits && told ? { timeConstant: best.tau, low, high } : undefined;
}

/** Sum of squared residuals of y = a + b exp(-t / tau) with the best a and b. */
function decayError(t: readonly number[], y: readonly number[], tau: number): { error: number; amplitude: number } {
  const n = t.length;
  let se = 0;
  let sy = 0;
  for (let i = 0; i < n; i++) {
    se += Math.exp(-t[i]! / tau);
    sy += y[i]!;
  }
  let see = 0;
  let sey = 0;
  for (let i = 0; i < n; i++) {
    const e = Math.exp(-t[i]! / tau) - se / n;
    see += e * e;
    sey += e * (y[i]! - sy / n);
  }
  const amplitude = see > 0 ? sey / see : 0;
  let error = 0;
  for (let i = 0; i < n; i++) {
    const r = y[i]! - sy / n - amplitude * (Math.exp(-t[i]! / tau) - se / n);
    error += r * r;
  }
  return { error, amplitude };
}

/** Fluid against coolant on a steady motorway drive. */
export interface Steady {
  /** Fluid minus coolant, median, K. */
  readonly difference: number;
  readonly seconds: number;
  readonly from: number;
  readonly to: number;
}

/** Steady motorway: at this speed (km/h) for this long (s), the first part left out, both temperatures within `band` K. */
const MOTORWAY = { speed: 80, seconds: 180, settle: 60, band: 6, coolant: 70 };

/**
 * The longest steady motorway stretch, or undefined when there is none. Coolant and speed at the fluid's samples;
 * NaN ends a stretch.
 */
export function steadyDifference(series: FluidSeries, coolant: Float64Array, speed: Float64Array): Steady | undefined {
  let best: Steady | undefined;
  let start = -1;
  for (let i = 0; i <= series.time.length; i++) {
    const gap = i > 0 && i < series.time.length && series.time[i]! - series.time[i - 1]! > series.maxGap;
    const fast = i < series.time.length && !gap && speed[i]! >= MOTORWAY.speed && coolant[i]! >= MOTORWAY.coolant;
    if (fast && start < 0) start = i;
    if (fast || start < 0) continue;
    const found = settled(series, coolant, start, i - 1);
    if (found && (!best || found.seconds > best.seconds)) best = found;
    start = -1;
  }
  return best;
}

function settled(series: FluidSeries, coolant: Float64Array, start: number, end: number): Steady | undefined {
  const { time, value } = series;
  if (time[end]! - time[start]! < MOTORWAY.seconds) return undefined;
  const first = firstAtOrAfter(time, time[start]! + MOTORWAY.settle);
  const fluid = value.subarray(first, end + 1);
  const water = coolant.subarray(first, end + 1);
  if (rangeOf(fluid) > MOTORWAY.band || rangeOf(water) > MOTORWAY.band) return undefined;
  const differences = fluid.map((x, k) => x - water[k]!);
  return { difference: median(differences), seconds: time[end]! - time[first]!, from: time[first]!, to: time[end]! };
}

function rangeOf(x: Float64Array): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < x.length; i++) {
    low = Math.min(low, x[i]!);
    high = Math.max(high, x[i]!);
  }
  return high - low;
}
