import { uncertaintyOf } from '../../derived/exceeds.js';
import { cylinderOf } from '../../derived/misfires.js';
import { freshIndices, freshRate, heldValues } from '../../derived/refresh.js';
import { effectiveSampleSize } from '../../math/effective-sample-size.js';
import { madn } from '../../math/madn.js';
import { mean } from '../../math/mean.js';
import { median } from '../../math/quantile.js';
import type { Channel } from '../../recording/recording.js';

export type SignName = 'correction' | 'exhaust' | 'roughness' | 'knock' | 'misfire';

/** What one sign says of one cylinder in one drive. */
export interface Apart {
  readonly cylinder: number;
  /** Less the median of the other cylinders, in the unit of the sign. */
  readonly value: number;
  /** Standard uncertainty. */
  readonly u: number;
  /** Three normalised median deviations of the others, or of what cylinders differ by in a sound engine. */
  readonly usual: number;
}

export interface Sign {
  readonly name: SignName;
  readonly channels: readonly Channel[];
  readonly cylinders: readonly Apart[];
  /** Cylinders whose unit is in doubt. */
  readonly doubtful: readonly number[];
  readonly samples: number;
  readonly from: number;
  readonly to: number;
}

/** Fewer cylinders than this are no company to be compared with. */
export const FEWEST = 3;
/** Fresh samples that a sign takes. */
export const FRESH = 30;
/** Scatter (normalised median deviation) that cylinders of a sound engine have, and half-width of the sensors. Common practice, no source. */
const SOUND: Readonly<Record<SignName, { readonly scatter: number; readonly tolerance: number }>> = {
  correction: { scatter: 0.8, tolerance: 0.5 },
  exhaust: { scatter: 8, tolerance: 8 },
  roughness: { scatter: 0, tolerance: 0 },
  knock: { scatter: 0.5, tolerance: 0.25 },
  misfire: { scatter: 0.1, tolerance: 0 },
};
/** Roughness has no common scale: a sixth of the level of the others stands in for its scatter. Common practice, no source. */
const ROUGH_SHARE = 1 / 6;
/** A factor that was only inferred is believed up to this many % of correction. Common practice, no source. */
const FACTOR_REACH = 25;
/** Scatters beyond which a cylinder stands apart (rule catalogue). */
const SCATTERS = 3;

/**
 * Row by row, each cylinder less the median of the others at the same moment; then the median over the rows of the mask
 * at which all were fresh. Undefined with too few cylinders or samples.
 * @param average mean instead of median over the rows, for signs that are 0 most of the time
 */
export function signOf(
  name: SignName,
  family: readonly Channel[],
  time: Float64Array,
  mask: (values: readonly Float64Array[], i: number) => boolean,
  average = false,
): Sign | undefined {
  const recorded = family.filter(({ id, quality }) => cylinderOf(id) !== undefined && quality.samples > 1);
  const channels = alike(recorded);
  if (channels.length < FEWEST || channels.every(({ quality }) => quality.constant)) return undefined;
  const values = channels.map((channel) => heldValues(channel.values, time));
  // The one that moves says when they are read; all stand in one message.
  const pace = channels.reduce((a, b) => (freshRate(b).hz > freshRate(a).hz || a.quality.constant ? b : a));
  const rows = freshIndices(pace.values, time, freshRate(pace).hz).filter(
    (i) => values.every((column) => !Number.isNaN(column[i]!)) && mask(values, i),
  );
  if (rows.length < FRESH) return undefined;
  const levels = values.map((column) =>
    centre(
      Float64Array.from(rows, (i) => column[i]!),
      average,
    ),
  );
  const cylinders = channels.map((channel, c): Apart => {
    const apart = Float64Array.from(
      rows,
      (i) => values[c]![i]! - median(values.flatMap((v, k) => (k === c ? [] : v[i]!))),
    );
    const worth = effectiveSampleSize(apart);
    const rest = levels.filter((_l, k) => k !== c);
    return {
      cylinder: cylinderOf(channel.id)!,
      value: centre(apart, average),
      u: uncertaintyOf(channel, { noise: 1.25 * madn(apart), fresh: worth, tolerance: SOUND[name].tolerance }),
      usual: usualOf(name, rest),
    };
  });
  const doubtful = recorded.filter((each) => !channels.includes(each)).map(({ id }) => cylinderOf(id)!);
  return {
    name,
    channels,
    cylinders,
    doubtful,
    samples: rows.length,
    from: time[rows[0]!]!,
    to: time[rows[rows.length - 1]!]!,
  };
}

/**
 * The same quantity of each cylinder stands in one unit. A column that names none is read by its values alone: around 1 it
 * may be a factor or a percentage. Where the columns disagree, the inferred minority is left out; factors that would mean
 * a correction beyond a quarter are none.
 */
function alike(channels: readonly Channel[]): readonly Channel[] {
  const units = new Map<string, number>();
  for (const { sourceUnit } of channels) units.set(sourceUnit, (units.get(sourceUnit) ?? 0) + 1);
  const [usual] = [...units].sort((a, b) => b[1] - a[1])[0] ?? [''];
  return channels.filter(
    ({ certainty, sourceUnit, values }) =>
      certainty !== 'inferred' ||
      (sourceUnit === usual && !(sourceUnit === 'factor' && Math.abs(median(values)) > FACTOR_REACH)),
  );
}

function centre(values: Float64Array, average: boolean): number {
  return average ? mean(values) : median(values);
}

/** How far a cylinder may stand from the others, by their own scatter. */
export function usualOf(name: SignName, others: readonly number[]): number {
  const floor = name === 'roughness' ? ROUGH_SHARE * Math.abs(median(others)) : SOUND[name].scatter;
  return SCATTERS * Math.max(madn(others), floor);
}

/** Drives together: weighted by their samples; what does not average out (sensors) stays. */
export function pooled(name: SignName, signs: readonly Sign[]): Apart[] {
  const numbers = [...new Set(signs.flatMap(({ cylinders }) => cylinders.map(({ cylinder }) => cylinder)))];
  return numbers
    .sort((a, b) => a - b)
    .map((cylinder) => {
      let weight = 0;
      let value = 0;
      let u = 0;
      let usual = 0;
      for (const sign of signs) {
        const own = sign.name === name ? sign.cylinders.find((each) => each.cylinder === cylinder) : undefined;
        if (own === undefined) continue;
        weight += sign.samples;
        value += sign.samples * own.value;
        u += sign.samples * own.u;
        usual += sign.samples * own.usual;
      }
      return { cylinder, value: value / weight, u: u / weight, usual: usual / weight };
    })
    .filter(({ value }) => !Number.isNaN(value));
}
