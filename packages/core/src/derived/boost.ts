import type { Place } from '../recording/recording.js';
import { AMBIENT } from './ambient.js';
import { uncertaintyOf } from './exceeds.js';
import { isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

export interface Boost {
  /** kPa over the barometer, held over empty cells; NaN = no sample. */
  readonly values: Float64Array;
  /** Standard uncertainty, kPa. */
  readonly u: number;
  /** Channel it was made from. */
  readonly source: string;
  /** Where that channel is measured; undefined when nobody says. */
  readonly place: Place | undefined;
  /** Fresh values per second. */
  readonly hz: number;
}

/** Half-width of the tolerance of a charge pressure sensor, kPa; common practice, no source. */
const TOLERANCE = 2;

export const BOOST = recipe<Boost>({
  id: 'boost',
  about:
    'Boost (kPa): absolute pressure in the manifold, or of the charge air where that is not recorded, less the barometric pressure.',
  compute(drive) {
    const samples = samplesOf(drive);
    const ambient = drive.derive(AMBIENT);
    for (const base of ['manifoldPressure', 'boostPressure']) {
      const channel = drive.family(base).find(({ quality }) => quality.samples > 0 && !quality.constant);
      const held = channel === undefined ? undefined : samples.held(channel.id);
      if (channel === undefined || held === undefined || isRefusal(ambient)) continue;
      return {
        values: less(held, ambient.pressure),
        u: Math.hypot(uncertaintyOf(channel, { tolerance: TOLERANCE }), ambient.pressureU),
        source: channel.id,
        place: channel.place,
        hz: samples.hz(channel.id),
      };
    }
    return refuse('no boost, because manifoldPressure is absent', { channels: ['manifoldPressure'] });
  },
});

function less(values: Float64Array, by: number): Float64Array {
  const result = new Float64Array(values.length);
  for (let i = 0; i < result.length; i++) result[i] = values[i]! - by;
  return result;
}
