import { GRAVITY } from './air.js';

export interface RoadLoad {
  /** kg, with people and fuel. */
  readonly mass: number;
  /** Drag coefficient times frontal area, m2. */
  readonly dragArea: number;
  /** Rolling resistance coefficient, 1. */
  readonly rolling: number;
}

/** NaN in gives NaN out. Aerodynamic drag, N: rho/2 Cd A v^2 (Gillespie, Fundamentals of Vehicle Dynamics, 1992, ch. 4). */
export function dragForce(dragArea: number, speed: number, density: number): number {
  return 0.5 * density * dragArea * speed * Math.abs(speed);
}

/** NaN in gives NaN out. Rolling resistance on a slope, N: f m g cos(a). @param slope rise over run, 1 */
export function rollingForce(rolling: number, mass: number, slope = 0): number {
  return (rolling * mass * GRAVITY) / Math.sqrt(1 + slope * slope);
}

/** NaN in gives NaN out. Weight along the road, N: m g sin(a). @param slope rise over run, 1 */
export function climbingForce(mass: number, slope: number): number {
  return (mass * GRAVITY * slope) / Math.sqrt(1 + slope * slope);
}

/**
 * NaN in gives NaN out. Effective over real mass when engine, gearbox and wheels speed up with the car:
 * 1.04 + 0.0025 N^2, N = engine speed over wheel speed (gear x final drive). Gillespie, Fundamentals of Vehicle Dynamics
 * (1992) ch. 2, from memory: an approximation for passenger cars of its time, with heavy flywheels.
 */
export function massFactor(reduction: number): number {
  return 1.04 + 0.0025 * reduction * reduction;
}

/**
 * NaN in gives NaN out. The range of mass factors of cars today: from 1.02 + 0.001 N^2 (light wheels, an engine of 0.17 kg
 * m2 with its clutches in a car of 1,700 kg; derived) to {@link massFactor}; its middle and standard uncertainty
 * (rectangular, JCGM 100:2008 4.3.7).
 */
export function massFactorRange(reduction: number): { readonly value: number; readonly u: number } {
  const low = 1.02 + 0.001 * reduction * reduction;
  const high = massFactor(reduction);
  return { value: (low + high) / 2, u: (high - low) / Math.sqrt(12) };
}

/** NaN in gives NaN out. Force at the wheels, N, without inertia. @param speed m/s; @param density kg/m3 */
export function roadForce(car: RoadLoad, speed: number, density: number, slope = 0): number {
  return (
    dragForce(car.dragArea, speed, density) +
    rollingForce(car.rolling, car.mass, slope) +
    climbingForce(car.mass, slope)
  );
}

/**
 * NaN in gives NaN out. Road load by coast-down coefficients, in the units of the coefficients: A + B v + C v^2
 * (40 CFR 1066.210(d)).
 */
export function coastDownForce(a: number, b: number, c: number, speed: number): number {
  return a + b * speed + c * speed * speed;
}
