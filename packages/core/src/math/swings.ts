export interface Swings {
  /** Amplitude that every half swing of the best run has at least; half of peak to peak. NaN when there is no run. */
  readonly amplitude: number;
  /** Hz, mean over that run. */
  readonly frequency: number;
  /** Seconds of its first and last turning point. */
  readonly from: number;
  readonly to: number;
}

const NONE: Swings = { amplitude: Number.NaN, frequency: Number.NaN, from: Number.NaN, to: Number.NaN };

/**
 * NaN breaks a run. Largest lasting oscillation: turning points (a reversal by more than `dead`), then over each run of
 * `2 x cycles` half swings in a row, all at a pace between `low` and `high`, the smallest half swing; the largest of these.
 * Amplitude by half swings needs no fit and no evenly spaced samples (rain-flow style counting, ASTM E1049, from memory).
 * @param dead reversal (unit of the values, peak to peak) below which a turn is noise
 * @param low, high Hz
 */
export function swings(
  values: ArrayLike<number>,
  time: ArrayLike<number>,
  cycles: number,
  low: number,
  high: number,
  dead: number,
): Swings {
  const at: number[] = [];
  const level: number[] = [];
  // A turning point is known to half a step on either side.
  const slack = values.length < 2 ? 0 : (0.5 * (time[values.length - 1]! - time[0]!)) / (values.length - 1);
  let best = NONE;
  const close = (): void => {
    const found = runOf(at, level, 2 * cycles, low, high, slack);
    if (!Number.isNaN(found.amplitude) && !(best.amplitude >= found.amplitude)) best = found;
    at.length = 0;
    level.length = 0;
  };
  let direction = 0;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isNaN(x)) {
      close();
      direction = 0;
      continue;
    }
    const last = at.length - 1;
    if (last < 0) {
      at.push(time[i]!);
      level.push(x);
    } else if (direction === 0 ? Math.abs(x - level[last]!) > dead : (x - level[last]!) * direction < -dead) {
      direction = direction === 0 ? Math.sign(x - level[last]!) : -direction;
      at.push(time[i]!);
      level.push(x);
    } else if (direction !== 0 && (x - level[last]!) * direction > 0) {
      at[last] = time[i]!;
      level[last] = x;
    }
  }
  close();
  return best;
}

/** The last turning point of a run is not closed by a reversal and does not count; nor does the first, a mere beginning. */
function runOf(
  at: readonly number[],
  level: readonly number[],
  count: number,
  low: number,
  high: number,
  slack: number,
): Swings {
  let best = NONE;
  for (let start = 1; start + count < at.length; start++) {
    let least = Number.POSITIVE_INFINITY;
    let steady = true;
    for (let k = start; k < start + count && steady; k++) {
      const half = at[k + 1]! - at[k]!;
      steady = half >= 0.5 / high - slack - 1e-6 && half <= 0.5 / low + 1e-6;
      least = Math.min(least, Math.abs(level[k + 1]! - level[k]!) / 2);
    }
    if (!steady || best.amplitude >= least) continue;
    const span = at[start + count]! - at[start]!;
    best = { amplitude: least, frequency: count / 2 / span, from: at[start]!, to: at[start + count]! };
  }
  return best;
}
