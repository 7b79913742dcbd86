import { GRAVITY } from './atmosphere.js';

/** What a simulated car is made of. All cars of the table are invented. */
export interface CarSpec {
  readonly id: string;
  readonly engine: {
    /** Litres. */
    readonly displacement: number;
    readonly cylinders: 4 | 6 | 8;
    readonly banks: 1 | 2;
    readonly idle: number; // rpm, warm
    readonly revLimit: number; // rpm
    readonly ratedTorque: number; // N.m
    readonly torqueFrom: number; // rpm, plateau begins
    readonly ratedPower: number; // kW
    readonly inertia: number; // kg.m2, with flywheel
    readonly turboLag: number; // s, first-order time constant at full flow
    readonly closedLoopBelow: number; // share of rated air per stroke
    readonly fullLoadLambda: number;
    readonly thermostat: number; // degC
    readonly maximumMeter: number; // g/s
    readonly fuel: 'E5' | 'E10';
  };
  readonly transmission: {
    readonly kind: 'dual-clutch' | 'converter' | 'manual';
    readonly gears: readonly number[];
    readonly reverse: number;
    readonly finalDrive: number;
    readonly launchSpeed: number; // rpm, 0 = no launch programme
    readonly fluidMass: number; // kg
    readonly shiftTime: number; // s, whole hand-over
  };
  readonly driveline: {
    readonly driven: 'front' | 'rear' | 'all';
    readonly tyreFront: string;
    readonly tyreRear: string;
  };
  readonly body: {
    readonly mass: number; // kg, with driver
    readonly dragArea: number; // m2
    readonly rolling: number;
    readonly wheelbase: number; // m
    readonly frontShare: number; // of the weight at rest
    readonly centreHeight: number; // m
    readonly track: number; // m
    readonly steeringRatio: number;
    readonly steeringLock: number; // deg at the steering wheel
  };
  readonly sensors: {
    readonly pedalRest: number;
    readonly pedalFull: number;
    readonly throttleRest: number;
    readonly throttleFull: number;
  };
}

/** Nominal unloaded radius (m) of a size such as 245/40R19; rolling radius is about 3 % less under load (ETRTO practice). */
export function rollingRadius(size: string): number {
  const match = /^(\d{3})\/(\d{2})Z?R(\d{2})$/.exec(size);
  if (!match) throw new Error(`tyre size '${size}': expected a form such as 245/40R19`);
  const section = Number(match[1]) * 1e-3;
  return (0.5 * Number(match[3]) * 25.4e-3 + (section * Number(match[2])) / 100) * 0.97;
}

export const TORQUE_STEP = 100; // rpm between the points of the full-load curve

/** Full-load torque (N.m) every TORQUE_STEP rpm: without boost at the bottom, plateau, then constant power. */
export function fullLoadCurve(engine: CarSpec['engine']): Float64Array {
  const points = Math.ceil((engine.revLimit + 1200) / TORQUE_STEP) + 2;
  const curve = new Float64Array(points);
  const unboosted = 74 * engine.displacement; // N.m, about 9.3 bar BMEP
  for (let i = 0; i < points; i++) {
    const n = i * TORQUE_STEP;
    const x = Math.min(1, Math.max(0, (n - 900) / (engine.torqueFrom - 900)));
    const rise = unboosted + (engine.ratedTorque - unboosted) * x * x * (3 - 2 * x);
    const power = n > 0 ? (engine.ratedPower * 30000) / (Math.PI * n) : Number.POSITIVE_INFINITY;
    curve[i] = Math.min(rise * Math.min(1, 0.45 + n / 2200), power);
  }
  return curve;
}

/** Road load (N) on the flat at a speed in m/s: rolling plus aerodynamic. */
export function roadLoad(car: CarSpec, speed: number, density = 1.2, wind = 0): number {
  const air = speed + wind;
  return car.body.mass * GRAVITY * car.body.rolling + 0.5 * density * car.body.dragArea * air * Math.abs(air);
}
