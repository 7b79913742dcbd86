import type { Channel } from '../../recording/recording.js';
import type { Windows } from './recording-windows.js';

/** A stretch in which all columns that move run along straight lines. */
export interface Bridge {
  /** Seconds of recording time. */
  readonly from: number;
  readonly to: number;
  /** Columns that run straight in all of its windows or some. */
  readonly channels: readonly string[];
}

/** Samples of a window that tell a line, and as many as are looked at. */
const LEAST_SAMPLES = 8;
const SAMPLES = 100;
/** Steps that a column moves within a window before its line says anything. */
const MOVES = 8;
/** Steps by which rounding takes a line off the one through its rounded ends, and a little for decimals. */
const ROUNDED = 1.05;
/** Straight columns of a window, of all its windows together, and others that may bend for each of them. */
const COLUMNS = 3;
const TOGETHER = 6;
const OTHERS = 0.25;
/** Share of its moving windows in which a column that is worth anything runs straight: else it has no noise of its own. */
const OFTEN = 0.2;

type Shape = 'straight' | 'bent' | 'still';

/**
 * NaN is no sample. Sensors have noise, and a car does not move along lines for 10 s: where several columns that bend
 * everywhere else all run straight to a step of their own, the rows were computed from two ends. Rounding of a line to a
 * step q leaves it within q / 2, so within q of the line through its rounded ends (derived).
 */
export function bridgesOf(channels: readonly Channel[], time: Float64Array, edges: Windows): readonly Bridge[] {
  const shapes = channels.flatMap((channel) => {
    const { values, quality } = channel;
    const own = edges.map(([a, b]) => shapeOf(values, quality.quantum, time, a, b));
    const moving = own.filter((shape) => shape !== 'still').length;
    const straight = own.filter((shape) => shape === 'straight').length;
    return straight > OFTEN * moving ? [] : [{ id: channel.id, own }];
  });
  const found: Bridge[] = [];
  let from = -1;
  let total = 0;
  for (let w = 0; w <= edges.length; w++) {
    const straight = shapes.filter(({ own }) => own[w] === 'straight').length;
    const bent = shapes.filter(({ own }) => own[w] === 'bent').length;
    if (straight >= COLUMNS && bent <= OTHERS * straight) {
      if (from < 0) from = w;
      total += straight;
      continue;
    }
    if (from >= 0 && total >= TOGETHER)
      found.push({
        from: time[edges[from]![0]]!,
        to: time[edges[w - 1]![1] - 1]!,
        channels: shapes.filter(({ own }) => own.slice(from, w).includes('straight')).map(({ id }) => id),
      });
    from = -1;
    total = 0;
  }
  return found;
}

function shapeOf(values: Float64Array, quantum: number, time: Float64Array, from: number, to: number): Shape {
  let first = from;
  while (first < to && Number.isNaN(values[first]!)) first++;
  let last = to - 1;
  while (last > first && Number.isNaN(values[last]!)) last--;
  const [start, end] = [values[first]!, values[last]!];
  if (last - first + 1 < LEAST_SAMPLES) return 'still';
  const slope = (end - start) / (time[last]! - time[first]!);
  let least = Math.min(start, end);
  let most = Math.max(start, end);
  let off = 0;
  let count = 0;
  const stride = Math.max(1, Math.floor((last - first) / SAMPLES));
  for (let i = first; i <= last; i += stride) {
    const x = values[i]!;
    if (Number.isNaN(x)) continue;
    off = Math.max(off, Math.abs(x - start - slope * (time[i]! - time[first]!)));
    least = Math.min(least, x);
    most = Math.max(most, x);
    count++;
    // What is bent stays so, whatever else the window holds.
    if (off > ROUNDED * quantum && most - least > MOVES * quantum && count >= LEAST_SAMPLES) return 'bent';
  }
  if (count < LEAST_SAMPLES || !(most - least > MOVES * quantum)) return 'still';
  return off <= ROUNDED * quantum ? 'straight' : 'bent';
}
