import { localSlope } from '../math/local-slope.js';
import { quantile } from '../math/quantile.js';
import { GRAVITY } from '../physics/air.js';
import { climbingForce, dragForce, massFactorRange, rollingForce } from '../physics/road-load.js';
import { CIRCUMFERENCE_U } from '../vehicle/tyre.js';
import type { TorqueEstimate } from './air-torque.js';
import { AMBIENT } from './ambient.js';
import { RATIO_MATCHING } from './gear-knowledge.js';
import { SHIFTS } from './gear-shifts.js';
import { GRADIENT } from './gradient.js';
import { maskOf, widened } from './intervals.js';
import { LEARNED_RATIOS, type LearnedRatios } from './ratio-clusters.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { BRAKING } from './segments.js';

export interface RoadTorque extends TorqueEstimate {
  /** kW at the crank, row by row. */
  readonly power: Float64Array;
  /** kW at the driven wheels (before their slip), row by row. */
  readonly wheelPower: Float64Array;
  /** Entry of the learned ratios that is engaged, 1..n, where `values` holds a number. */
  readonly gear: Float64Array;
  /** What the uncertainty is made of, relative, at high load. */
  readonly parts: Readonly<Record<'mass' | 'slope' | 'drag' | 'loss' | 'speed', number>>;
  /** Assumptions in words. */
  readonly notes: readonly string[];
}

/**
 * Loss between crank and tyre as a share, the tyres' rolling counted apart. Derived: the trade's 12 +- 4 % (two driven
 * wheels) and 15 +- 5 % (four) are measured on rollers and hold 3 to 4 % of rolling of the tyres.
 */
const LOSS = { two: { value: 0.08, u: 0.02 }, four: { value: 0.11, u: 0.025 } } as const;
/** Share of the mass that is not known without weighing: people, fuel, equipment. */
const MASS_U = 0.03;
/** Where no profile says so: a saloon on road tyres. Common practice, no source. */
const DRAG_AREA = { value: 0.68, u: 0.08 };
const ROLLING = { value: 0.0125, u: 0.002 };
/** How well each speed tells metres per second, relative: displays may read high, wheels hold the nominal tyre. */
const SPEED_U: Readonly<Record<string, number>> = { gpsSpeed: 0.005, wheelSpeed: 0.015, vehicleSpeed: 0.025 };
/** Slip of a driven tyre per share of its load that it pushes with: 1 / 22 (stiffness 15 to 30, common practice). */
const TYRE_SLIP = 1 / 22;

/** Rows whose parts of the uncertainty tell their middles. */
const ENOUGH = 20_000;

export const ROAD_TORQUE = recipe<RoadTorque>({
  id: 'roadTorque',
  about:
    'Engine torque and power from road load in a locked gear: (mass x mass factor x acceleration + drag + rolling + slope) x speed over driveline efficiency (Gillespie 1992 ch. 2 and 4); speed and acceleration from engine speed over the learned ratio.',
  compute(drive) {
    const { mass } = drive.vehicle.body;
    if (mass === undefined)
      return refuse('no road load, because the profile names no mass', {
        conditions: ['vehicle profile with body.mass'],
      });
    const learned = drive.derive(LEARNED_RATIOS);
    if (isRefusal(learned)) return refuse(`no road load: ${learned.reason}`, learned.missing);
    const ambient = drive.derive(AMBIENT);
    if (isRefusal(ambient)) return ambient;
    const speed = samplesOf(drive).held('engineSpeed');
    if (speed === undefined)
      return refuse('no road load, because engineSpeed is absent', { channels: ['engineSpeed'] });
    const gradient = drive.derive(GRADIENT);
    if (isRefusal(gradient)) return gradient;
    return compute(drive, mass, learned, speed, ambient.density, ambient.densityU, gradient);
  },
});

function compute(
  drive: Drive,
  mass: number,
  learned: LearnedRatios,
  speed: Float64Array,
  density: number,
  densityU: number,
  gradient: { readonly values: Float64Array; readonly u: number; readonly source: string },
): RoadTorque {
  const { body, driveline } = drive.vehicle;
  const dragArea = body.dragArea ?? DRAG_AREA.value;
  const rolling = body.rolling ?? ROLLING.value;
  const loss = driveline.driven === 'all' ? LOSS.four : LOSS.two;
  const calibration = metresOf(drive, learned);
  const rows = speed.length;
  const block = lockedBlocks(drive, learned.gear);
  const fresh = samplesOf(drive).fresh('engineSpeed');
  const window = Math.max(0.35, 1.6 / samplesOf(drive).hz('engineSpeed'));
  const slopes = localSlope(drive.time, speed, fresh, window, block);
  const values = new Float64Array(rows).fill(Number.NaN);
  const power = new Float64Array(rows).fill(Number.NaN);
  const wheelPower = new Float64Array(rows).fill(Number.NaN);
  const gear = new Float64Array(rows).fill(Number.NaN);
  const parts = {
    mass: [] as number[],
    slope: [] as number[],
    drag: [] as number[],
    speed: [] as number[],
    force: [] as number[],
  };
  // Middles of the parts need no more rows than that.
  const every = Math.max(1, Math.floor(fresh.length / ENOUGH));
  for (let k = 0; k < fresh.length; k++) {
    const i = fresh[k]!;
    const g = learned.gear[i]!;
    if (Number.isNaN(slopes[k]!) || !(g >= 1) || Number.isNaN(block[i]!)) continue;
    // Metres per second and radian of the engine.
    const perRpm = calibration.metres[g - 1]!;
    const wheel = speed[i]! * perRpm;
    if (!(wheel >= 4)) continue;
    const pushed = slopes[k]! * perRpm;
    const slip = learned.tyres > 0 ? learned.tyres * 3.6 * pushed : (TYRE_SLIP * pushed) / GRAVITY;
    const road = wheel * (1 - Math.min(0.1, Math.max(-0.02, slip)));
    const acceleration = pushed * (1 - Math.min(0.1, Math.max(-0.02, slip)));
    const radius = perRpm * (30 / Math.PI);
    // Engine turns per wheel turn, for a wheel of usual size (0.32 m rolling radius, common practice).
    const reduction = 0.32 / radius;
    const heavy = massFactorRange(reduction);
    const inertia = mass * heavy.value * acceleration;
    const drag = dragForce(dragArea, road, density);
    const rolled = rollingForce(rolling, mass, gradient.values[i]!);
    const force = inertia + drag + rolled + climbingForce(mass, gradient.values[i]!);
    const watts = force * wheel;
    wheelPower[i] = watts / 1000;
    power[i] = force >= 0 ? watts / 1000 / (1 - loss.value) : (watts / 1000) * (1 - loss.value);
    values[i] = (power[i]! * 30_000) / (Math.PI * speed[i]!);
    gear[i] = g;
    if (k % every !== 0) continue;
    parts.force.push(force);
    parts.mass.push(Math.hypot((inertia + rolled) * MASS_U, mass * heavy.u * acceleration));
    parts.slope.push(mass * GRAVITY * gradient.u);
    parts.drag.push(
      Math.hypot(
        drag * Math.hypot(body.dragArea === undefined ? DRAG_AREA.u / DRAG_AREA.value : 0.05, densityU),
        mass * GRAVITY * ROLLING.u,
      ),
    );
    // Inertia grows with the square of the speed's scale, drag with its cube.
    parts.speed.push((2 * inertia + 3 * drag + rolled) * calibration.u);
  }
  const hard = quantile(parts.force, 0.9);
  const share = (list: readonly number[]): number =>
    quantile(
      list.flatMap((each, k) => (parts.force[k]! >= 0.6 * hard ? [Math.abs(each) / parts.force[k]!] : [])),
      0.5,
    );
  const made = {
    mass: share(parts.mass),
    slope: share(parts.slope),
    drag: share(parts.drag),
    loss: loss.u / (1 - loss.value),
    speed: share(parts.speed),
  };
  return {
    values,
    power,
    wheelPower,
    gear,
    u: Math.hypot(...Object.values(made)),
    surroundings: made.slope,
    parts: made,
    source: 'road load',
    notes: [
      `Driveline loss taken as ${Math.round(loss.value * 100)} %${driveline.driven === undefined ? ', driven axle not in the profile' : ''}; slope: ${gradient.source}; speed: ${calibration.source}.`,
      ...(body.dragArea === undefined ? [`Drag area not in the profile: ${DRAG_AREA.value} m² taken.`] : []),
    ],
  };
}

/** Metres per second of the driven tyre per rpm, for each learned gear. */
function metresOf(
  drive: Drive,
  learned: LearnedRatios,
): { readonly metres: readonly number[]; readonly u: number; readonly source: string } {
  const [road = 'vehicleSpeed'] = learned.source.split(' over ').slice(-1);
  const own = SPEED_U[road] ?? SPEED_U.vehicleSpeed!;
  const matching = drive.derive(RATIO_MATCHING);
  const scale = isRefusal(matching) ? Number.NaN : matching.scale;
  // Other tyres or another final drive than the profile's: then the speed alone counts.
  const agrees = Math.abs(scale - 1) < 0.06;
  if (!agrees) return { metres: learned.ratios.map(({ value }) => 1 / value / 3.6), u: own, source: road };
  // Weighted by 1 / u^2: rolling circumference by name (profile) against the speed as logged.
  const weight = own ** 2 / (own ** 2 + CIRCUMFERENCE_U ** 2);
  const factor = Math.exp(weight * Math.log(scale));
  return {
    metres: learned.ratios.map(({ value }) => factor / value / 3.6),
    u: 1 / Math.hypot(1 / own, 1 / CIRCUMFERENCE_U),
    source: `${road} and tyre size`,
  };
}

/** Number of the locked stretch that each row belongs to; NaN = shift, slip, braking, unknown gear. */
function lockedBlocks(drive: Drive, gear: Float64Array): Float64Array {
  const rows = gear.length;
  const shifts = drive.derive(SHIFTS);
  const braking = drive.derive(BRAKING);
  const out = maskOf(
    [...(isRefusal(shifts) ? [] : widened(shifts, drive.time, 0.25)), ...(isRefusal(braking) ? [] : braking)],
    rows,
  );
  const { maxStep } = samplesOf(drive);
  const block = new Float64Array(rows).fill(Number.NaN);
  let number = 0;
  let last = -1;
  for (let i = 0; i < rows; i++) {
    if (out[i] === 1 || !(gear[i]! >= 1)) continue;
    if (last < 0 || gear[i] !== gear[last] || drive.time[i]! - drive.time[last]! > maxStep) number++;
    block[i] = number;
    last = i;
  }
  return block;
}
