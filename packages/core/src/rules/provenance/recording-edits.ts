import type { Samples } from '../../derived/samples.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';
import { abrupt, type Edit, overlap, runsOf, windowsOf } from './recording-windows.js';

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
export function scaledStretches(channels: readonly Channel[], samples: Samples, time: Float64Array): readonly Edit[] {
  const own = channels.filter(({ id }) => [...SPEEDS, ...PROPORTIONAL].includes(id.split('.')[0]!));
  if (own.length < 2) return [];
  const held = own.map(({ id }) => samples.held(id)!);
  const edges = windowsOf(time);
  const places = edges.length > MANY.windows ? MANY.places : PLACES;
  const speed = held[0]!;
  const found: Edit[] = [];
  own.forEach((channel, c) => {
    // With two columns only one of them can be told off: the one that has a third to vote against is left to the others.
    if (own.length === 2 && c > 0) return;
    const ratios = new Float64Array(2 * places + 1);
    const others = new Float64Array(held.length);
    const logs = edges.map(([a, b]) => {
      let count = 0;
      for (let i = a; i < b; i += Math.max(1, Math.floor((b - a) / places))) {
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

/** Median of the first values, which are put in order; NaN of none. */
function middleOfSome(values: Float64Array, count: number): number {
  for (let i = 1; i < count; i++) {
    const x = values[i]!;
    let k = i;
    for (; k > 0 && values[k - 1]! > x; k--) values[k] = values[k - 1]!;
    values[k] = x;
  }
  const k = count >> 1;
  return count === 0 ? Number.NaN : count % 2 === 1 ? values[k]! : (values[k - 1]! + values[k]!) / 2;
}

function size(edit: Edit): number {
  return Math.abs(Math.log(edit.factor));
}
