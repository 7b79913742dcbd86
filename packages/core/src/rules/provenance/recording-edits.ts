import type { Samples } from '../../derived/samples.js';
import { insertInOrder, median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';
import { abrupt, type Edit, overlap, runsOf, type Windows } from './recording-windows.js';

/** Samples of a window. */
const FRESH = 8;
/** km/h: below, speeds have steps and no noise. */
export const MOVES = 15;
/** Share by which a gain is off, and multiples of its own scatter. */
const OFF = 0.05;
const SCATTER = 6;
/** Rows of a window at which speeds are held against each other. */
const PLACES = 40;
/** Of a recording of more windows than so many fewer rows of each tell as much. */
const MANY = { windows: 200, places: 20 };
/** An edited stretch ends from one row to the next: the windows beside it are sound to this share of its size. */
const ABRUPT = 0.35;
/** Channels of the same unit that read one quantity. */
export const SPEEDS: readonly string[] = ['vehicleSpeed', 'gpsSpeed', 'wheelSpeed'];
const PROPORTIONAL: readonly string[] = ['outputShaftSpeed'];

/**
 * NaN is no sample. Road speeds against the median of the others: a stretch in which one reads another share of the rest.
 */
export function scaledStretches(
  channels: readonly Channel[],
  samples: Samples,
  time: Float64Array,
  edges: Windows,
): readonly Edit[] {
  const own = channels.filter(({ id }) => [...SPEEDS, ...PROPORTIONAL].includes(id.split('.')[0]!));
  if (own.length < 2) return [];
  const held = own.map(({ id }) => samples.held(id)!);
  const places = edges.length > MANY.windows ? MANY.places : PLACES;
  const found: Edit[] = [];
  own.forEach((channel, c) => {
    // With two columns only one of them can be told off: the one that has a third to vote against is left to the others.
    if (own.length === 2 && c > 0) return;
    const logs = ratiosOf(held, c, edges, places);
    const usual = median(logs);
    const off = logs.map((x) => x - usual);
    const scatter = 1.4826 * median(off.map(Math.abs));
    const limit = Math.max(OFF, SCATTER * scatter);
    for (const [from, to] of [1, -1].flatMap((sign) => runsOf(off, (x) => sign * x > limit))) {
      const inside = off.subarray(from, to);
      const level = median(inside);
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

/** Logarithm of column `c` over the median of the others, the middle of each window; NaN where one does not tell. */
function ratiosOf(held: readonly Float64Array[], c: number, edges: Windows, places: number): Float64Array {
  const ratios = new Float64Array(2 * places + 1);
  const others = new Float64Array(held.length);
  const [first, own] = [held[0]!, held[c]!];
  const logs = new Float64Array(edges.length);
  for (let w = 0; w < edges.length; w++) {
    const [from, to] = edges[w]!;
    const stride = Math.max(1, Math.floor((to - from) / places));
    let count = 0;
    for (let i = from; i < to; i += stride) {
      const x = own[i]!;
      if (!(x > MOVES && first[i]! > MOVES)) continue;
      const kin = movingOthers(held, c, i, others);
      if (kin > 0) ratios[count++] = Math.log(x / middleOfSome(others, kin));
    }
    logs[w] = count >= FRESH ? middleOfSome(ratios, count) : Number.NaN;
  }
  return logs;
}

/** Puts into `others` what the columns beside `c` read that move at row `i`: how many. */
function movingOthers(held: readonly Float64Array[], c: number, i: number, others: Float64Array): number {
  let count = 0;
  for (let k = 0; k < held.length; k++) if (k !== c && held[k]![i]! > MOVES) others[count++] = held[k]![i]!;
  return count;
}

/** Median of the first values, which are put in order; NaN of none. */
function middleOfSome(values: Float64Array, count: number): number {
  insertInOrder(values, count);
  const k = count >> 1;
  return count === 0 ? Number.NaN : count % 2 === 1 ? values[k]! : (values[k - 1]! + values[k]!) / 2;
}

function size(edit: Edit): number {
  return Math.abs(Math.log(edit.factor));
}
