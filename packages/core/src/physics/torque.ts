/**
 * NaN in gives NaN out. Brake mean effective pressure of a four-stroke engine, bar: 4 pi T / Vd.
 * Heywood, Internal Combustion Engine Fundamentals (1988) eq. 2.20, from memory.
 * @param torque N.m at the crank; @param displacement L
 */
export function meanEffectivePressure(torque: number, displacement: number): number {
  return (4 * Math.PI * torque) / displacement / 100;
}

/** NaN in gives NaN out. Power, kW, of a torque (N.m) at a speed (rpm): T 2 pi n / 60. */
export function powerOf(torque: number, speed: number): number {
  return (torque * speed * Math.PI) / 30_000;
}

/** NaN in gives NaN out. Torque, N.m, of a power (kW) at a speed (rpm). */
export function torqueOf(power: number, speed: number): number {
  return (power * 30_000) / (speed * Math.PI);
}
