import type { Simulation } from '../simulate.js';

/** A stretch of kept samples, inclusive. */
export interface Stretch {
  readonly start: number;
  readonly end: number;
}

export function signalOf(sim: Simulation, id: string): Float32Array {
  const signal = sim.signals.get(id);
  if (signal === undefined) throw new Error(`channel '${id}': this car has ${[...sim.signals.keys()].join(', ')}`);
  return signal;
}

/** 1 where a forward gear is held and no shift is under way within half a second. */
export function settledMask(sim: Simulation): Uint8Array {
  const gear = signalOf(sim, 'gear');
  const mask = new Uint8Array(sim.samples);
  for (let i = 0; i < mask.length; i++) mask[i] = gear[i]! >= 1 ? 1 : 0;
  const reach = Math.round(0.5 * sim.rate);
  for (const { from, to } of sim.truth.shifts)
    mask.fill(0, Math.max(0, Math.floor(from * sim.rate) - reach), Math.ceil(to * sim.rate) + reach + 1);
  return mask;
}

/** Stretches of at least `seconds` where it holds. */
export function stretchesOf(sim: Simulation, holds: (i: number) => boolean, seconds = 0): Stretch[] {
  const found: Stretch[] = [];
  let start = -1;
  for (let i = 0; i <= sim.samples; i++) {
    const here = i < sim.samples && holds(i);
    if (here && start < 0) start = i;
    if (!here && start >= 0) {
      if ((i - 1 - start) / sim.rate >= seconds - 1e-9) found.push({ start, end: i - 1 });
      start = -1;
    }
  }
  return found;
}

/** NaN breaks a window. Highest value held for `seconds`: maximum over windows of their minimum; NaN when there is no window. */
export function heldMaximum(sim: Simulation, values: (i: number) => number, seconds: number): number {
  const width = Math.round(seconds * sim.rate);
  let best = Number.NaN;
  for (let i = 0; i + width < sim.samples; i++) {
    let low = Number.POSITIVE_INFINITY;
    for (let k = i; k <= i + width; k++) {
      const x = values(k);
      if (Number.isNaN(x) || x <= (Number.isNaN(best) ? Number.NEGATIVE_INFINITY : best)) {
        low = Number.NaN;
        i = k; // nothing better can begin before
        break;
      }
      if (x < low) low = x;
    }
    if (!Number.isNaN(low)) best = low;
  }
  return best;
}

/** NaN breaks a stretch. Mean over `half` samples on either side of each, within its stretch. */
export function smoothed(values: Float32Array, half: number): Float32Array {
  const sums = new Float64Array(values.length + 1);
  for (let i = 0; i < values.length; i++) sums[i + 1] = sums[i]! + (Number.isNaN(values[i]!) ? 0 : values[i]!);
  const found = new Float32Array(values.length).fill(Number.NaN);
  let start = 0;
  for (let i = 0; i < values.length; i++) {
    if (Number.isNaN(values[i]!)) {
      start = i + 1;
      continue;
    }
    let to = i;
    while (to + 1 < values.length && to < i + half && !Number.isNaN(values[to + 1]!)) to++;
    const from = Math.max(start, i - half);
    found[i] = (sums[to + 1]! - sums[from]!) / (to + 1 - from);
  }
  return found;
}
