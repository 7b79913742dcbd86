/** What one drive showed of the gears. */
export interface CoverageObservation {
  /** Seconds in each forward gear, by its number (index 0 unused). */
  readonly seconds: Float64Array;
  /** Chances of each gear that were not taken. */
  readonly chances: Float64Array;
  /** Seconds of driving in D, warm. */
  readonly driven: number;
  /** Gears whose speed range the drive passed through. */
  readonly ranges: number;
  /** Reverse: seconds seen. */
  readonly reverse: number;
  readonly source: 'gear' | 'ratio';
  /** Rows per second. */
  readonly hz: number;
  readonly channels: readonly { readonly certainty: 'certain' | 'likely' | 'inferred' | 'user' }[];
}

interface Signals {
  readonly time: Float64Array;
  readonly gear: Float64Array;
  /** rpm */
  readonly engine: Float64Array;
  /** km/h */
  readonly speed: Float64Array;
  /** 1 = automatic mode, warm, running: rows that may count. */
  readonly free: Uint8Array;
  /** 1 = light load. */
  readonly light: Uint8Array;
  /** 1 = foot far down. */
  readonly hard: Uint8Array;
  /** Ratios of the forward gears. */
  readonly gears: readonly number[];
}

/** Seconds of one chance (rule catalogue). */
export const CHANCE = 10;
/** Engine speed (rpm) at which any gearbox changes up at light load, and at which a speed range is passed. Common practice, no source. */
const DUE = 1800;
const PASSED = 2000;
/** A step of time longer than this (s) is a gap. */
const GAP = 2.5;
/**
 * From one gear to the next but one in less than this (s) is one shift; in more, the gear between may have been used
 * unseen: two shifts and a moment between them. Common practice, no source.
 */
const ROOM = 1;

/**
 * NaN is no sample. A gear is due when the engine would still turn at 1800 rpm in it at light load (highest gears), or
 * when within one stretch of 10 s a lower and a higher gear were used (gears between) and the change from one to the
 * other, no kick-down, left no room for it: slow logs and learned ratios do not see a gear that is held for a second.
 */
export function coverageOf({
  time,
  gear,
  engine,
  speed,
  free,
  light,
  hard,
  gears,
}: Signals): Omit<CoverageObservation, 'source' | 'channels' | 'hz'> {
  const count = gears.length;
  const seconds = new Float64Array(count + 1);
  const due = new Float64Array(count + 1);
  const between = new Float64Array(count + 1);
  const fastest = new Float64Array(count + 1);
  let driven = 0;
  let reverse = 0;
  let stretch = 0;
  let low = count + 1;
  let high = 0;
  let last = Number.NaN;
  let lastAt = 0;
  // Per gear between: it may have been used unseen; it was passed by in one shift that counts.
  const room = new Uint8Array(count + 1);
  const passed = new Uint8Array(count + 1);
  const close = (): void => {
    if (stretch >= CHANCE) for (let g = low + 1; g < high; g++) if (passed[g] === 1 && room[g] === 0) between[g]!++;
    room.fill(0);
    passed.fill(0);
    last = Number.NaN;
    stretch = 0;
    low = count + 1;
    high = 0;
  };
  for (let i = 1; i < time.length; i++) {
    const dt = time[i]! - time[i - 1]!;
    const g = gear[i]!;
    if (dt > GAP) {
      close();
      continue;
    }
    if (g < 0 || g === 14 || g === 15) reverse += dt;
    const moving = speed[i]! >= 5 && engine[i]! >= 500;
    // A gear named at standstill is a wish: only one that the car was driven in counts.
    if (moving && g >= 1 && g <= count) seconds[g]! += dt;
    if (!moving || free[i] === 0) {
      close();
      continue;
    }
    driven += dt;
    if (g >= 1 && g <= count) {
      for (let k = 1; k <= count; k++) {
        const turning = (engine[i]! * gears[k - 1]!) / gears[g - 1]!;
        if (turning > fastest[k]!) fastest[k] = turning;
        if (k > g && light[i] === 1 && turning >= DUE) due[k]! += dt;
      }
      // A kick-down skips gears on purpose, and so does letting go after it: no chance, but none taken away either.
      const down = g < last && (light[i] === 0 || light[lastAt] === 0);
      const driver = down || hard[i] === 1 || hard[lastAt] === 1;
      const slow = time[i]! - time[lastAt]! > ROOM + 1e-6;
      for (let k = Math.min(last, g) + 1; k < Math.max(last, g); k++) {
        if (slow) room[k] = 1;
        else if (!driver) passed[k] = 1;
      }
      last = g;
      lastAt = i;
      stretch += dt;
      if (g < low) low = g;
      if (g > high) high = g;
    }
    // One stretch is one chance: the next begins after it.
    if (stretch >= CHANCE && high - low >= 2) close();
  }
  close();
  const chances = between.map((passes, g) => passes + Math.floor(due[g]! / CHANCE));
  let ranges = 0;
  for (let g = 1; g <= count; g++) if (fastest[g]! >= PASSED) ranges++;
  return { seconds, chances, driven, ranges, reverse };
}
