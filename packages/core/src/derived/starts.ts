import { ENGINE_STOPS } from './engine-stops.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { freshRate } from './refresh.js';
import { samplesOf } from './samples.js';

/** The engine was started within the recording, by a starter that somebody turned on. */
export interface EngineStart {
  /** Seconds of the first rotation seen. */
  readonly from: number;
  /** Seconds at which it turned by itself; NaN when it never did. */
  readonly to: number;
  /** s from first rotation to running, in the middle of what the sampling leaves open. */
  readonly duration: number;
  /** Standard uncertainty of the duration, s: both ends lie anywhere between two samples. */
  readonly u: number;
  /** Coolant (else oil, else NaN) at the first rotation, degC. */
  readonly temperature: number;
}

/** Codes of the selector (channel catalogue). */
const [REVERSE, DRIVE] = [1, 3];
/** rpm: standing, turning by the starter, turning by itself. */
const STANDS = 20;
const RUNS = 500;
/** Seconds for which it has to keep running, and longest time that the starter is followed. */
const SUSTAINED = 1;
const LONGEST = 30;
/** A pause of the starter that ends an attempt, s. */
const PAUSE = 1;

export const ENGINE_STARTS = recipe<readonly EngineStart[]>({
  id: 'engineStarts',
  about:
    'Starts of the engine: from the first rotation out of standstill until above 500 rpm for a second; restarts after an automatic stop (its flag, or the selector in a gear) are left out.',
  compute(drive) {
    const samples = samplesOf(drive);
    const channel = drive.channel('engineSpeed');
    const speed = samples.held('engineSpeed');
    if (channel === undefined || speed === undefined)
      return refuse('no start of the engine, because engineSpeed is absent', { channels: ['engineSpeed'] });
    const { hz } = freshRate(channel);
    const warmth = samples.held('coolantTemperature') ?? samples.held('engineOilTemperature');
    const spacing = hz > 0 ? Math.max(1 / hz, samples.spacing) : samples.spacing;
    const automatic = automaticStops(drive);
    const { time } = drive;
    const starts: EngineStart[] = [];
    for (let i = 1; i < time.length; i++) {
      // Out of a standstill that the recording holds: one that begins while the engine turns shows no start.
      if (!(speed[i]! >= STANDS && speed[i - 1]! < STANDS) || time[i]! - time[i - 1]! > samples.maxStep) continue;
      const end = runningFrom(speed, time, i, samples.maxStep);
      const until = end < 0 ? lastTurning(speed, time, i) : end;
      const restarted = automatic.some(({ at, off }) => time[i]! >= at && time[i]! <= at + off + 3);
      if (!restarted)
        starts.push({
          from: time[i]!,
          to: end < 0 ? Number.NaN : time[end]!,
          duration: time[until]! - time[i]!,
          // The first rotation lies before its sample, running before its own: equal on the mean, each uniform.
          u: (spacing / Math.sqrt(12)) * Math.SQRT2,
          temperature: warmth?.[i] ?? Number.NaN,
        });
      i = until;
    }
    return starts;
  },
});

/**
 * Stops that the car made itself, as far as the start is concerned: by their flag, or in a gear. That it ran again soon
 * says nothing here: somebody who tests the warm start does just that.
 */
function automaticStops(drive: Drive): readonly { readonly at: number; readonly off: number }[] {
  const stops = drive.derive(ENGINE_STOPS);
  if (isRefusal(stops)) return [];
  const samples = samplesOf(drive);
  const flag = samples.held('startStopActive');
  const selector = samples.held('selector');
  return stops.filter(({ row, at, off }) => {
    for (let i = row + 1; i < drive.time.length && drive.time[i]! <= at + off; i++)
      if (flag !== undefined && flag[i]! > 0) return true;
      else if (selector !== undefined && (selector[i] === REVERSE || selector[i]! >= DRIVE)) return true;
    return false;
  });
}

/** First row above 500 rpm that stays there for a second; -1 when there is none before the starter pauses. */
function runningFrom(speed: Float64Array, time: Float64Array, from: number, maxStep: number): number {
  let up = -1;
  let still = Number.NaN;
  for (let i = from; i < time.length && time[i]! - time[from]! <= LONGEST; i++) {
    if (i > from && time[i]! - time[i - 1]! > maxStep) return -1;
    if (speed[i]! >= RUNS) {
      if (up < 0) up = i;
      if (time[i]! - time[up]! >= SUSTAINED) return up;
    } else up = -1;
    if (speed[i]! >= STANDS) still = Number.NaN;
    else if (Number.isNaN(still)) still = time[i]!;
    else if (time[i]! - still >= PAUSE) return -1;
  }
  return -1;
}

function lastTurning(speed: Float64Array, time: Float64Array, from: number): number {
  let last = from;
  for (let i = from; i < time.length && time[i]! - time[last]! <= PAUSE; i++) if (speed[i]! >= STANDS) last = i;
  return last;
}
