import { medianSorted, quantileSorted } from 'simple-statistics';

/** Pressure of the standard atmosphere at sea level (kPa), ISO 2533. */
export const STANDARD_ATMOSPHERE = 101.325;

export type Reference = 'absolute' | 'gauge';

interface ReferenceFinding {
  /** Undefined when the values fit both or neither. */
  readonly reference: Reference | undefined;
  /** What it was concluded from, for the report. */
  readonly evidence: string;
}

/**
 * Whether an intake or charge pressure in kPa is absolute or relative to the atmosphere, from its own values. Absolute
 * pressure is never negative, reads about the barometer at key-on and 20 to 70 kPa (manifold) or the barometer (before
 * the throttle) at idle; gauge pressure reads about 0 at key-on and 0 or well below at idle. Without either, a
 * recording that hardly ever leaves the region of the atmosphere and above is absolute, one that is often near 0 is
 * gauge. Limits: common practice, no source. NaN samples are stepped over.
 * @param engineSpeed rpm, same length; undefined when not logged
 */
export function pressureReference(pressure: Float64Array, engineSpeed: Float64Array | undefined): ReferenceFinding {
  let negative = 0;
  let samples = 0;
  const keyOn: number[] = [];
  const idle: number[] = [];
  for (let i = 0; i < pressure.length; i++) {
    const p = pressure[i]!;
    if (Number.isNaN(p)) continue;
    samples++;
    if (p < -3) negative++;
    if (engineSpeed === undefined) continue;
    const n = engineSpeed[i]!;
    if (n < 50) keyOn.push(p);
    else if (n > 500 && n < 1100) idle.push(p);
  }
  if (samples > 0 && negative >= Math.max(3, 0.002 * samples)) {
    return { reference: 'gauge', evidence: `${negative} of ${samples} samples are below -3 kPa` };
  }
  if (keyOn.length >= 3) {
    const p = middle(keyOn);
    if (p >= 60 && p <= 115) return { reference: 'absolute', evidence: `${round(p)} kPa with the engine at rest` };
    if (Math.abs(p) <= 10) return { reference: 'gauge', evidence: `${round(p)} kPa with the engine at rest` };
  }
  if (idle.length >= 10) {
    const p = middle(idle);
    if (p >= 18 && p <= 115) return { reference: 'absolute', evidence: `${round(p)} kPa at idle` };
    if (p <= 12) return { reference: 'gauge', evidence: `${round(p)} kPa at idle` };
  }
  if (samples >= 20) {
    const low = quantileSorted(thin(pressure), 0.05);
    const evidence = `95 % of the samples are above ${round(low)} kPa`;
    if (low >= 85) return { reference: 'absolute', evidence };
    if (low < 10) return { reference: 'gauge', evidence };
  }
  return { reference: undefined, evidence: 'neither engine at rest nor idle in the recording tells it' };
}

/** Median barometric pressure (kPa) from key-on rows of an absolute intake pressure; NaN when there are fewer than 3. */
export function keyOnPressure(manifold: Float64Array | undefined, engineSpeed: Float64Array | undefined): number {
  if (manifold === undefined || engineSpeed === undefined) return Number.NaN;
  const found: number[] = [];
  for (let i = 0; i < manifold.length; i++) {
    if (engineSpeed[i]! < 1 && manifold[i]! > 50 && manifold[i]! < 115) found.push(manifold[i]!);
  }
  return found.length >= 3 ? middle(found) : Number.NaN;
}

function middle(values: number[]): number {
  return medianSorted(values.sort((a, b) => a - b));
}

function round(x: number): number {
  return Math.round(x * 10) / 10;
}

function thin(pressure: Float64Array): number[] {
  const stride = Math.max(1, Math.floor(pressure.length / 4000));
  const sample: number[] = [];
  for (let i = 0; i < pressure.length; i += stride) if (!Number.isNaN(pressure[i]!)) sample.push(pressure[i]!);
  return sample.length > 0 ? sample.sort((a, b) => a - b) : [Number.NaN];
}
