import type { PullAway } from '../../derived/pull-aways.js';
import { ONE_SIDED_95 } from '../../math/normal-quantile.js';
import type { Limit } from '../rule.js';

/** A speed this fast settles a first second by one standard uncertainty; slower ones only by their bounds (Hz). */
export const SETTLES = 5;
/** Clocks of loggers wander by this much: 4.99 Hz is 5 Hz. */
const SLACK = 0.95;
/** With the pedal unknown: no turbocharged engine at 60 % pedal against the brake stays below this (rpm, common practice). */
const STALLS = 1500;
/** Share of the held engine speed that must still be there when the car begins to move: revving before is no hold. */
const STILL_HELD = 0.7;
/** Standard uncertainty of an acceleration sensor's first second: slope and tilt of about 3 % (m/s2, common practice). */
const SENSOR = 0.3;
/** A start under the launch flag reaches at least this (km/h). */
const UNDER_WAY = 20;

type Answer = 'yes' | 'no' | 'untold';

/** One start from standstill, judged. */
export interface JudgedStart {
  readonly answer: Answer;
  readonly from: number;
  readonly to: number;
  /** m/s2 over the first second, NaN where wheelspin hides it, with standard uncertainty. */
  readonly acceleration: number;
  readonly uncertainty: number;
  readonly heldEngineSpeed: number;
  readonly pedal: number;
  readonly speedReached: number;
  readonly byFlag: boolean;
  /** The acceleration lies within its uncertainty of the limit. */
  readonly near: boolean;
  /** The pedal was not recorded: the held engine speed alone tells it from a brisk pull-away. */
  readonly withoutPedal: boolean;
  /** For `untold`: only the rate is too low, and the best value says that it was one. */
  readonly likely: boolean;
  /** What would have told, when it is `untold`. */
  readonly channels: readonly string[];
  readonly conditions: readonly string[];
}

export interface StartFacts {
  /** Fresh speeds per second. */
  readonly hz: number;
  /** Engine speed (rpm) in the last row at rest, NaN when not recorded. */
  readonly speedAtStart: number;
  /** Launch flag on around the start; undefined when not recorded. */
  readonly flag: boolean | undefined;
}

/** Was this start a launch? Three answers: `untold` names what would have told. */
export function judgeStart(start: PullAway, facts: StartFacts, limits: Readonly<Record<string, Limit>>): JudgedStart {
  const { hz, flag } = facts;
  const gain = gainOf(start, limits, hz);
  const hold = holdOf(start, facts, limits);
  const pedal = pedalOf(start, limits);
  const withoutPedal = Number.isNaN(start.pedalMax);
  const byFlag = flag === true && start.speedReached >= UNDER_WAY;
  const channels: string[] = [];
  const conditions: string[] = [];
  let answer: Answer;
  if (byFlag) answer = 'yes';
  else if (gain.answer === 'no' || hold === 'no' || pedal === 'no') answer = 'no';
  else {
    if (gain.answer === 'untold') conditions.push(gain.needs);
    if (hold === 'brief') conditions.push(`engineSpeed and accelerator at >= ${SETTLES} Hz`);
    else if (hold === 'untold')
      channels.push(
        ...(Number.isNaN(start.heldEngineSpeed) ? ['engineSpeed'] : []),
        ...(withoutPedal ? ['pedalPosition'] : []),
      );
    if (hold === 'untold' && channels.length === 0) conditions.push('accelerator pressed to the floor once');
    if (pedal === 'untold') {
      // An engine held at launch speed until the car moves, and this acceleration: that is no brisk pull-away.
      if (!withoutPedal) conditions.push('accelerator pressed to the floor once');
      else if (hold !== 'yes') channels.push('pedalPosition');
    }
    answer = channels.length + conditions.length > 0 ? 'untold' : 'yes';
  }
  const reached = start.timeTo40.value;
  return {
    answer,
    from: start.from,
    to: start.from + (reached > 0 && reached < 6 ? reached : 3),
    acceleration: gain.value,
    uncertainty: gain.u,
    heldEngineSpeed: start.heldEngineSpeed,
    pedal: start.pedalMax,
    speedReached: start.speedReached,
    byFlag,
    near: answer === 'yes' && !byFlag && gain.near,
    likely:
      answer === 'untold' && channels.length === 0 && gain.answer === 'untold' && gain.best && conditions.length === 1,
    withoutPedal,
    channels: [...new Set(channels)],
    conditions: [...new Set(conditions)],
  };
}

interface GainAnswer {
  readonly answer: Answer;
  readonly value: number;
  readonly u: number;
  readonly near: boolean;
  /** The value reaches the limit within one standard uncertainty. */
  readonly best: boolean;
  readonly needs: string;
}

/** Mean acceleration over the first second, or the time to 40 km/h: either is enough. */
function gainOf(start: PullAway, limits: Readonly<Record<string, Limit>>, hz: number): GainAnswer {
  const least = limits.acceleration!.value;
  const latest = limits.timeTo40!.value;
  const sensed = !Number.isNaN(start.sensed) && !start.undriven;
  // Driven wheels can spin: where a sensor of the car's own movement is there, it has the last word.
  if (start.wheelspin || (sensed && start.sensed < 0.7 * start.meanAcceleration.value)) {
    if (!sensed) {
      const needs = 'longitudinalAcceleration or the speed of undriven wheels (the wheels spun)';
      return { answer: 'untold', value: Number.NaN, u: Number.NaN, near: false, best: false, needs };
    }
    return decide(start.sensed, SENSOR, least, hz);
  }
  const { value, u } = start.meanAcceleration;
  const gain = decide(value, u, least, hz);
  if (gain.answer === 'yes' && !gain.near) return gain;
  // In a slow log the begin of movement is a guess, and with it the first second. That it was no launch is proven only
  // when no second soon after was that steep.
  const steep = hz < SLACK * SETTLES && start.steepest >= least;
  if (gain.answer === 'no' && steep) return { ...gain, answer: 'untold', best: true, needs: rateNeeded(hz) };
  const time = start.timeTo40;
  if (time.value + ONE_SIDED_95 * time.u <= latest) return { ...gain, answer: 'yes', near: false, best: true };
  const maybe = time.value - ONE_SIDED_95 * time.u <= latest;
  if (gain.answer === 'yes' || !maybe) return gain;
  const best = gain.best || time.value <= latest;
  if (hz < SLACK * SETTLES) return { ...gain, answer: 'untold', best, needs: rateNeeded(hz) };
  return best ? { ...gain, answer: 'yes', near: true, best } : gain;
}

function decide(value: number, u: number, least: number, hz: number): GainAnswer {
  const reach = ONE_SIDED_95 * u;
  const needs = rateNeeded(hz);
  // Where hold and pedal say launch already, a reading one standard uncertainty short of the limit still is one: the
  // begin of movement is drawn early, so that the first second reads low.
  const best = value + u >= least;
  if (value - reach >= least) return { answer: 'yes', value, u, near: false, best, needs };
  if (value + reach < least) return { answer: 'no', value, u, near: false, best, needs };
  // Within its uncertainty of the limit: a fast log counts by `best` and says so, a slow one cannot.
  if (hz < SLACK * SETTLES) return { answer: 'untold', value, u, near: true, best, needs };
  return { answer: best ? 'yes' : 'no', value, u, near: true, best, needs };
}

function rateNeeded(hz: number): string {
  return `vehicleSpeed at >= ${hz < SLACK * SETTLES ? SETTLES : 10} Hz`;
}

/** Was the engine held against the brake before? `brief` = by one sample of a slow log only. */
function holdOf(start: PullAway, facts: StartFacts, limits: Readonly<Record<string, Limit>>): Answer | 'brief' {
  const engine = limits.heldEngineSpeed!.value;
  const pedal = limits.heldPedal!.value;
  const { heldEngineSpeed, pedalAtHold, pedalKnown, brake, sure } = start;
  const still = Number.isNaN(facts.speedAtStart) || facts.speedAtStart >= STILL_HELD * engine;
  const speed = heldEngineSpeed >= engine && still;
  if (speed && sure.heldEngineSpeed >= engine) return 'yes';
  // Without a brake channel, a car that stands at this much pedal is held by something.
  const byPedal: Answer =
    brake === false ? 'no' : pedalAtHold >= pedal ? 'yes' : Number.isNaN(pedalAtHold) || !pedalKnown ? 'untold' : 'no';
  if (byPedal === 'yes' && sure.pedalAtHold >= pedal) return 'yes';
  // One sample of a slow log: the begin of a brisk start looks like that as well.
  if (speed || byPedal === 'yes') return 'brief';
  if (Number.isNaN(heldEngineSpeed)) return 'untold';
  if (byPedal === 'untold' && Number.isNaN(pedalAtHold)) return heldEngineSpeed < STALLS ? 'no' : 'untold';
  return byPedal;
}

function pedalOf(start: PullAway, limits: Readonly<Record<string, Limit>>): Answer {
  if (start.pedalMax >= limits.pedal!.value) return 'yes';
  return Number.isNaN(start.pedalMax) || !start.pedalKnown ? 'untold' : 'no';
}
