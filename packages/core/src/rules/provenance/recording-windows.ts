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

/** First row and row after the last one of each window. */
export function windowsOf(time: Float64Array): readonly (readonly [number, number])[] {
  const edges: [number, number][] = [];
  for (let i = 0, a = 0; i <= time.length; i++)
    if (i === time.length || time[i]! - time[a]! >= WINDOW) {
      if (i > a) edges.push([a, i]);
      a = i;
    }
  return edges;
}

/** Runs of windows that hold; windows that do not tell are bridged inside a run. At most half of all. */
export function runsOf(
  values: readonly number[],
  holds: (x: number) => boolean,
): readonly (readonly [number, number])[] {
  const runs: [number, number][] = [];
  const known = values.filter((x) => !Number.isNaN(x)).length;
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
export function abrupt(values: readonly number[], from: number, to: number, sound: (x: number) => boolean): boolean {
  const told = (w: number, step: 1 | -1): boolean => {
    let skipped = 0;
    for (let k = w; k >= 0 && k < values.length; k += step) {
      if (Number.isNaN(values[k]!)) continue;
      if (sound(values[k]!)) return true;
      if (skipped++ > 0) return false;
    }
    return false;
  };
  return told(from - 1, -1) && told(to, 1);
}

export function overlap(a: Edit, b: Edit): boolean {
  return a.from < b.to && b.from < a.to;
}
