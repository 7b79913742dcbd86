/** What one drive showed of the gears. */
export interface CoverageObservation {
  /** Seconds in each forward gear, by its number (index 0 unused). */
  readonly seconds: Float64Array;
  /** Chances of each gear that were not taken. */
  readonly chances: Float64Array;
  /** Where chances of the gears that this drive never used were missed, the first of each gear. */
  readonly missed: readonly MissedChance[];
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

/** One chance that was not taken. */
interface MissedChance {
  /** The gear that was due or passed by. */
  readonly gear: number;
  readonly from: number;
  readonly to: number;
  /** Engine speed (rpm) that it would still have had in that gear, the least in the chance; NaN for a gear passed by. */
  readonly turning: number;
  /** Lowest and highest gear used meanwhile. */
  readonly low: number;
  readonly high: number;
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
/** A gear that was used for less (s) was not used. */
export const SEEN = 0.5;
/** Missed chances of one gear that are told with their time. */
const TOLD = 20;
/** Engine speed (rpm) at which any gearbox changes up at light load, and at which a speed range is passed. Common practice, no source. */
export const DUE = 1800;
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
  const missed: MissedChance[] = [];
  const told = new Uint8Array(count + 1);
  const note = (chance: MissedChance): void => {
    if (told[chance.gear]!++ < TOLD) missed.push(chance);
  };
  let began = 0;
  // Of the chance that is building up of each gear that is due.
  const dueFrom = new Float64Array(count + 1).fill(Number.NaN);
  const dueLow = new Float64Array(count + 1).fill(Number.POSITIVE_INFINITY);
  const dueTurning = new Float64Array(count + 1).fill(Number.POSITIVE_INFINITY);
  const dueHigh = new Float64Array(count + 1);
  // Per gear between: it may have been used unseen; it was passed by in one shift that counts.
  const room = new Uint8Array(count + 1);
  const passed = new Uint8Array(count + 1);
  const close = (): void => {
    for (let g = low + 1; stretch >= CHANCE && g < high; g++) {
      if (passed[g] === 0 || room[g] === 1) continue;
      between[g]!++;
      note({ gear: g, from: began, to: time[lastAt]!, turning: Number.NaN, low, high });
    }
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
        if (!(k > g && light[i] === 1 && turning >= DUE)) continue;
        if (Number.isNaN(dueFrom[k]!)) dueFrom[k] = time[i - 1]!;
        if (turning < dueTurning[k]!) dueTurning[k] = turning;
        if (g < dueLow[k]!) dueLow[k] = g;
        if (g > dueHigh[k]!) dueHigh[k] = g;
        const before = Math.floor(due[k]! / CHANCE);
        due[k]! += dt;
        if (Math.floor(due[k]! / CHANCE) === before) continue;
        note({
          gear: k,
          from: dueFrom[k]!,
          to: time[i]!,
          turning: dueTurning[k]!,
          low: dueLow[k]!,
          high: dueHigh[k]!,
        });
        dueFrom[k] = Number.NaN;
        dueTurning[k] = Number.POSITIVE_INFINITY;
        dueLow[k] = Number.POSITIVE_INFINITY;
        dueHigh[k] = 0;
      }
      // A kick-down skips gears on purpose, and so does letting go after it: no chance, but none taken away either.
      const down = g < last && (light[i] === 0 || light[lastAt] === 0);
      const driver = down || hard[i] === 1 || hard[lastAt] === 1;
      const slow = time[i]! - time[lastAt]! > ROOM + 1e-6;
      for (let k = Math.min(last, g) + 1; k < Math.max(last, g); k++) {
        if (slow) room[k] = 1;
        else if (!driver) passed[k] = 1;
      }
      if (stretch === 0) began = time[i - 1]!;
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
  return {
    seconds,
    chances,
    missed: missed.filter(({ gear: g }) => seconds[g]! < SEEN).sort((a, b) => a.from - b.from),
    driven,
    ranges,
    reverse,
  };
}
