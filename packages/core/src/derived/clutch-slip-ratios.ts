import { median } from '../math/quantile.js';
import { FUEL_CUT } from './fuel-cut.js';
import type { HeldGear } from './held-gear.js';
import { LOAD_FRACTION } from './load-fraction.js';
import type { LearnedRatios } from './ratio-clusters.js';
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
  /** Learned at light load alone, where clutches may slip a little by design. */
  readonly light?: boolean;
}

/** Furthest (share) that a ratio learned on overrun, and one learned at light load, lies above that of the gear. Common practice, no source. */
const OFF = { overrun: 0.01, light: 0.025 } as const;

/** Shafts with a gear between them: where learned ratios agree with the profile's (0.5 % over all), those hold exactly. */
export function byProfile(drive: Drive, held: HeldGear, learned: Map<number, Ratio>): Map<number, Ratio> {
  const gears = drive.vehicle.transmission.gears;
  if (gears === undefined || !held.numbered) return learned;
  const overall = median([...learned].map(([g, { value }]) => value / (gears[g - 1] ?? Number.NaN)));
  if (!(Math.abs(overall - 1) < 0.005)) return learned;
  const ratios = new Map<number, Ratio>();
  gears.forEach((value, index) => {
    const own = learned.get(index + 1);
    const off = own === undefined ? 0 : own.value / value - 1;
    const agrees = off > -OFF.overrun && off < (own?.light ? OFF.light : OFF.overrun);
    ratios.set(index + 1, agrees || own === undefined ? { value, u: 0.0005 * value, spread: 0 } : own);
  });
  return ratios;
}

/** A learned ratio further than this from what the gear shows without load is that of a slip, not of the gear. Common practice, no source. */
const AGREES = 0.025;

/**
 * Ratio input / output of each gear: median on overrun, where no clutch is asked for torque, else over the lowest
 * third of light load. A gear with too little of both has none. Light load holds what clutches slip by design, and the
 * road speed what tyres slip: there the ratio that was learned together with both is taken, when it agrees.
 * @param learned from just this pair of speeds; undefined when there is none
 */
export function ratiosOf(
  drive: Drive,
  held: Pick<HeldGear, 'values' | 'source'>,
  n: Float64Array,
  out: Float64Array,
  learned: LearnedRatios | undefined,
): Map<number, Ratio> {
  const gear = held.values;
  const load = drive.derive(LOAD_FRACTION);
  const cut = drive.derive(FUEL_CUT);
  const samples = samplesOf(drive);
  // Of a long and dense recording every n-th row, at 10 Hz or more, tells a median as well.
  const every = Math.max(1, Math.min(Math.floor(gear.length / ENOUGH), Math.floor(0.1 / samples.spacing + 1e-6)));
  const closes = isRefusal(cut) ? new Uint8Array(gear.length) : cut.mask;
  const pulls = isRefusal(load) ? new Uint8Array(gear.length).fill(1) : load.cruiseLow;
  const { over, light } = quotients(gear, n, out, closes, pulls, every);
  const least = LEARN / (every * samples.spacing);
  const ratios = new Map<number, Ratio>();
  for (const g of new Set([...over.keys(), ...light.keys()])) {
    const some = over.get(g) ?? [];
    const more = light.get(g) ?? [];
    const closed = some.length >= least;
    if (!closed && more.length < least) continue;
    const own = middleOf(closed ? some : more);
    const fit = closed && learned?.geared ? undefined : learnedRatio(learned, held.source, g);
    const agrees = (ratio: Ratio): boolean => fit !== undefined && Math.abs(fit.value / ratio.value - 1) < AGREES;
    const taken = agrees(own) || (closed && more.length >= least && agrees(middleOf(more)));
    ratios.set(g, taken ? fit! : closed ? own : { ...own, light: true });
  }
  return ratios;
}

/** input / output of every n-th row, by gear: where clutches are closed, and else where they carry little. */
function quotients(
  gear: Float64Array,
  n: Float64Array,
  out: Float64Array,
  closed: Uint8Array,
  little: Uint8Array,
  every: number,
): { readonly over: Map<number, number[]>; readonly light: Map<number, number[]> } {
  const over = new Map<number, number[]>();
  const light = new Map<number, number[]>();
  for (let i = 0; i < gear.length; i += every) {
    if (closed[i] !== 1 && little[i] !== 1) continue;
    const g = gear[i]!;
    if (Number.isNaN(g) || !(out[i]! > 0) || !(n[i]! >= TAKEN_UP)) continue;
    listOf(closed[i] === 1 ? over : light, g).push(n[i]! / out[i]!);
  }
  return { over, light };
}

function listOf(lists: Map<number, number[]>, gear: number): number[] {
  let list = lists.get(gear);
  if (list === undefined) {
    list = [];
    lists.set(gear, list);
  }
  return list;
}

function middleOf(list: readonly number[]): Ratio {
  const value = median(list);
  const spread = 1.4826 * median(list.map((x) => Math.abs(x - value)));
  return { value, spread, u: Math.max(spread / Math.sqrt(Math.min(list.length, 25)), 0.0005 * value) };
}

/** By the number of the gear channel, else by the count of the heaps that the gear was told by. */
function learnedRatio(learned: LearnedRatios | undefined, source: HeldGear['source'], gear: number): Ratio | undefined {
  const found = source === 'gear' ? learned?.ratios.find(({ number }) => number === gear) : learned?.ratios[gear - 1];
  return found && { value: found.value, u: Math.max(found.u, 0.0005 * found.value), spread: 0 };
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
