/**
 * NaN in gives NaN out. Share of the working cycle (%) in which a port injector is open: one injection in 720 degrees.
 * @param time ms; @param speed rpm
 */
export function injectorDuty(time: number, speed: number): number {
  return (time * speed) / 1200;
}

/** NaN in gives NaN out. Crank angle (deg) that an injection takes: 0.006 n t. @param time ms; @param speed rpm */
export function injectionAngle(time: number, speed: number): number {
  return 0.006 * speed * time;
}

/** NaN in gives NaN out. Flow through an orifice at another pressure drop: Q sqrt(p2 / p1) (Bernoulli). */
export function flowAtPressure(flow: number, from: number, to: number): number {
  return flow * Math.sqrt(to / from);
}
