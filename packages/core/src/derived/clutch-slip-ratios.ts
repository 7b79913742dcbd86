import { median } from '../math/quantile.js';
import { FUEL_CUT } from './fuel-cut.js';
import type { HeldGear } from './held-gear.js';
import { LOAD_FRACTION } from './load-fraction.js';
import { type Drive, isRefusal } from './recipe.js';
import { samplesOf } from './samples.js';

/** Input side below this, in rpm, and the car may still be taken up from rest. Common practice, no source. */
export const TAKEN_UP = 1100;
/** Seconds of overrun (else of light load) that a gear's ratio is learned from. */
const LEARN = 1.5;
/** Rows that tell the ratios of all gears. */
const ENOUGH = 50_000;

export interface Ratio {
  readonly value: number;
  /** Standard uncertainty, and scatter of the samples. */
  readonly u: number;
  readonly spread: number;
}

/** Shafts with a gear between them: where learned ratios agree with the profile's (0.5 % over all), those hold exactly. */
export function byProfile(drive: Drive, held: HeldGear, learned: Map<number, Ratio>): Map<number, Ratio> {
  const gears = drive.vehicle.transmission.gears;
  if (gears === undefined || !held.numbered) return learned;
  const overall = median([...learned].map(([g, { value }]) => value / (gears[g - 1] ?? Number.NaN)));
  if (!(Math.abs(overall - 1) < 0.005)) return learned;
  const ratios = new Map<number, Ratio>();
  gears.forEach((value, index) => {
    const own = learned.get(index + 1);
    const agrees = own === undefined || Math.abs(own.value / value - 1) < 0.01;
    ratios.set(index + 1, agrees ? { value, u: 0.0005 * value, spread: 0 } : own);
  });
  return ratios;
}

/**
 * Ratio input / output of each gear: median on overrun, where no clutch is asked for torque, else over the lowest
 * third of light load. A gear with too little of both has none.
 */
export function ratiosOf(drive: Drive, gear: Float64Array, n: Float64Array, out: Float64Array): Map<number, Ratio> {
  const load = drive.derive(LOAD_FRACTION);
  const cut = drive.derive(FUEL_CUT);
  const samples = samplesOf(drive);
  const over = new Map<number, number[]>();
  const light = new Map<number, number[]>();
  // Of a long and dense recording every n-th row, at 10 Hz or more, tells a median as well.
  const every = Math.max(1, Math.min(Math.floor(gear.length / ENOUGH), Math.floor(0.1 / samples.spacing + 1e-6)));
  for (let i = 0; i < gear.length; i += every) {
    const g = gear[i]!;
    if (Number.isNaN(g) || !(out[i]! > 0) || !(n[i]! >= TAKEN_UP)) continue;
    const list =
      !isRefusal(cut) && cut.mask[i] === 1 ? over : isRefusal(load) || load.cruiseLow[i] === 1 ? light : undefined;
    if (list === undefined) continue;
    const found = list.get(g);
    if (found === undefined) list.set(g, [n[i]! / out[i]!]);
    else found.push(n[i]! / out[i]!);
  }
  const least = LEARN / (every * samples.spacing);
  const ratios = new Map<number, Ratio>();
  for (const g of new Set([...over.keys(), ...light.keys()])) {
    const some = over.get(g) ?? [];
    const more = light.get(g) ?? [];
    const list = some.length >= least ? some : more;
    if (list.length < least) continue;
    const value = median(list);
    const spread = 1.4826 * median(list.map((x) => Math.abs(x - value)));
    ratios.set(g, { value, spread, u: Math.max(spread / Math.sqrt(Math.min(list.length, 25)), 0.0005 * value) });
  }
  return ratios;
}

/**
 * Ratios whose samples scatter are none. Where the profile names the gears, overall ratio / gear ratio must be the same
 * for all; one that is off by more than 2 % was learned in some other state and is replaced by what the others say.
 */
export function plausible(drive: Drive, held: HeldGear, ratios: Map<number, Ratio>): Map<number, Ratio> {
  for (const [g, ratio] of ratios) if (ratio.spread > 0.015 * ratio.value) ratios.delete(g);
  const gears = drive.vehicle.transmission.gears;
  if (gears === undefined || !held.numbered) return ratios;
  const overall = median([...ratios].map(([g, ratio]) => ratio.value / (gears[g - 1] ?? Number.NaN)));
  for (const [g, { value }] of ratios) {
    const expected = overall * (gears[g - 1] ?? Number.NaN);
    if (Math.abs(value / expected - 1) > 0.02) ratios.set(g, { value: expected, u: 0.01 * expected, spread: 0 });
  }
  return ratios;
}
