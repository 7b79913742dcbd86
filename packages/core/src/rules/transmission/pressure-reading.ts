import { heldMaximum } from '../../math/held-maximum.js';
import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import { median } from '../../math/quantile.js';
import { nameOf } from '../ladder.js';
import type { Limit, Severity } from '../rule.js';

/** Seconds that a deviation must last; the command has to stand still this long (s) after a step (bar) first. */
export const LASTS = 1;
const STEP = { bar: 1, wait: 0.3, within: 0.15 } as const;
/** Lowest fluid temperature, degC. */
export const WARM = 40;
/** Noise of a pressure, bar; tolerance of its sensor, share of the reading. Common practice, no source. */
const NOISE = 0.05;
const TOLERANCE = 0.02;

export interface Deviation {
  readonly severity: Severity | undefined;
  /** Deviation held for a second, bar (negative = too low), and the command at that time. */
  readonly value: number;
  readonly target: number;
  /** Median deviation of this car over all that was judged, bar. */
  readonly usual: number;
  readonly at: number;
  /** Held deviation over the watch limit at that command, and the standard uncertainty of that. */
  readonly share: number;
  readonly u: number;
  /** Seconds that could be judged. */
  readonly seconds: number;
  readonly samples: number;
}

/** Pressure against command, NaN = no sample: the deviation that is held for a second, by the larger of a share of the command and a pressure. */
export function deviationOf(
  actual: Float64Array,
  target: Float64Array,
  fluid: Float64Array | undefined,
  time: Float64Array,
  quantum: number,
  limits: Readonly<Record<string, Limit>>,
): Deviation {
  const n = time.length;
  const usable = new Uint8Array(n);
  let stepped = Number.NEGATIVE_INFINITY;
  let back = 0;
  let samples = 0;
  for (let i = 0; i < n; i++) {
    // A fast ramp is a step too: change over the last moments, at least from the row before.
    while (back < i - 1 && time[i]! - time[back]! > STEP.within) back++;
    if (i > 0 && Math.abs(target[i]! - target[back]!) > STEP.bar) stepped = time[i]!;
    if (time[i]! - stepped <= STEP.wait || !(target[i]! > 0.5) || Number.isNaN(actual[i]!)) continue;
    if (fluid !== undefined && !(fluid[i]! >= WARM)) continue;
    usable[i] = 1;
    samples++;
  }
  const spacing = n > 1 ? (time[n - 1]! - time[0]!) / (n - 1) : 0;
  const held = (severity: Severity, sign: number, sure: number): { value: number; index: number } => {
    const share = limits[nameOf(severity, 'share')]!.value / 100;
    const least = limits[nameOf(severity, 'pressure')]!.value;
    const ratio = new Float64Array(n).fill(Number.NaN);
    for (let i = 0; i < n; i++) {
      if (usable[i] === 0) continue;
      const u = Math.hypot(quantum / Math.sqrt(12), NOISE, (TOLERANCE * target[i]!) / Math.sqrt(3));
      ratio[i] = (sign * (actual[i]! - target[i]!) - sure * u) / Math.max(share * target[i]!, least);
    }
    return heldMaximum(ratio, time, LASTS, 0.5);
  };
  let severity: Severity | undefined;
  for (const each of ['watch', 'repair'] as const)
    if (held(each, -1, ONE_SIDED_95).value > 1 || held(each, 1, ONE_SIDED_95).value > 1) severity = each;
  const low = held('watch', -1, 0);
  const high = held('watch', 1, 0);
  const top = high.value > low.value ? high : low;
  const i = top.index;
  const command = i < 0 ? Number.NaN : target[i]!;
  const least = limits['pressure-watch']!.value;
  const scale = Math.max((limits['share-watch']!.value / 100) * command, least);
  return {
    severity,
    value: i < 0 ? Number.NaN : actual[i]! - command,
    target: command,
    usual: usualOf(actual, target, usable),
    at: i < 0 ? Number.NaN : time[i]!,
    share: top.value,
    u: Math.hypot(quantum / Math.sqrt(12), NOISE, (TOLERANCE * command) / Math.sqrt(3)) / scale,
    seconds: samples * spacing,
    samples,
  };
}

function usualOf(actual: Float64Array, target: Float64Array, usable: Uint8Array): number {
  const found: number[] = [];
  for (let i = 0; i < usable.length; i++) if (usable[i] === 1) found.push(actual[i]! - target[i]!);
  return median(found);
}
