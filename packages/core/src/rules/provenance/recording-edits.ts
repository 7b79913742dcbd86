import type { Samples } from '../../derived/samples.js';
import { mean } from '../../math/mean.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';

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
const LEAST = 3;
const REST = 6;
/** Fresh samples of a window. */
const FRESH = 8;
/** km/h: below, speeds have steps and no noise. */
const MOVES = 15;
/** Share by which a gain is off, and multiples of its own scatter. */
const OFF = 0.05;
const SCATTER = 6;
/** Noise of a smoothed stretch over its usual one, at most; channels that must have kept theirs. */
const QUIET = 0.33;
/** Share of the second differences that count: the largest are gear shifts and steps of the pedal. */
const CALM = 0.8;
const OTHERS = 3;
/** Second differences of a window that tell its noise as well as all of them. */
const BENDS = 100;
/** Rows of a window at which speeds are held against each other. */
const PLACES = 40;
/** Multiples of the usual scatter of its noise. */
const NOISE_SCATTER = 4.5;
/** An edited stretch ends from one row to the next: the windows beside it are sound to this share of its size. */
const ABRUPT = 0.35;
/** Channels of the same unit that read one quantity. */
const SAME: readonly string[] = ['vehicleSpeed', 'gpsSpeed', 'wheelSpeed'];
const PROPORTIONAL: readonly string[] = ['outputShaftSpeed'];

/**
 * NaN is no sample. Road speeds against the median of the others: a stretch in which one reads another share of the rest.
 */
export function scaledStretches(channels: readonly Channel[], samples: Samples, time: Float64Array): readonly Edit[] {
  const own = channels.filter(({ id }) => [...SAME, ...PROPORTIONAL].includes(id.split('.')[0]!));
  if (own.length < 2) return [];
  const held = own.map(({ id }) => samples.held(id)!);
  const edges = windowsOf(time);
  const speed = held[0]!;
  const found: Edit[] = [];
  own.forEach((channel, c) => {
    // With two columns only one of them can be told off: the one that has a third to vote against is left to the others.
    if (own.length === 2 && c > 0) return;
    const ratios = new Float64Array(2 * PLACES + 1);
    const others = new Float64Array(held.length);
    const logs = edges.map(([a, b]) => {
      let count = 0;
      for (let i = a; i < b; i += Math.max(1, Math.floor((b - a) / PLACES))) {
        const x = held[c]![i]!;
        if (!(x > MOVES) || !(speed[i]! > MOVES || c === 0)) continue;
        let kin = 0;
        for (let k = 0; k < held.length; k++) if (k !== c && held[k]![i]! > MOVES) others[kin++] = held[k]![i]!;
        if (kin > 0) ratios[count++] = Math.log(x / middleOfSome(others, kin));
      }
      return count >= FRESH ? middleOfSome(ratios, count) : Number.NaN;
    });
    const usual = median(logs.filter((x) => !Number.isNaN(x)));
    const off = logs.map((x) => x - usual);
    const scatter = 1.4826 * median(off.map(Math.abs).filter((x) => !Number.isNaN(x)));
    const limit = Math.max(OFF, SCATTER * scatter);
    for (const [from, to] of [1, -1].flatMap((sign) => runsOf(off, (x) => sign * x > limit))) {
      const inside = off.slice(from, to);
      const level = median(inside.filter((x) => !Number.isNaN(x)));
      const even = inside.every((x) => Number.isNaN(x) || Math.abs(x - level) < 0.2 * Math.abs(level) + 0.01);
      if (!even || !abrupt(off, from, to, (x) => Math.abs(x) < ABRUPT * Math.abs(level))) continue;
      found.push({
        kind: 'scaled',
        channel: channel.id,
        kin: own.filter((_, k) => k !== c).map(({ id }) => id),
        from: time[edges[from]![0]]!,
        to: time[edges[to - 1]![1] - 1]!,
        factor: Math.exp(level),
      });
    }
  });
  // A column that was scaled pulls its kin the other way when they are few: the largest of one place is the one.
  return found.filter((a) => !found.some((b) => b !== a && overlap(a, b) && size(b) > size(a)));
}

/**
 * NaN is no sample. Noise of each lively channel by second differences of fresh samples, a window at a time, against its
 * own usual noise and against how far the noise of the others rose or fell in the same window: quiet driving quietens all
 * of them, an edit one.
 */
export function smoothedStretches(channels: readonly Channel[], samples: Samples, time: Float64Array): readonly Edit[] {
  if (channels.length < OTHERS + 1) return [];
  const edges = windowsOf(time);
  const engine = samples.held('engineSpeed');
  const running = edges.map(([a, b]) => {
    if (engine === undefined) return true;
    for (let i = a; i < b; i++) if (engine[i]! < 400) return false;
    return true;
  });
  const logs = channels.map((channel) => {
    const rows = samples.fresh(channel.id);
    const floor = channel.quality.quantum / 4;
    const slowest = SAME.includes(channel.id.split('.')[0]!) ? MOVES : Number.NEGATIVE_INFINITY;
    const bends = new Float64Array(2 * BENDS);
    let k = 0;
    return edges.map(([a, b], w) => {
      while (k < rows.length && rows[k]! < a) k++;
      const first = k;
      while (k < rows.length && rows[k]! < b) k++;
      if (k - first < FRESH || running[w] === false) return Number.NaN;
      let total = 0;
      let count = 0;
      let least = Number.POSITIVE_INFINITY;
      let most = Number.NEGATIVE_INFINITY;
      // Of a fast column every n-th bend tells as much.
      const step = Math.max(1, Math.floor((k - first - 2) / BENDS));
      for (let m = first + 1; m + 1 < k; m += step) {
        const y = channel.values[rows[m]!]!;
        bends[count] = Math.abs(channel.values[rows[m - 1]!]! - 2 * y + channel.values[rows[m + 1]!]!);
        least = Math.min(least, y);
        most = Math.max(most, y);
        total += y;
        count++;
      }
      // What does not move has no noise to lose, and a speed near standstill is 0 for a part of the time.
      if (least < slowest) return Number.NaN;
      if (count < FRESH - 2 || !(most - least > 8 * channel.quality.quantum) || Number.isNaN(total)) return Number.NaN;
      bends.subarray(0, count).sort();
      return Math.log(mean(bends.subarray(0, Math.ceil(CALM * count))) + floor);
    });
  });
  const relative = logs.map((column) => {
    const usual = median(column.filter((x) => !Number.isNaN(x)));
    return column.map((x) => x - usual);
  });
  const found: Edit[] = [];
  channels.forEach((channel, c) => {
    const alone = relative[c]!.map((x, w) => {
      const others = relative.flatMap((column, k) => (k === c || Number.isNaN(column[w]!) ? [] : [column[w]!]));
      return others.length >= OTHERS ? x - median(others) : Number.NaN;
    });
    const known = alone.filter((x) => !Number.isNaN(x));
    if (known.length < LEAST + REST) return;
    const usual = median(known);
    const scatter = 1.4826 * median(known.map((x) => Math.abs(x - usual)));
    const limit = Math.max(-Math.log(QUIET), NOISE_SCATTER * scatter);
    const off = alone.map((x) => x - usual);
    for (const [from, to] of runsOf(off, (x) => x < -limit)) {
      const level = median(off.slice(from, to).filter((x) => !Number.isNaN(x)));
      if (!abrupt(off, from, to, (x) => x > ABRUPT * level)) continue;
      found.push({
        kind: 'smoothed',
        channel: channel.id,
        kin: channels.filter((_, k) => k !== c).map(({ id }) => id),
        from: time[edges[from]![0]]!,
        to: time[edges[to - 1]![1] - 1]!,
        factor: Math.exp(level),
      });
    }
  });
  // Where several columns fall quiet together it is the driving, or what makes them all.
  return found.filter((a) => !found.some((b) => b.channel !== a.channel && overlap(a, b)));
}

/** Median of the first values, which are put in order; NaN of none. */
function middleOfSome(values: Float64Array, count: number): number {
  const some = values.subarray(0, count).sort();
  const k = count >> 1;
  return count === 0 ? Number.NaN : count % 2 === 1 ? some[k]! : (some[k - 1]! + some[k]!) / 2;
}

/** First row and row after the last one of each window. */
function windowsOf(time: Float64Array): readonly (readonly [number, number])[] {
  const edges: [number, number][] = [];
  for (let i = 0, a = 0; i <= time.length; i++)
    if (i === time.length || time[i]! - time[a]! >= WINDOW) {
      if (i > a) edges.push([a, i]);
      a = i;
    }
  return edges;
}

/** Runs of windows that hold; windows that do not tell are bridged inside a run. At most half of all. */
function runsOf(values: readonly number[], holds: (x: number) => boolean): readonly (readonly [number, number])[] {
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
function abrupt(values: readonly number[], from: number, to: number, sound: (x: number) => boolean): boolean {
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

function overlap(a: Edit, b: Edit): boolean {
  return a.from < b.to && b.from < a.to;
}

function size(edit: Edit): number {
  return Math.abs(Math.log(edit.factor));
}
