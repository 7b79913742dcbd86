import type { Bus } from './bus.js';

/** Battery, starter and charge-controlled alternator: one voltage. */
export class Electrics {
  private charge = 14.1;
  private crank = 0;

  step(b: Bus, dt: number): void {
    if (b.key === 2 && b.running === 0) {
      this.crank += dt;
      // Inrush, then the plateau of the turning engine; a cold battery sags more.
      const plateau = 10.6 - 0.015 * Math.max(0, 25 - b.ambient);
      b.voltage += ((this.crank < 0.08 ? 8.9 : plateau) - b.voltage) * Math.min(1, dt / 0.02);
      return;
    }
    this.crank = 0;
    // Smart charging: more in overrun, less under load.
    const wanted = b.runTime < 90 ? 14.4 : b.fuelCut ? 14.8 : b.strokeShare > 0.7 ? 13.1 : 13.9;
    this.charge += ((wanted - this.charge) * dt) / 3;
    const aim = b.running === 1 ? this.charge : b.key === 0 ? 12.7 : 12.35;
    b.voltage += ((aim - b.voltage) * dt) / (b.running === 1 ? 0.5 : 2);
  }
}
