/**
 * Numbers of one place (a cell of a table), one a unit (a visit, a pull): `unit` ascending, `value` without NaN. Units stand on
 * two sides; the same unit may stand in many places, which is how places hang together.
 */
export interface Place {
  readonly unit: Int32Array;
  readonly value: Float64Array;
  /** Places whose spread is pooled with that of this one, itself included. */
  readonly pooled: readonly number[];
}

/** Difference of the sides in one place, and its standard error; NaN where a side has fewer than two units. */
export interface PlaceDifference {
  readonly difference: number;
  readonly error: number;
}

/** @param second 1 = the unit stands on the second side; @returns second less first, place by place */
export function placeDifferences(places: readonly Place[], second: Uint8Array): PlaceDifference[] {
  const read = differencesOf(places);
  read.under(second);
  return places.map((_, p) => ({ difference: read.difference[p]!, error: read.error[p]! }));
}

/** Everything that does not depend on the labels once, and buffers that every set of labels is read into. */
function differencesOf(places: readonly Place[]): {
  readonly difference: Float64Array;
  readonly error: Float64Array;
  under(second: Uint8Array): void;
} {
  const k = places.length;
  const difference = new Float64Array(k);
  const error = new Float64Array(k);
  const squares = new Float64Array(k);
  const freedom = new Float64Array(k);
  const seconds = new Float64Array(k);
  // About its middle a place adds up without losing digits.
  const centred = places.map(({ value }) => {
    let middle = 0;
    for (let i = 0; i < value.length; i++) middle += value[i]! / value.length;
    return value.map((x) => x - middle);
  });
  const total = centred.map((values) => values.reduce((sum, x) => sum + x * x, 0));
  return {
    difference,
    error,
    under(second) {
      for (let p = 0; p < k; p++) {
        const { unit } = places[p]!;
        const values = centred[p]!;
        let n = 0;
        let sum = 0;
        for (let i = 0; i < values.length; i++)
          if (second[unit[i]!] === 1) {
            n++;
            sum += values[i]!;
          }
        const m = values.length - n;
        // The sum of the first side is the opposite, as all of them add up to nothing.
        difference[p] = sum / n + sum / m;
        squares[p] = Math.max(0, total[p]! - (n > 0 ? (sum * sum) / n : 0) - (m > 0 ? (sum * sum) / m : 0));
        freedom[p] = Math.max(0, n - 1) + Math.max(0, m - 1);
        seconds[p] = n;
      }
      for (let p = 0; p < k; p++) {
        const { pooled, unit } = places[p]!;
        const n = seconds[p]!;
        const m = unit.length - n;
        let sum = 0;
        let degrees = 0;
        for (let j = 0; j < pooled.length; j++) {
          sum += squares[pooled[j]!]!;
          degrees += freedom[pooled[j]!]!;
        }
        error[p] = m >= 2 && n >= 2 && degrees > 0 ? Math.sqrt((sum / degrees) * (1 / m + 1 / n)) : Number.NaN;
      }
    },
  };
}

/** Exchanges of the labels that are drawn; with the observed one they make a thousand. */
const DRAWN = 999;

/**
 * Level that the largest of all |difference| / error stays below with probability 1 - `alpha` when both sides are alike:
 * max-T over exchanges of the labels (Westfall & Young, Resampling-Based Multiple Testing, 1993, ch. 2), the observed
 * labels counted as one of them (Phipson & Smyth, Stat. Appl. Genet. Mol. Biol. 9 (2010) 39). Units are exchanged whole, so
 * that however places hang together is kept. The exchanges are drawn in a fixed order (xorshift32, Marsaglia, J. Stat.
 * Softw. 8 (2003) 14): same input, same level. No place gives infinity.
 */
export function exchangedLevel(places: readonly Place[], second: Uint8Array, alpha: number): number {
  const { under, difference, error } = differencesOf(places);
  const largest = (labels: Uint8Array): number => {
    under(labels);
    let found = 0;
    for (let p = 0; p < error.length; p++)
      if (error[p]! > 0 && Math.abs(difference[p]!) / error[p]! > found) found = Math.abs(difference[p]!) / error[p]!;
    return found;
  };
  if (places.length === 0) return Number.POSITIVE_INFINITY;
  const labels = second.slice();
  const top = [largest(second)];
  let state = 0x9e3779b9;
  for (let k = 0; k < DRAWN; k++) {
    // Fisher-Yates.
    for (let i = labels.length - 1; i > 0; i--) {
      state ^= state << 13;
      state ^= state >>> 17;
      state ^= state << 5;
      const j = (state >>> 0) % (i + 1);
      const kept = labels[i]!;
      labels[i] = labels[j]!;
      labels[j] = kept;
    }
    top.push(largest(labels));
  }
  top.sort((a, b) => a - b);
  return top[Math.ceil((1 - alpha) * top.length) - 1]!;
}
