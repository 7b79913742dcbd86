import { leastSquares } from '../../math/least-squares.js';
import type { Classes } from './particulate-filter-reading.js';

/**
 * Relative standard uncertainty of what a drop is set against: air meter 4 %, temperature of the gas where it is measured
 * and back pressure behind 7 %; gas of the profile 150 K either way where it does not say, 6 %. Common practice, no source.
 */
const FLOW_U = 0.08;
const STATED_U = 0.06;
/** Fewest samples, and classes of volume flow, that make a slope. */
const SAMPLES = 30;
const FEW = 4;
/** Without an offset the flow has to reach from this share of the flow of the profile to the flow that is judged. */
const LOW = 0.3;
/** Share of the flow of the profile that has to be reached: below it the drop is small beside the sensor. */
export const REACH = 0.5;

export interface Slope {
  /** kPa per m3/h at `flow`, offset taken out, and its standard uncertainty. */
  readonly value: number;
  readonly u: number;
  /** m3/h at which it was taken, the highest that was driven or the one of the profile, whichever is lower. */
  readonly flow: number;
  /** kPa at no flow, where the drives themselves had to tell it. */
  readonly intercept?: number;
}

/** Highest volume flow (m3/h) with at least three samples at it or above; NaN when there is none. */
export function highestFlow({ count, flow }: Classes): number {
  let above = 0;
  let sum = 0;
  for (let k = count.length - 1; k >= 0; k--) {
    above += count[k]!;
    sum += flow[k]!;
    if (above >= 3) return sum / above;
  }
  return Number.NaN;
}

/**
 * Empty classes are skipped; too few samples, or a range of flow too short, give undefined. Pressure drop of a porous wall
 * and its channels: a V + b V^2, of which a grows with the viscosity of the gas and b with its density (Darcy and
 * Forchheimer; Konstandopoulos and Johnson, SAE 890405, from memory), fitted for the gas of the profile by least squares
 * to class means, with the offset as a third coefficient where no key-on offset was taken out. The slope is
 * the chord from no flow to the flow that is judged.
 * @param wanted m3/h of the profile; @param offsetU kPa; NaN = the offset is still in the values; @param stated false where
 * the gas of the profile had to be assumed
 */
export function slopeOf(classes: Classes, wanted: number, offsetU: number, stated: boolean): Slope | undefined {
  const flows: number[] = [];
  const squares: number[] = [];
  const ones: number[] = [];
  const drops: number[] = [];
  const weights: number[] = [];
  const top = highestFlow(classes);
  if (!(top >= REACH * wanted)) return undefined;
  const flow = Math.min(wanted, top);
  let samples = 0;
  let lowest = Number.POSITIVE_INFINITY;
  for (let k = 0; k < classes.count.length; k++) {
    const count = classes.count[k]!;
    // Far beyond the flow that is judged the gas is hotter and the curve another.
    if (count === 0 || classes.flow[k]! / count > 1.5 * flow) continue;
    samples += count;
    lowest = Math.min(lowest, classes.flow[k]! / count);
    flows.push(classes.tough[k]! / count / flow);
    squares.push(classes.heavy[k]! / count / flow ** 2);
    ones.push(1);
    drops.push(classes.drop[k]! / count);
    weights.push(Math.min(count, 10));
  }
  const known = !Number.isNaN(offsetU);
  if (samples < SAMPLES || flows.length < FEW || (!known && !(lowest <= LOW * wanted))) return undefined;
  const fit = leastSquares(known ? [flows, squares] : [flows, squares, ones], drops, weights);
  if (fit === undefined || Number.isNaN(fit.variance)) return undefined;
  const [a, b, c] = fit.coefficients as unknown as [number, number, number?];
  const { inverse, variance } = fit;
  const size = fit.coefficients.length;
  // Flow is counted in units of the judged one: the drop there is a + b.
  const fitted = variance * (inverse[0]! + 2 * inverse[1]! + inverse[size + 1]!);
  const drop = a + b;
  return {
    value: drop / flow,
    u:
      Math.hypot(
        Math.sqrt(Math.max(0, fitted)),
        Math.hypot(FLOW_U, stated ? 0 : STATED_U) * drop,
        known ? offsetU : 0,
      ) / flow,
    flow,
    ...(c === undefined ? {} : { intercept: c }),
  };
}

/** Classes of several drives together. */
export function together(list: readonly Classes[]): Classes {
  const [first] = list;
  if (first === undefined) throw new RangeError('together: no classes, expected at least one');
  const sum = {
    count: first.count.slice(),
    flow: first.flow.slice(),
    tough: first.tough.slice(),
    heavy: first.heavy.slice(),
    drop: first.drop.slice(),
  };
  for (const each of list.slice(1))
    for (let k = 0; k < sum.count.length; k++) {
      sum.count[k]! += each.count[k]!;
      sum.flow[k]! += each.flow[k]!;
      sum.tough[k]! += each.tough[k]!;
      sum.heavy[k]! += each.heavy[k]!;
      sum.drop[k]! += each.drop[k]!;
    }
  return sum;
}
