import type { Stamp } from './stamp.js';

/** Time cells that are no numbers, one entry a row; NaN = absent. */
export interface StampColumn {
  /** Days from 1970-01-01. */
  day: Float64Array;
  /** year * 10000 + a * 100 + b of a date whose order the column settles. */
  ab: Float64Array;
  /** Seconds of the day or of the clock, zone taken off. */
  seconds: Float64Array;
  twoParts: number;
  fractions: number;
  slashes: number;
  zoned: number;
}

/** Takes over one stamp into row `row`. */
export function keepStamp(stamps: StampColumn, row: number, stamp: Stamp): void {
  stamps.day[row] = stamp.date === 'fixed' ? stamp.day : Number.NaN;
  stamps.ab[row] = Number.NaN;
  if (stamp.date === 'ab') {
    stamps.ab[row] = stamp.year * 10_000 + stamp.a * 100 + stamp.b;
    if (stamp.separator === '/') stamps.slashes++;
  }
  let seconds = stamp.parts === 0 ? 0 : stamp.seconds;
  if (!Number.isNaN(stamp.zone)) {
    seconds -= stamp.zone * 60;
    stamps.zoned++;
  }
  stamps.seconds[row] = seconds;
  if (stamp.parts === 2) stamps.twoParts++;
  if (stamp.fraction) stamps.fractions++;
}

/** Room for the stamps of `capacity` rows. */
export function stampColumn(capacity: number): StampColumn {
  return {
    day: new Float64Array(capacity),
    ab: new Float64Array(capacity),
    seconds: new Float64Array(capacity),
    twoParts: 0,
    fractions: 0,
    slashes: 0,
    zoned: 0,
  };
}
