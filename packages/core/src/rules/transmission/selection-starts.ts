/** Starts from standstill by the gear that the car first moved in. */
export interface FirstGears {
  /** s of each start in first and in second gear. */
  readonly inFirst: readonly number[];
  readonly inSecond: readonly number[];
  /** Starts in second gear in which first gear was wanted (target gear 1). */
  readonly requested: number;
  /** Starts in second gear with the pedal beyond 60 %. */
  readonly hard: number;
}

interface Signals {
  readonly time: Float64Array;
  /** km/h */
  readonly speed: Float64Array;
  readonly gear: Float64Array;
  readonly selector: Float64Array;
  readonly target: Float64Array | undefined;
  /** % of travel */
  readonly pedal: Float64Array | undefined;
  readonly mode: Float64Array | undefined;
  readonly fluid: Float64Array | undefined;
}

/** Standing (km/h, s) before a start counts: a car that still rolls may stay in second gear. */
const STANDING = 1;
const STOOD = 1.5;
/** The gear is read as the car passes these speeds (km/h). */
const FROM = 1.5;
const TO = 6;
/** Pedal (%) at which every automatic wants first gear. */
const HARD = 60;
/** Modes that start in second gear on purpose: eco and winter (channel catalogue). */
const SOFT_MODES = [0, 5];
const COLD = 20;

/** NaN is no sample. Starts in D (or sport, manual) after standing still; modes made for second-gear starts and cold fluid stay out. */
export function firstGears({ time, speed, gear, selector, target, pedal, mode, fluid }: Signals): FirstGears {
  const inFirst: number[] = [];
  const inSecond: number[] = [];
  let requested = 0;
  let hard = 0;
  let stoodFrom = -1;
  for (let i = 0; i < time.length; i++) {
    if (speed[i]! < STANDING) {
      if (stoodFrom < 0) stoodFrom = i;
      continue;
    }
    const stood = stoodFrom >= 0 && time[i]! - time[stoodFrom]! >= STOOD;
    stoodFrom = -1;
    if (!stood || !(selector[i]! >= 3) || SOFT_MODES.includes(mode?.[i] ?? -1) || (fluid?.[i] ?? 99) < COLD) continue;
    let first = 0;
    let second = 0;
    let wanted = 0;
    let most = 0;
    for (let k = i; k < time.length && speed[k]! < TO && time[k]! - time[i]! < 4; k++) {
      if (gear[k] === 1) first++;
      if (gear[k] === 2 && speed[k]! >= FROM) second++;
      if (target?.[k] === 1) wanted++;
      if (pedal !== undefined && pedal[k]! > most) most = pedal[k]!;
    }
    if (first > 0) inFirst.push(time[i]!);
    else if (second >= 2) {
      inSecond.push(time[i]!);
      if (wanted >= 2) requested++;
      if (most >= HARD) hard++;
    }
  }
  return { inFirst, inSecond, requested, hard };
}
