import type { Ratio } from './clutch-slip-ratios.js';

/** A pair of shaft and road speed, one entry a measurement. */
export interface StrayPair {
  /** s */
  readonly at: Float64Array;
  /** rpm */
  readonly input: Float64Array;
  /** Output side as measured (km/h, or rpm of a shaft), and what it is read to. */
  readonly output: Float64Array;
  readonly quantum: number;
}

/** Half of the time (s) over which a ratio must stay what it is: a shift moves it by a tenth and more meanwhile. */
const HALF = 0.3;
/** Change of ln(ratio) over that time that is none. */
const STEADY = 0.03;
/** A gear is taken to reach from this far below its ratio to this far above: tyres slip under load, slips below are no finding. */
const BELOW = 0.03;
const ABOVE = 0.05;

/**
 * 1 where both sides run at a steady ratio that lies between two gears and is neither: a slipping clutch looks like that,
 * and so does a gear that was not learned. NaN is no sample. Gears below `lowest` are not judged, so their neighbourhood
 * is left out. Common practice, no source.
 * @param ratios input / output by gear
 */
export function strays(pair: StrayPair, ratios: ReadonlyMap<number, Ratio>, lowest: number): Uint8Array {
  const { at, input, output, quantum } = pair;
  const mask = new Uint8Array(at.length);
  const known = [...ratios].map(([gear, { value }]) => ({ gear, value })).sort((a, b) => b.value - a.value);
  const [from, to] = [known.findIndex(({ gear }) => gear >= lowest - 1), known.length - 1];
  if (from < 0 || from >= to) return mask;
  let a = 0;
  let b = 0;
  for (let k = 0; k < at.length; k++) {
    while (at[a]! < at[k]! - HALF - 1e-6) a++;
    while (b + 1 < at.length && at[b + 1]! <= at[k]! + HALF + 1e-6) b++;
    const ratio = input[k]! / output[k]!;
    if (!(ratio < known[from]!.value * (1 - BELOW) && ratio > known[to]!.value * (1 + ABOVE))) continue;
    if (known.some(({ value }) => ratio >= value * (1 - BELOW) && ratio <= value * (1 + ABOVE))) continue;
    if (at[b]! - at[a]! < HALF) continue;
    const change = Math.abs(Math.log(input[b]! / output[b]!) - Math.log(input[a]! / output[a]!));
    if (change <= STEADY + quantum / output[k]!) mask[k] = 1;
  }
  return mask;
}
