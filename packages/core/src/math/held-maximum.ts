export interface Held {
  /** NaN when no window is long enough. */
  readonly value: number;
  /** Index of the smallest value in the best window; -1 when there is none. */
  readonly index: number;
}

/** Taken again by the next call: memory that nobody has touched costs more than the work. */
let spare = new Int32Array(0);

/**
 * NaN, and steps of time longer than `maxStep`, break a window; empty gives NaN. Highest value held for `seconds`: the
 * maximum over all windows that long of their minimum (sliding-window minimum by a monotonic queue).
 */
export function heldMaximum(
  values: ArrayLike<number>,
  time: ArrayLike<number>,
  seconds: number,
  maxStep = Number.POSITIVE_INFINITY,
): Held {
  const n = Math.min(values.length, time.length);
  if (spare.length < n) spare = new Int32Array(n);
  const index = indexOfHeld(values, time, n, seconds, maxStep, spare);
  return { value: index < 0 ? Number.NaN : values[index]!, index };
}

/** @param queue memory for indices whose values rise, between `head` and `tail` */
function indexOfHeld(
  values: ArrayLike<number>,
  time: ArrayLike<number>,
  n: number,
  seconds: number,
  maxStep: number,
  queue: Int32Array,
): number {
  let value = Number.NaN;
  let index = -1;
  let head = 0;
  let tail = 0;
  let run = -1;
  for (let k = 0; k < n; k++) {
    // No window with a value in it that is no higher than what was found is of use.
    if (Number.isNaN(values[k]!) || values[k]! <= value) {
      run = -1;
      continue;
    }
    if (run < 0 || time[k]! - time[k - 1]! > maxStep) {
      run = k;
      head = 0;
      tail = 0;
    }
    while (tail > head && values[queue[tail - 1]!]! >= values[k]!) tail--;
    queue[tail++] = k;
    if (time[k]! - time[run]! < seconds - 1e-6) continue;
    // The window begins at the last sample that still leaves `seconds` to this one.
    while (run + 1 <= k && time[k]! - time[run + 1]! >= seconds - 1e-6) run++;
    while (queue[head]! < run) head++;
    const low = values[queue[head]!]!;
    if (!(value >= low)) {
      value = low;
      index = queue[head]!;
    }
  }
  return index;
}
