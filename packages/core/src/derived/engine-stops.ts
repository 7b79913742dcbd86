import { segmentsOf } from './intervals.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { SPEED } from './speed.js';

/** The engine ran, and then stood, within the recording. */
export interface EngineStop {
  /** Last row and second of the running engine. */
  readonly row: number;
  readonly at: number;
  /** Seconds for which it was seen to stand, gaps left out. */
  readonly off: number;
  /** Switched off by somebody; by the car itself to save fuel; `open` where the recording does not tell. */
  readonly kind: 'switched-off' | 'automatic' | 'open';
  /** What it was told by. */
  readonly reason: string;
  /** False where nothing but the absence of other signs says so. */
  readonly certain: boolean;
}

/** rpm above which an engine runs by itself, and below which it stands. */
const RUNS = 300;
const STANDS = 50;
/** Seconds of running before, and of standing after, for it to be a stop and no stall or lost reading. */
const RAN = 5;
const SEEN = 3;
/** An automatic stop ends by itself within this many seconds, for battery and cabin. Common practice, no source. */
const AUTOMATIC = 180;
/** km/h of a car that rolls. */
const ROLLS = 3;
/** Codes of the selector (channel catalogue). */
const [P, R, D] = [0, 1, 3];

export const ENGINE_STOPS = recipe<readonly EngineStop[]>({
  id: 'engineStops',
  about:
    'Engine stopped (from >= 300 rpm for 5 s to < 50 rpm for 3 s): switched off or stopped by the car itself, by the flag of automatic stops, ignition, selector, or a restart within three minutes (common practice).',
  compute(drive) {
    const speed = samplesOf(drive).held('engineSpeed');
    if (speed === undefined)
      return refuse('no stop of the engine, because engineSpeed is absent', { channels: ['engineSpeed'] });
    const { time } = drive;
    const { maxStep, spacing } = samplesOf(drive);
    const running = new Uint8Array(time.length);
    const standing = new Uint8Array(time.length);
    for (let i = 0; i < time.length; i++) {
      if (speed[i]! >= RUNS) running[i] = 1;
      else if (speed[i]! < STANDS) standing[i] = 1;
    }
    const runs = segmentsOf(running, time, { minDuration: RAN, maxGap: 1, maxStep });
    const rests = segmentsOf(standing, time, { maxGap: 1, maxStep });
    const stops: EngineStop[] = [];
    for (const [k, run] of runs.entries()) {
      const next = runs[k + 1];
      const rest = rests.find(({ from }) => from > run.to);
      // A rest that begins later, or behind a gap, is not the end of this run as far as anybody saw.
      if (rest === undefined || rest.from - run.to > 5 + maxStep || (next !== undefined && next.from < rest.from))
        continue;
      if (!joined(time, run.end, rest.start, maxStep)) continue;
      const off = rest.to - rest.from + spacing;
      if (off < SEEN - 1e-6) continue;
      const again = next === undefined ? Number.POSITIVE_INFINITY : next.from - run.to;
      stops.push({ row: run.end, at: run.to, off, ...kindOf(drive, rest.start, rest.end, off, again) });
    }
    return stops;
  },
});

function joined(time: Float64Array, from: number, to: number, maxStep: number): boolean {
  for (let i = from; i < to; i++) if (time[i + 1]! - time[i]! > maxStep) return false;
  return true;
}

type Told = Pick<EngineStop, 'kind' | 'reason' | 'certain'>;

/** @param again seconds until the engine runs again, infinite when it does not. */
function kindOf(drive: Drive, start: number, end: number, off: number, again: number): Told {
  const samples = samplesOf(drive);
  const some = (id: string, holds: (x: number) => boolean, moving = false): boolean => {
    const channel = drive.channel(id);
    const values = samples.held(id);
    if (channel === undefined || values === undefined || (moving && channel.quality.constant)) return false;
    for (let i = start; i <= end; i++) if (holds(values[i]!)) return true;
    return false;
  };
  const automatic = (reason: string): Told => ({ kind: 'automatic', reason, certain: true });
  const switchedOff = (reason: string, certain = true): Told => ({ kind: 'switched-off', reason, certain });
  if (some('startStopActive', (x) => x > 0)) return automatic('the flag of automatic stops was set');
  const speed = drive.derive(SPEED);
  if (!isRefusal(speed) && speed.values[end]! > ROLLS && speed.values[start]! > ROLLS)
    return automatic('the car rolled on without its engine');
  // A flag that is never set may not be served.
  if (some('ignitionSwitch', (x) => x < 0.5, true)) return switchedOff('the ignition was switched off');
  if (again < AUTOMATIC) return automatic(`the engine ran again after ${Math.round(again)} s`);
  if (off >= AUTOMATIC || Number.isFinite(again))
    return switchedOff(`it stood for ${Math.round(Math.min(off, again))} s`);
  if (some('selector', (x) => x === P)) return switchedOff('the selector stood in P');
  if (some('selector', (x) => x === R || x >= D)) return automatic('the selector stayed in a gear');
  const braked = drive.channel('brakeSwitch') !== undefined && !some('brakeSwitch', (x) => x < 0.5);
  if (braked)
    return {
      kind: 'open',
      reason: 'the brake was held to the end of the recording, as in an automatic stop',
      certain: false,
    };
  return switchedOff('nothing speaks for an automatic stop', false);
}
