/** A stretch in which one column is not what it is elsewhere, while its kin are. */
export interface Edit {
  readonly kind: 'scaled' | 'smoothed';
  readonly channel: string;
  /** Channels that it was compared with. */
  readonly kin: readonly string[];
  /** Seconds of recording time. */
  readonly from: number;
  readonly to: number;
  /** `scaled`: reading over what its kin say; `smoothed`: noise over its usual noise. */
  readonly factor: number;
}

/** s of one window, windows that a stretch takes, windows that the rest takes. */
const WINDOW = 10;
export const LEAST = 3;
export const REST = 6;

/** First row and row after the last one of each window of a recording. */
export type Windows = readonly (readonly [number, number])[];

export function windowsOf(time: Float64Array): Windows {
  const edges: [number, number][] = [];
  let to = 0;
  for (let from = 0, rows = 1; from < time.length; from = to) {
    to = endOf(time, from, rows);
    rows = to - from;
    edges.push([from, to]);
  }
  return edges;
}

/** First row that lies a window and more after row `from`, or the number of rows; looked for `rows` after it first. */
function endOf(time: Float64Array, from: number, rows: number): number {
  let to = Math.min(time.length, from + rows);
  while (to > from + 1 && time[to - 1]! - time[from]! >= WINDOW) to--;
  while (to < time.length && time[to]! - time[from]! < WINDOW) to++;
  return to;
}

/** Runs of windows that hold; windows that do not tell are bridged inside a run. At most half of all. */
export function runsOf(values: Float64Array, holds: (x: number) => boolean): readonly (readonly [number, number])[] {
  const runs: [number, number][] = [];
  const known = told(values).length;
  let from = -1;
  let to = -1;
  let count = 0;
  const close = (): void => {
    if (count >= LEAST && count <= known / 2 && known - count >= REST) runs.push([from, to]);
    from = -1;
    count = 0;
  };
  for (let w = 0; w < values.length; w++) {
    if (Number.isNaN(values[w]!)) continue;
    if (!holds(values[w]!)) close();
    else {
      if (from < 0) from = w;
      to = w + 1;
      count++;
    }
  }
  close();
  return runs;
}

/** The window next to an end may be half edited; the one after it is sound. */
export function abrupt(values: Float64Array, from: number, to: number, sound: (x: number) => boolean): boolean {
  const soundAt = (w: number, step: 1 | -1): boolean => {
    let skipped = 0;
    for (let k = w; k >= 0 && k < values.length; k += step) {
      if (Number.isNaN(values[k]!)) continue;
      if (sound(values[k]!)) return true;
      if (skipped++ > 0) return false;
    }
    return false;
  };
  return soundAt(from - 1, -1) && soundAt(to, 1);
}

export function overlap(a: Edit, b: Edit): boolean {
  return a.from < b.to && b.from < a.to;
}

/** The windows that tell. */
export function told(values: Float64Array): Float64Array {
  return values.filter((x) => !Number.isNaN(x));
}
