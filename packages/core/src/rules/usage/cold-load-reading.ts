import { exceeds } from '../../derived/exceeds.js';
import type { LoadFraction } from '../../derived/load-fraction.js';
import { coldOil, type OilEstimate } from '../../derived/oil-estimate.js';
import { edgesUncertainty, maskedSeconds } from '../../derived/row-seconds.js';
import type { Limit } from '../rule.js';

/** No petrol engine of this kind has a lower rev limit, rpm; common practice, no source. Used only to rule high revs out. */
const LOWEST_LIMIT = 5500;

export interface ColdLoadInputs {
  readonly oil: OilEstimate;
  readonly load: LoadFraction | undefined;
  /** rpm, held; undefined when absent. */
  readonly engineSpeed: Float64Array | undefined;
  readonly revLimit: number | undefined;
  readonly time: Float64Array;
  readonly seconds: Float64Array;
  /** Fresh values per second of the slower of load and engine speed. */
  readonly hz: number;
  readonly limits: Readonly<Record<string, Limit>>;
}

/** Hard work of one drive while the oil was cold, in seconds. */
export interface ColdLoadReading {
  /** Beyond doubt, as read, and as much as it could have been. */
  readonly surely: number;
  readonly likely: number;
  readonly possibly: number;
  /** Standard uncertainty of `surely`, s: ends of the stretches. */
  readonly uncertainty: number;
  /** Seconds of running with cold oil. */
  readonly cold: number;
  /** Coldest oil of the running engine, degC. */
  readonly coldest: number;
  /** Stretches of hard work with cold oil. */
  readonly stretches: readonly ColdStretch[];
  readonly hz: number;
}

export interface ColdStretch {
  readonly from: number;
  readonly to: number;
  /** Coldest oil in it, degC; highest engine speed, rpm; highest load fraction, 1. NaN when not recorded. */
  readonly oil: number;
  readonly engineSpeed: number;
  readonly load: number;
}

/** Stretches of hard work closer together than this (s) are told as one. */
const TOGETHER = 2;

export function readColdLoad(inputs: ColdLoadInputs): ColdLoadReading {
  const { oil, load, engineSpeed, time, seconds, limits } = inputs;
  const rows = time.length;
  const cold = coldOil(oil, limits.oil!.value);
  const hard = hardMasks(inputs);
  const and = (a: Uint8Array, b: Uint8Array): Uint8Array => a.map((x, i) => x & b[i]!);
  const surely = and(cold.surely, hard.surely);
  const likely = and(cold.likely, hard.likely);
  const possibly = and(cold.possibly, hard.possibly);
  const sure = maskedSeconds(surely, seconds);
  let coldest = Number.NaN;
  for (let i = 0; i < rows; i++) if (cold.likely[i] === 1 && !(oil.values[i]! >= coldest)) coldest = oil.values[i]!;
  const stretches: { from: number; to: number; oil: number; engineSpeed: number; load: number }[] = [];
  for (let i = 0; i < rows; i++) {
    if (likely[i] !== 1) continue;
    const to = time[i]! + seconds[i]!;
    const [n, l] = [engineSpeed?.[i] ?? Number.NaN, load?.values[i] ?? Number.NaN];
    const last = stretches[stretches.length - 1];
    if (last === undefined || time[i]! - last.to > TOGETHER) {
      stretches.push({ from: time[i]!, to, oil: oil.values[i]!, engineSpeed: n, load: l });
      continue;
    }
    last.to = to;
    last.oil = Math.min(last.oil, oil.values[i]!);
    if (!(n <= last.engineSpeed)) last.engineSpeed = n;
    if (!(l <= last.load)) last.load = l;
  }
  return {
    surely: sure.total,
    likely: maskedSeconds(likely, seconds).total,
    possibly: maskedSeconds(possibly, seconds).total,
    uncertainty: edgesUncertainty(sure.stretches, 1 / inputs.hz),
    cold: maskedSeconds(cold.likely, seconds).total,
    coldest,
    stretches,
    hz: inputs.hz,
  };
}

/** 1 where the engine works hard beyond doubt, as read, or possibly (because load or rev limit is not known). */
function hardMasks({ load, engineSpeed, revLimit, time, limits }: ColdLoadInputs): {
  readonly surely: Uint8Array;
  readonly likely: Uint8Array;
  readonly possibly: Uint8Array;
} {
  const rows = time.length;
  const surely = new Uint8Array(rows);
  const likely = new Uint8Array(rows);
  const possibly = new Uint8Array(rows);
  const fraction = limits.load!.value;
  const share = limits.engineSpeed!.value / 100;
  const valued = load !== undefined && load.basis !== 'calculated-load';
  for (let i = 0; i < rows; i++) {
    const rpm = engineSpeed?.[i] ?? Number.NaN;
    if (revLimit === undefined) {
      // Without a limit high revs are only possible, and only from the lowest limit on that there is.
      if (rpm >= share * LOWEST_LIMIT) possibly[i] = 1;
    } else if (rpm >= share * revLimit) {
      surely[i] = 1;
      likely[i] = 1;
      possibly[i] = 1;
    }
    if (load === undefined) {
      possibly[i] = 1;
      continue;
    }
    if (valued) {
      const x = load.values[i]!;
      if (Number.isNaN(x)) continue;
      const told = exceeds(x, load.u * x, fraction, '>=');
      if (told === 'beyond') surely[i] = 1;
      if (x >= fraction) likely[i] = 1;
      if (x >= fraction) possibly[i] = 1;
    } else {
      // Masks only: their own threshold is that of the shared word.
      if (load.high[i] === 1) surely[i] = 1;
      if (load.high[i] === 1) likely[i] = 1;
      if (load.high[i] === 1 || (!load.highComplete && load.cruiseLow[i] === 0)) possibly[i] = 1;
    }
  }
  return { surely, likely, possibly };
}
