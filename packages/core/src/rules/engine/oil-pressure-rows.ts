import { type Segment, segmentsOf } from '../../derived/intervals.js';

/** Without road speed: the engine turning this slowly (rpm) is idling; a car in gear that slow would stall. Common practice, no source. */
const IDLES = { from: 400, to: 1000 };

/** Idle by engine speed alone. */
export function idleByEngineSpeed(rpm: Float64Array, time: Float64Array): Segment[] {
  const mask = new Uint8Array(rpm.length);
  for (let i = 0; i < rpm.length; i++) if (rpm[i]! >= IDLES.from && rpm[i]! <= IDLES.to) mask[i] = 1;
  return segmentsOf(mask, time, { maxStep: 5 });
}
