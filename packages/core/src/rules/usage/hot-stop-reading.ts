import type { Bmep } from '../../derived/bmep.js';
import type { Boost } from '../../derived/boost.js';
import type { EngineStop } from '../../derived/engine-stops.js';
import { edgesUncertainty, maskedSeconds } from '../../derived/row-seconds.js';
import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import type { Channel } from '../../recording/recording.js';
import type { Limit } from '../rule.js';

/** A pump that ran this long (s) after the stop, at more than this (% or rpm), cools the turbocharger. Common practice. */
const PUMPED = 5;
const PUMPS = 5;

/** A stop of the engine with what went before. */
export interface JudgedStop extends EngineStop {
  /** Seconds of high load in the window before: beyond doubt, as read, and as much as it could have been. */
  readonly surely: number;
  readonly likely: number;
  readonly possibly: number;
  readonly uncertainty: number;
  /** Seconds of the window that were recorded with the engine running. */
  readonly recorded: number;
  /** Highest mean effective pressure (bar) and boost (kPa) in the window; NaN when not known. */
  readonly bmep: number;
  readonly boost: number;
  /** Seconds from the last high load to the stop; NaN when there was none. */
  readonly cooled: number;
  /** The electric coolant pump ran on. */
  readonly pumped: boolean;
  readonly samples: number;
}

export interface HotStopInputs {
  readonly time: Float64Array;
  readonly seconds: Float64Array;
  readonly bmep: Bmep | undefined;
  readonly boost: Boost | undefined;
  /** 1 where the load was low beyond doubt: idle, or a load fraction below 0.4. */
  readonly low: Uint8Array;
  readonly pumps: readonly Channel[];
  /** Fresh values per second behind the load. */
  readonly hz: number;
  readonly limits: Readonly<Record<string, Limit>>;
}

export function judgeStop(stop: EngineStop, inputs: HotStopInputs): JudgedStop {
  const { time, seconds, bmep, boost, low, limits, hz } = inputs;
  const window = limits.window!.value;
  let start = stop.row;
  while (start > 0 && time[start - 1]! >= stop.at - window - 1e-6) start--;
  const rows = stop.row + 1 - start;
  const surely = new Uint8Array(rows);
  const likely = new Uint8Array(rows);
  const possibly = new Uint8Array(rows);
  let [recorded, topBmep, topBoost, last] = [0, Number.NaN, Number.NaN, Number.NaN];
  const shrink = 1 - ONE_SIDED_95 * (bmep?.uncertainty ?? 0);
  const guard = ONE_SIDED_95 * (boost?.u ?? 0);
  for (let i = start; i <= stop.row; i++) {
    recorded += seconds[i]!;
    const p = bmep?.values[i] ?? Number.NaN;
    const b = boost?.values[i] ?? Number.NaN;
    if (!(p <= topBmep)) topBmep = Number.isNaN(p) ? topBmep : p;
    if (!(b <= topBoost)) topBoost = Number.isNaN(b) ? topBoost : b;
    if (p * shrink > limits.bmep!.value || b - guard > limits.boost!.value) surely[i - start] = 1;
    const hot = p > limits.bmep!.value || b > limits.boost!.value;
    if (hot) {
      likely[i - start] = 1;
      last = time[i]!;
    }
    if (hot || (Number.isNaN(p) && Number.isNaN(b) && low[i] === 0)) possibly[i - start] = 1;
  }
  const own = seconds.subarray(start, stop.row + 1);
  const sure = maskedSeconds(surely, own);
  return {
    ...stop,
    surely: sure.total,
    likely: maskedSeconds(likely, own).total,
    possibly: maskedSeconds(possibly, own).total,
    uncertainty: edgesUncertainty(sure.stretches, 1 / hz),
    recorded,
    bmep: topBmep,
    boost: topBoost,
    cooled: Number.isNaN(last) ? Number.NaN : stop.at - last,
    pumped: inputs.pumps.some((pump) => ranOn(pump, time, seconds, stop)),
    samples: Math.max(1, Math.round(sure.total * hz)),
  };
}

function ranOn(pump: Channel, time: Float64Array, seconds: Float64Array, stop: EngineStop): boolean {
  let ran = 0;
  for (let i = stop.row + 1; i < time.length && time[i]! <= stop.at + stop.off; i++)
    if (pump.values[i]! > PUMPS) ran += seconds[i]!;
  return ran >= PUMPED;
}
