import type { Channel, Place } from '../recording/recording.js';
import { AMBIENT } from './ambient.js';
import { clippedRows } from './clipped.js';
import { uncertaintyOf } from './exceeds.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

/** Boost and its target, of the same place. */
export interface BoostPair {
  /** kPa absolute, held over empty cells; NaN = no sample, or at the end of the sensor's range (a bound, no reading). */
  readonly actual: Float64Array;
  readonly target: Float64Array;
  /** kPa; a pressure is boost above this. */
  readonly barometer: number;
  readonly channels: readonly [Channel, Channel];
  /** Place of both; undefined when it is only known that both are of one place, by their name. */
  readonly place: Place | undefined;
  /** Standard uncertainty of actual less target, kPa. */
  readonly u: number;
  /** Fresh values per second of the slower of the two: the target counts where it moves. */
  readonly hz: number;
  /** Rows set aside as clipped. */
  readonly clipped: number;
}

/** A control unit compares its own sensor with its own target: noise and rounding count, the tolerance does not. */
const NOISE = 0.7;

export const BOOST_PAIR = recipe<BoostPair>({
  id: 'boostPair',
  about:
    'Charge pressure and its target at the same place (kPa absolute): boost pressure with its target, or manifold pressure with its own; different or unknown places are never compared. Flat at 255 kPa is the end of the format, no reading.',
  compute(drive) {
    const found = pairOf(drive);
    if (found === undefined) {
      const pressure = ['boostPressure', 'manifoldPressure'].filter((id) => live(drive, id).length > 0);
      const target = ['boostPressureTarget', 'manifoldPressureTarget'].filter((id) => live(drive, id).length > 0);
      if (pressure.length > 0 && target.length > 0)
        return refuse(
          `no boost against its target: ${pressure.join(' and ')} and ${target.join(' and ')} are not known to be of one place`,
          {
            channels: target.includes('boostPressureTarget') ? ['boostPressure'] : ['manifoldPressure'],
            conditions: [`place of ${pressure[0]} and ${target[0]} in their headers or in a map file`],
          },
        );
      return refuse('no boost against its target, because one of both is absent', {
        channels: [
          ...(pressure.length === 0 ? ['boostPressure'] : []),
          ...(target.length === 0 ? ['boostPressureTarget'] : []),
        ],
      });
    }
    const ambient = drive.derive(AMBIENT);
    const [pressure, aim] = found;
    const samples = samplesOf(drive);
    const actual = Float64Array.from(samples.held(pressure.id)!);
    const mask = clippedRows(pressure, actual, drive.time);
    let clipped = 0;
    for (let i = 0; i < mask.length; i++) {
      if (mask[i] === 0) continue;
      actual[i] = Number.NaN;
      clipped++;
    }
    return {
      actual,
      target: samples.held(aim.id)!,
      barometer: isRefusal(ambient) ? 101.325 : ambient.pressure,
      channels: [pressure, aim],
      place: pressure.place ?? aim.place,
      u: Math.hypot(uncertaintyOf(pressure, { noise: NOISE }), uncertaintyOf(aim)),
      hz: Math.min(samples.hz(pressure.id), aim.quality.rate > 0 ? samples.hz(aim.id) : Number.POSITIVE_INFINITY),
      clipped,
    };
  },
});

function live(drive: Drive, base: string): readonly Channel[] {
  return drive.family(base).filter(({ quality }) => quality.samples > 0 && !quality.constant);
}

/** Same name, same place, unless a header says otherwise; different names only where both places are told and equal. */
function pairOf(drive: Drive): readonly [Channel, Channel] | undefined {
  const targets = [...live(drive, 'boostPressureTarget'), ...live(drive, 'manifoldPressureTarget')];
  const actuals = [...live(drive, 'boostPressure'), ...live(drive, 'manifoldPressure')];
  for (const target of targets) {
    for (const actual of actuals) {
      const [base, position] = split(actual.id);
      const [wanted, of] = split(target.id);
      if (position !== of && position !== '' && of !== '') continue;
      const told = actual.place !== undefined && target.place !== undefined;
      if (told ? actual.place === target.place : `${base}Target` === wanted) return [actual, target];
    }
  }
  return undefined;
}

function split(id: string): readonly [string, string] {
  const dot = id.indexOf('.');
  return dot < 0 ? [id, ''] : [id.slice(0, dot), id.slice(dot + 1)];
}
