import { type Lag, lagOf } from './aligned.js';
import { SHIFTS } from './gear-shifts.js';
import { isRefusal, recipe, refuse } from './recipe.js';

export interface SensorLag extends Lag {
  /** The second is late against the first by `seconds`. */
  readonly first: string;
  readonly second: string;
}

/** What moves together in an intake tract: air moves within milliseconds, so that what is seen is sensor, filter and logger. */
const PAIRS: readonly (readonly [string, string])[] = [
  ['manifoldPressure', 'airMassFlow'],
  ['boostPressure', 'manifoldPressure'],
  ['throttlePosition', 'manifoldPressure'],
  ['manifoldPressure', 'engineTorque'],
];

export const SENSOR_LAGS = recipe<readonly SensorLag[]>({
  id: 'sensorLags',
  about:
    'Seconds by which one air channel comes late against another, from the correlation of their derivatives (Knapp & Carter 1976), with uncertainty; pairs that do not move together are left out.',
  compute(drive) {
    const shifts = drive.derive(SHIFTS);
    const found = PAIRS.flatMap(([first, second]): SensorLag[] => {
      if (drive.channel(first) === undefined || drive.channel(second) === undefined) return [];
      const lag = lagOf(drive, first, second, isRefusal(shifts) ? [] : shifts);
      return isRefusal(lag) ? [] : [{ first, second, ...lag }];
    });
    return found.length === 0
      ? refuse('no lag between air channels could be estimated', {
          channels: ['manifoldPressure', 'airMassFlow'],
          conditions: ['manifoldPressure and airMassFlow moving together for >= 30 s'],
        })
      : found;
  },
});
