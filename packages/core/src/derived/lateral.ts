import { median } from '../math/quantile.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { SPEED } from './speed.js';

/** Acceleration sideways; the side of the sign is not known. */
export interface Lateral {
  /** m/s2 row by row; NaN where it cannot be told. */
  readonly values: Float64Array;
  readonly source: 'lateralAcceleration' | 'yawRate';
  /** Typical standard uncertainty, m/s2. */
  readonly u: number;
  /** Fresh values per second. */
  readonly hz: number;
}

/** Camber of the road, roll of the body and mounting that stay in a sensor after its rest value is taken off: 5 % of slope, common practice. */
const TILT = 0.5;
/** Rows at rest that tell the rest value of a sensor. */
const AT_REST = 20;

export const LATERAL = recipe<Lateral>({
  id: 'lateral',
  about:
    'Lateral acceleration (m/s2): the sensor less its rest value, else yaw rate times road speed (no side slip; kinematics of a circular path).',
  compute(drive) {
    const speed = drive.derive(SPEED);
    const still = (i: number): boolean => !isRefusal(speed) && speed.values[i]! < speed.standing;
    const sensor = rested(drive, 'lateralAcceleration', still);
    if (sensor !== undefined) return { values: sensor.values, source: sensor.id, u: TILT, hz: sensor.hz };
    const yaw = rested(drive, 'yawRate', still);
    if (yaw === undefined || isRefusal(speed))
      return refuse('no lateral acceleration, because neither lateralAcceleration nor yawRate with a speed is there', {
        channels: ['lateralAcceleration'],
      });
    const values = yaw.values.map((rate, i) => (rate * Math.PI * speed.values[i]!) / (180 * 3.6));
    return { values, source: yaw.id, u: TILT, hz: Math.min(yaw.hz, speed.hz) };
  },
});

function rested<I extends 'lateralAcceleration' | 'yawRate'>(drive: Drive, id: I, still: (row: number) => boolean) {
  const samples = samplesOf(drive);
  const held = samples.held(id);
  if (held === undefined || drive.channel(id)!.quality.constant) return undefined;
  const rest: number[] = [];
  for (let i = 0; i < held.length; i++) if (still(i) && !Number.isNaN(held[i]!)) rest.push(held[i]!);
  // Without a rest the middle of the drive is straight on: most of any road is.
  const offset = median(rest.length >= AT_REST ? rest : held);
  return { id, values: held.map((x) => x - offset), hz: samples.hz(id) };
}
