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
  const n = values.length;
  if (n < 12) return Number.NaN;
  const columns: Float64Array[] = [0, 1, 2].map((power) => polynomial(n, power));
  for (const phase of phases) columns.push(phase.map(Math.cos), phase.map(Math.sin));
  const rest = residual(values, columns);
  if (rest === undefined) return Number.NaN;
  const duration = n * interval;
  for (let i = 0; i < n; i++) rest[i] = rest[i]! * (0.5 - 0.5 * Math.cos((2 * Math.PI * i) / n));
  let power = 0;
  for (let k = Math.max(1, Math.ceil(low * duration - 0.5)); k <= Math.min(n / 2 - 1, high * duration + 0.5); k++) {
    // The angle goes on by the same step: its cosine and sine by rotation.
    const angle = (2 * Math.PI * k) / n;
    const [stepCos, stepSin] = [Math.cos(angle), Math.sin(angle)];
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
    power += (2 * (re * re + im * im)) / (n * n);
  }
  return Math.sqrt((2 * power) / 0.375);
}

function polynomial(n: number, power: number): Float64Array {
  const column = new Float64Array(n);
  for (let i = 0; i < n; i++) column[i] = ((2 * i) / (n - 1) - 1) ** power;
  return column;
}

/** What least squares on the columns leaves; each column is made orthogonal to those before (modified Gram-Schmidt). */
function residual(values: Float64Array, columns: readonly Float64Array[]): Float64Array | undefined {
  const basis: Float64Array[] = [];
  const rest = Float64Array.from(values);
  for (const column of columns) {
    const q = Float64Array.from(column);
    const size = Math.sqrt(dot(q, q));
    for (const b of basis) subtract(q, b, dot(q, b));
    const left = Math.sqrt(dot(q, q));
    // Nearly a sum of the others: nothing of its own.
    if (!(left > 1e-3 * size)) continue;
    for (let i = 0; i < q.length; i++) q[i] = q[i]! / left;
    basis.push(q);
    subtract(rest, q, dot(rest, q));
  }
  return Number.isNaN(rest[0]!) ? undefined : rest;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
}

function subtract(a: Float64Array, b: Float64Array, factor: number): void {
  for (let i = 0; i < a.length; i++) a[i] = a[i]! - factor * b[i]!;
}
