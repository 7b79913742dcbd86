/**
 * NaN in, or fewer than 12 samples, gives NaN. Amplitude of what moves between two frequencies: sqrt(2) times the root
 * mean square of the band, from a direct Fourier transform of the Hann-windowed signal less its least-squares parabola
 * and less the given phases (lines that follow another rotation: cosine and sine of each are fitted and taken out).
 * Harris, Proc. IEEE 66 (1978) 51-83 for the window; its power is 3/8.
 * @param values evenly spaced; @param interval s; @param low, high Hz; @param phases rad per sample
 */
export function bandAmplitude(
  values: Float64Array,
  interval: number,
  low: number,
  high: number,
  phases: readonly Float64Array[] = [],
): number {
  return new Spectrum(values, interval, phases).amplitude(low, high);
}

/** {@link bandAmplitude} of several bands of the same values, which share what is done once. */
export class Spectrum {
  /** What is transformed; undefined gives NaN. */
  private readonly rest: Float64Array | undefined;
  private readonly powers = new Map<number, number>();

  constructor(
    values: Float64Array,
    private readonly interval: number,
    phases: readonly Float64Array[] = [],
  ) {
    const n = values.length;
    if (n < 12) return;
    const basis = [...parabola(n)];
    for (const phase of phases) {
      orthogonalise(phase.map(Math.cos), basis);
      orthogonalise(phase.map(Math.sin), basis);
    }
    const rest = residual(values, basis);
    if (Number.isNaN(rest[0]!)) return;
    for (let i = 0; i < n; i++) rest[i] = rest[i]! * (0.5 - 0.5 * Math.cos((2 * Math.PI * i) / n));
    this.rest = rest;
  }

  /** @param low, high Hz */
  amplitude(low: number, high: number): number {
    if (this.rest === undefined) return Number.NaN;
    const n = this.rest.length;
    const duration = n * this.interval;
    let power = 0;
    for (let k = Math.max(1, Math.ceil(low * duration - 0.5)); k <= Math.min(n / 2 - 1, high * duration + 0.5); k++) {
      let own = this.powers.get(k);
      if (own === undefined) {
        own = powerOf(this.rest, k);
        this.powers.set(k, own);
      }
      power += own;
    }
    return Math.sqrt((2 * power) / 0.375);
  }
}

/** Power of one line of the direct Fourier transform, both sides of it. */
function powerOf(rest: Float64Array, k: number): number {
  const n = rest.length;
  // The angle goes on by the same step: its cosine and sine by rotation.
  const angle = (2 * Math.PI * k) / n;
  const stepCos = Math.cos(angle);
  const stepSin = Math.sin(angle);
  let cos = 1;
  let sin = 0;
  let re = 0;
  let im = 0;
  for (let i = 0; i < n; i++) {
    re += rest[i]! * cos;
    im += rest[i]! * sin;
    const next = cos * stepCos - sin * stepSin;
    sin = sin * stepCos + cos * stepSin;
    cos = next;
  }
  return (2 * (re * re + im * im)) / (n * n);
}

/** What {@link parabola} was asked for: the windows of a recording are of few lengths. */
const known = new Map<number, readonly Float64Array[]>();
const MOST = 50;

/** Orthonormal columns of a parabola over `n` samples. */
function parabola(n: number): readonly Float64Array[] {
  let basis = known.get(n);
  if (basis === undefined) {
    const columns: Float64Array[] = [];
    for (let power = 0; power <= 2; power++) orthogonalise(polynomial(n, power), columns);
    if (known.size >= MOST) known.clear();
    known.set(n, columns);
    basis = columns;
  }
  return basis;
}

function polynomial(n: number, power: number): Float64Array {
  const column = new Float64Array(n);
  for (let i = 0; i < n; i++) column[i] = ((2 * i) / (n - 1) - 1) ** power;
  return column;
}

/** Adds what a column has beside those of an orthonormal basis (modified Gram-Schmidt); nothing when it is nearly a sum of them. */
function orthogonalise(column: Float64Array, basis: Float64Array[]): void {
  const q = Float64Array.from(column);
  const size = Math.sqrt(dot(q, q));
  for (const b of basis) subtract(q, b, dot(q, b));
  const left = Math.sqrt(dot(q, q));
  if (!(left > 1e-3 * size)) return;
  for (let i = 0; i < q.length; i++) q[i] = q[i]! / left;
  basis.push(q);
}

/** What least squares on an orthonormal basis leaves. */
function residual(values: Float64Array, basis: readonly Float64Array[]): Float64Array {
  const rest = Float64Array.from(values);
  for (const q of basis) subtract(rest, q, dot(rest, q));
  return rest;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
}

function subtract(a: Float64Array, b: Float64Array, factor: number): void {
  for (let i = 0; i < a.length; i++) a[i] = a[i]! - factor * b[i]!;
}
