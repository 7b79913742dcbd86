/** Grid of the density: ln(rpm per km/h) from ln 8 to ln 600 in steps of 0.2 %. */
const LOW = Math.log(8);
const HIGH = Math.log(600);
const STEP = 0.002;
const CELLS = Math.ceil((HIGH - LOW) / STEP) + 1;
/** Narrowest kernel: ratios of real drives scatter by tyre slip and sensor noise at about half a percent. */
const BANDWIDTHS = [0.006, 0.012, 0.024, 0.048] as const;
/** Neighbouring gears of any gearbox differ by more than this (closest pair of ten-speed boxes: 8 %). From memory. */
export const CLOSEST = 0.062;

export interface Peak {
  /** ln(rpm per km/h) */
  readonly x: number;
  readonly density: number;
}

/**
 * NaN or weightless samples are skipped; empty gives none. Modes of a kernel density with a bandwidth by each sample's
 * own uncertainty (Silverman, Density Estimation, 1986, ch. 5: adaptive kernels), ascending. A mode counts when the
 * valley to every higher one is at most 60 % of it and no higher one is nearer than the closest gears are.
 */
export function modesOf(x: Float64Array, u: Float64Array, weight: Float64Array): Peak[] {
  const density = densityOf(x, u, weight);
  const tops = topsOf(density).sort((a, b) => b.density - a.density);
  const kept: Peak[] = [];
  for (const top of tops) {
    if (kept.every((other) => apart(top, other, density))) kept.push(top);
  }
  return kept.sort((a, b) => a.x - b.x);
}

/** NaN or weightless samples are skipped; empty gives 0. Integral of the squared density: high when the samples stand in few heaps. */
export function sharpnessOf(x: Float64Array, u: Float64Array, weight: Float64Array): number {
  const density = densityOf(x, u, weight);
  let sum = 0;
  for (let i = 0; i < CELLS; i++) sum += density[i]! ** 2;
  return sum;
}

function topsOf(density: Float64Array): Peak[] {
  const tops: Peak[] = [];
  for (let i = 1; i + 1 < CELLS; i++) {
    const d = density[i]!;
    if (d > 0 && d > density[i - 1]! && d >= density[i + 1]!) tops.push({ x: LOW + i * STEP, density: d });
  }
  return tops;
}

function apart(top: Peak, higher: Peak, density: Float64Array): boolean {
  if (Math.abs(top.x - higher.x) < CLOSEST) return false;
  const a = Math.round((Math.min(top.x, higher.x) - LOW) / STEP);
  const b = Math.round((Math.max(top.x, higher.x) - LOW) / STEP);
  let valley = Number.POSITIVE_INFINITY;
  for (let i = a; i <= b; i++) if (density[i]! < valley) valley = density[i]!;
  return valley <= 0.6 * top.density;
}

function densityOf(x: Float64Array, u: Float64Array, weight: Float64Array): Float64Array {
  const counts = new Float64Array(BANDWIDTHS.length * CELLS);
  spread(x, u, weight, counts);
  const density = new Float64Array(CELLS);
  BANDWIDTHS.forEach((h, b) => {
    smooth(counts.subarray(b * CELLS, (b + 1) * CELLS), h / STEP, density);
  });
  return density;
}

/** Adds each sample to the cells of its bandwidth. */
function spread(x: Float64Array, u: Float64Array, weight: Float64Array, counts: Float64Array): void {
  for (let k = 0; k < x.length; k++) {
    const w = weight[k]!;
    const cell = Math.round((x[k]! - LOW) / STEP);
    if (!(w > 0 && cell >= 0 && cell < CELLS)) continue;
    let b = 0;
    while (b + 1 < BANDWIDTHS.length && BANDWIDTHS[b]! < u[k]!) b++;
    counts[b * CELLS + cell]! += w;
  }
}

/** Adds `counts` convolved with a Gaussian of `sigma` cells. */
function smooth(counts: Float64Array, sigma: number, into: Float64Array): void {
  const reach = Math.ceil(3.5 * sigma);
  const kernel = new Float64Array(reach + 1);
  for (let i = 0; i <= reach; i++) kernel[i] = Math.exp(-0.5 * (i / sigma) ** 2) / (sigma * Math.sqrt(2 * Math.PI));
  for (let c = 0; c < CELLS; c++) {
    const w = counts[c]!;
    if (w === 0) continue;
    const from = Math.max(0, c - reach);
    const to = Math.min(CELLS - 1, c + reach);
    for (let i = from; i <= to; i++) into[i]! += w * kernel[Math.abs(i - c)]!;
  }
}
