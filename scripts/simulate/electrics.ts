import type { Bus } from './bus.js';
import type { Plant } from './plant.js';

/** A: starter that turns the engine, consumers of a running car; ohm at 25 degC; Ah. Common practice, a 70 Ah battery. */
const STARTER = 320;
const CONSUMERS = 42;
const RESISTANCE = 0.006;
const CAPACITY = 70;
/** Share by which the resistance of a battery rises per kelvin of cold below 25 degC. Common practice. */
const COLD = 0.0085;

/** Voltage of a 12 V lead-acid battery at rest by its charge, V: 12.65 full, 11.9 empty, linear (common practice). */
export function restVoltage(charge: number): number {
  return 11.9 + 0.75 * Math.min(1, Math.max(0, charge));
}

/** V of the battery under the starter at a temperature (degC). */
export function crankedVoltage(charge: number, resistance: number, temperature: number): number {
  return restVoltage(charge) - STARTER * RESISTANCE * resistance * (1 + COLD * Math.max(0, 25 - temperature));
}

/** Battery as a source behind a resistance, starter, and an alternator that is controlled by demand: one voltage. */
export class Electrics {
  private readonly plant: Plant;
  private wanted = 14.1;
  private crank = 0;
  private charge: number;

  constructor(plant: Plant) {
    this.plant = plant;
    this.charge = plant.batteryCharge;
  }

  step(b: Bus, dt: number): void {
    const { plant } = this;
    if (b.key === 2 && b.running === 0) {
      this.crank += dt;
      // Inrush, then the plateau of the turning engine; a cold battery sags more.
      const plateau = crankedVoltage(this.charge, plant.batteryResistance, b.ambient);
      b.voltage += ((this.crank < 0.08 ? plateau - 1.7 : plateau) - b.voltage) * Math.min(1, dt / 0.02);
      return;
    }
    this.crank = 0;
    // Smart charging: more in overrun, less under load; a full battery is rested on purpose by some.
    const asked = b.runTime < 90 ? 14.4 : b.fuelCut ? 14.8 : b.strokeShare > 0.7 ? 13.1 : plant.chargeCruise;
    this.wanted += ((asked + plant.regulatorHigh - this.wanted) * dt) / 3;
    const drawn = restVoltage(this.charge) - CONSUMERS * RESISTANCE * plant.batteryResistance;
    const charges = b.running === 1 && !plant.alternatorDead;
    if (b.running === 1 && !charges) this.charge = Math.max(0, this.charge - (CONSUMERS * dt) / 3600 / CAPACITY);
    // The car rests at a little less than the battery alone: something is always on.
    const aim = charges
      ? this.wanted
      : b.running === 1
        ? drawn
        : restVoltage(this.charge) + (b.key === 0 ? 0.1 : -0.25);
    b.voltage += ((aim - b.voltage) * dt) / (b.running === 1 ? 0.5 : 2);
  }
}
