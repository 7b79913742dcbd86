import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import type { Plant } from './plant.js';

/** Main pressure of the transmission: a command by torque and shifts, a valve of first order behind it, a pump that limits. */
export class Hydraulics {
  constructor(
    private readonly car: CarSpec,
    private readonly plant: Plant,
  ) {}

  step(b: Bus, dt: number): void {
    if (b.running === 0) {
      b.linePressureTarget = 0;
      b.linePressure += (-b.linePressure * dt) / 0.2;
      return;
    }
    const share = Math.max(0, b.torque) / this.car.engine.ratedTorque;
    const wanted = b.gear === 0 ? 4 : 5 + 11 * Math.min(1.2, share) + (b.shifting === 1 ? 2 : 0);
    b.linePressureTarget += ((wanted - b.linePressureTarget) * dt) / 0.05;
    // Cold fluid is slow and its pressure high; common practice.
    const cold = Math.max(0, 40 - b.fluid) / 60;
    const pump = 3 + b.engineSpeed * 0.12;
    const loss = this.plant.pressureLoss * Math.min(1, Math.max(0, b.fluid - 30) / 40);
    const real = Math.min(pump, b.linePressureTarget * this.plant.pressureFactor * (1 + 0.25 * cold)) - loss;
    b.linePressure += ((Math.max(0.2, real) - b.linePressure) * dt) / (0.06 + 0.5 * cold);
  }
}
