import { type Segment, segmentsOf } from '../../derived/intervals.js';
import { heldValues } from '../../derived/refresh.js';
import { gathered } from '../../math/gather.js';
import type { Channel } from '../../recording/recording.js';
import type { OwnSamples } from './oil-pressure-own.js';
import { windowMinimum } from './oil-pressure-reading.js';

/** Without road speed: the engine turning this slowly (rpm) is idling; a car in gear that slow would stall. Common practice, no source. */
const IDLES = { from: 400, to: 1000 };
/** Engine speed may move this much (rpm) within half a second around for a pressure to belong to it. */
const STEADY = 250;

/** Idle by engine speed alone. */
export function idleByEngineSpeed(rpm: Float64Array, time: Float64Array): Segment[] {
  const mask = new Uint8Array(rpm.length);
  for (let i = 0; i < rpm.length; i++) if (rpm[i]! >= IDLES.from && rpm[i]! <= IDLES.to) mask[i] = 1;
  return segmentsOf(mask, time, { maxStep: 5 });
}

/** Fresh pressures of hot oil at steady engine speed. */
export function ownSamplesOf(
  time: Float64Array,
  fresh: Int32Array,
  rpm: Float64Array,
  pressure: Float64Array,
  hot: Uint8Array,
  oil: Channel | undefined,
): OwnSamples {
  const slowest = windowMinimum(rpm, time, 0.5);
  const fastest = windowMinimum(
    rpm.map((n) => -n),
    time,
    0.5,
  );
  const held = oil === undefined ? undefined : heldValues(oil.values, time);
  const rows = fresh.filter((i) => {
    const low = slowest[i]!;
    return (
      hot[i] === 1 && low >= 500 && -fastest[i]! - low <= STEADY && !(held !== undefined && Number.isNaN(held[i]!))
    );
  });
  return {
    time: gathered(time, rows),
    rpm: gathered(slowest, rows),
    oil: held === undefined ? new Float64Array(rows.length).fill(Number.NaN) : gathered(held, rows),
    pressure: gathered(pressure, rows),
  };
}
