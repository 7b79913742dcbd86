import { ONE_SIDED_95 } from '../math/normal-quantile.js';
import { studentQuantile } from '../math/student.js';
import { GRAVITY } from '../physics/air.js';
import { dragForce } from '../physics/road-load.js';
import { AMBIENT } from './ambient.js';
import { GRADIENT } from './gradient.js';
import { maskOf } from './intervals.js';
import { PEDAL_RELEASED } from './pedal-released.js';
import { LEARNED_RATIOS } from './ratio-clusters.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf, stretches } from './samples.js';
import { BRAKING } from './segments.js';
import { SPEED } from './speed.js';

/** How a car slows down that rolls freely: nothing drives, brakes or couples the engine to the wheels. */
export interface CoastDown {
  /** Deceleration on the level at {@link COAST_SPEED}, m/s2: mean of the coasts. */
  readonly deceleration: number;
  /** Standard uncertainty of that mean, m/s2. */
  readonly u: number;
  /** Where each coast lies, s. */
  readonly coasts: readonly { readonly from: number; readonly to: number }[];
}

/** Speed that the drag is told at, km/h. */
export const COAST_SPEED = 60;
/** Speeds (km/h) at which the wheels' own resistance is a good part of the whole. */
const SPEEDS = [25, 100] as const;
/** A coast lasts at least this long, s. */
const LASTS = 5;
/** Coasts that a mean is made of. Common practice, no source. */
const COASTS = 3;
/** An engine slower than this share of what the highest gear would make it turn is not coupled to the wheels. */
const UNCOUPLED = 0.85;
/** Code of neutral (channel catalogue). */
const N = 2;
/** A saloon and its people where no profile says so: m2, kg. Common practice, no source. */
const USUAL = { dragArea: 0.68, mass: 1700 };
/** Slope (rise over run) that remains on balance over the coasts of a drive, standard deviation. Common practice, no source. */
const COMMON_SLOPE = 0.003;
/** Wind along the road that nobody measures, m/s, standard deviation between coasts. Common practice, no source. */
const WIND = 1.5;

export const COAST_DOWN = recipe<CoastDown>({
  id: 'coastDown',
  about:
    'Deceleration of the freely rolling car on the level at 60 km/h: pedal released, brake switch off, in neutral or with the engine slower than any gear would make it, >= 5 s between 25 and 100 km/h; drag taken to 60 km/h, slope out where altitude is recorded; mean of >= 3 coasts with its uncertainty (scatter, slope in common, wind).',
  compute(drive) {
    const speed = drive.derive(SPEED);
    if (isRefusal(speed)) return refuse(`no coast-down: ${speed.reason}`, speed.missing);
    const free = rollingFreely(drive, speed.values);
    if (isRefusal(free)) return free;
    const ambient = drive.derive(AMBIENT);
    const density = isRefusal(ambient) ? 1.2 : ambient.density;
    const { dragArea = USUAL.dragArea, mass = USUAL.mass } = drive.vehicle.body;
    const drag = (kmh: number): number => dragForce(dragArea, kmh / 3.6, density) / mass;
    const slope = drive.derive(GRADIENT);
    if (isRefusal(slope)) return slope;
    const found: { from: number; to: number; value: number }[] = [];
    for (const { start, end } of stretches(drive, free, { minDuration: LASTS })) {
      const seconds = drive.time[end]! - drive.time[start]!;
      // Mean deceleration from both ends; drag and slope are means over the same rows.
      let air = 0;
      let climbs = 0;
      for (let i = start; i <= end; i++) {
        air += drag(speed.values[i]!);
        climbs += GRAVITY * slope.values[i]!;
      }
      const rows = end - start + 1;
      const slows = (speed.values[start]! - speed.values[end]!) / 3.6 / seconds;
      found.push({
        from: drive.time[start]!,
        to: drive.time[end]!,
        value: slows - (air + climbs) / rows + drag(COAST_SPEED),
      });
    }
    if (found.length < COASTS)
      return refuse(`${found.length} coasts of >= ${LASTS} s in neutral were seen, ${COASTS} are needed`, {
        conditions: [`>= ${COASTS} coasts of >= ${LASTS} s in neutral, without brakes`],
      });
    const mean = found.reduce((sum, { value }) => sum + value, 0) / found.length;
    const scatter = Math.sqrt(found.reduce((sum, { value }) => sum + (value - mean) ** 2, 0) / (found.length - 1));
    // Relative speed enters squared: 2 v w of the drag.
    const wind = (2 * drag(COAST_SPEED) * WIND * 3.6) / COAST_SPEED;
    const ends = (Math.SQRT2 * speed.quantum) / 3.6 / Math.sqrt(12) / LASTS;
    // Slopes differ from coast to coast and show in the scatter (JCGM 100:2008 4.2, few values by Student's t, G.3.2); what
    // all coasts of a drive have in common, the way downhill on balance, does not.
    const shown = (scatter * (studentQuantile(0.95, found.length - 1) / ONE_SIDED_95)) / Math.sqrt(found.length);
    return {
      deceleration: mean,
      u: Math.hypot(shown, GRAVITY * COMMON_SLOPE, wind / Math.sqrt(found.length), ends / Math.sqrt(found.length)),
      coasts: found.map(({ from, to }) => ({ from, to })),
    };
  },
});

/** 1 where the car rolls with nothing but its own resistance. A brake that is not recorded would look like a dragging one. */
function rollingFreely(drive: Drive, speed: Float64Array) {
  const samples = samplesOf(drive);
  const brake = samples.held('brakeSwitch');
  if (brake === undefined || drive.channel('brakeSwitch')!.quality.constant)
    return refuse('no coast-down, because brakeSwitch is absent or never moves', { channels: ['brakeSwitch'] });
  const released = drive.derive(PEDAL_RELEASED);
  if (isRefusal(released)) return refuse(`no coast-down: ${released.reason}`, released.missing);
  const learned = drive.derive(LEARNED_RATIOS);
  const engine = samples.held('engineSpeed');
  const selector = samples.held('selector');
  const highest = isRefusal(learned) ? Number.NaN : learned.ratios[learned.ratios.length - 1]!.value;
  const braking = drive.derive(BRAKING);
  const mask = isRefusal(braking) ? new Uint8Array(speed.length) : maskOf(braking, speed.length);
  for (let i = 0; i < mask.length; i++) {
    const v = speed[i]!;
    const uncoupled = selector?.[i] === N || (engine !== undefined && engine[i]! < UNCOUPLED * highest * v);
    const rolls = v >= SPEEDS[0] && v <= SPEEDS[1] && released.mask[i] === 1 && brake[i]! < 0.5 && mask[i] === 0;
    mask[i] = rolls && uncoupled ? 1 : 0;
  }
  return mask;
}
