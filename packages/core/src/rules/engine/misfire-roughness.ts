import { FIRINGS } from '../../derived/firings.js';
import { cylinderOf, type Misfires } from '../../derived/misfires.js';
import { isRefusal, type Recipe, type Refusal } from '../../derived/recipe.js';
import { freshIndices, freshRate } from '../../derived/refresh.js';
import { MAD_TO_SIGMA } from '../../math/madn.js';
import { movingMedian } from '../../math/moving-median.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';

/** A reading this many scatters of its own cylinder off its neighbours in time is a missed firing (common practice, no source). */
const OFF = 10;
/** Fresh readings on either side that it is compared with. */
const HALF = 7;
/** Cylinders that are off at the same time were shaken by the road. */
const ALONE = 1;
const ENOUGH = 100;

interface Source {
  readonly time: Float64Array;
  readonly vehicle: { readonly engine: { readonly cylinders?: number } };
  derive<T>(recipe: typeof FIRINGS & Recipe<T>): T | Refusal;
}

/**
 * Misfires told from the roughness of each cylinder: single readings far off those around them, on one cylinder alone.
 * Readings between two samples are not seen, so the number is a lower bound. Undefined with fewer than three cylinders.
 */
export function misfiresByRoughness(view: Source, family: readonly Channel[]): Misfires | undefined {
  const firings = view.derive(FIRINGS);
  const own = family.filter(({ id, quality }) => cylinderOf(id) !== undefined && !quality.constant);
  if (isRefusal(firings) || own.length < 3) return undefined;
  const { time } = view;
  const off = own.map((channel) => offRows(channel, time, firings.wanted));
  if (off.some((rows) => rows === undefined)) return undefined;
  const together = new Uint8Array(time.length);
  for (const rows of off) for (let i = 0; i < together.length; i++) together[i]! += rows![i]!;
  const columns = own.map((channel, k) => {
    const added = new Float64Array(time.length);
    let count = 0;
    for (let i = 0; i < added.length; i++) {
      if (off[k]![i] === 1 && together[i]! <= ALONE && firings.wanted[i] === 1) {
        added[i] = 1;
        count++;
      }
    }
    return { channel, cylinder: cylinderOf(channel.id), added, count };
  });
  const added = new Float64Array(time.length);
  for (const column of columns) for (let i = 0; i < added.length; i++) added[i]! += column.added[i]!;
  const most = Math.max(...own.map(({ id }) => cylinderOf(id)!));
  const told = view.vehicle.engine.cylinders;
  return {
    columns,
    added,
    revolutions: firings.revolutions.map((x, i) => (firings.wanted[i] === 1 ? x : 0)),
    cylinders: told ?? most + (most > 3 ? most % 2 : 0),
    assumed: told === undefined,
    basis: 'cylinders',
    interval: Math.max(...own.map((channel) => 1 / freshRate(channel).hz)),
    silent: false,
    left: firings.left,
  };
}

/** 1 where a reading begins to be far off; undefined with too few readings. */
function offRows(channel: Channel, time: Float64Array, wanted: Uint8Array): Uint8Array | undefined {
  const rows = freshIndices(channel.values, time, freshRate(channel).hz).filter((i) => wanted[i] === 1);
  if (rows.length < ENOUGH) return undefined;
  const values = Float64Array.from(rows, (i) => channel.values[i]!);
  const usual = movingMedian(values, HALF);
  const apart = values.map((x, k) => Math.abs(x - usual[k]!));
  const scatter = Math.max(MAD_TO_SIGMA * median(apart), channel.quality.quantum);
  const mask = new Uint8Array(time.length);
  let before = false;
  for (let k = 0; k < rows.length; k++) {
    const here = apart[k]! > OFF * scatter;
    if (here && !before) mask[rows[k]!] = 1;
    before = here;
  }
  return mask;
}
