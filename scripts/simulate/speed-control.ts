import type { Bus } from './bus.js';
import { type CarSpec, roadLoad } from './car.js';
import type { Driveline } from './driveline.js';
import type { Engine } from './engine.js';
import type { Transmission } from './transmission.js';

const RPM = 30 / Math.PI;

/** The driver's feet: follow a wanted speed with road load, gear and pedal map in mind, like a practised driver. */
export class SpeedControl {
  private integral = 0;
  private pedal = 0;

  constructor(
    private readonly car: CarSpec,
    private readonly engine: Engine,
    private readonly transmission: Transmission,
    private readonly driveline: Driveline,
  ) {}

  /** Forgets the lasting error; at the start of a phase. */
  reset(): void {
    this.integral = 0;
  }

  /** One step of speed control: wanted speed a moment ahead, wanted now (m/s), largest acceleration (m/s2). */
  steer(b: Bus, dt: number, ahead: number, now: number, limit: number, brakeLimit = 8.5): void {
    const error = now - b.speed;
    if (now < 0.05 && ahead < 0.05 && b.speed < 0.35) {
      this.integral = 0;
      this.pedal = 0;
      b.pedal = 0;
      b.brake += Math.max(-dt, Math.min(dt * 2, 0.3 - b.brake));
      return;
    }
    if (Math.abs(error) < 3) this.integral = Math.max(-1.5, Math.min(1.5, this.integral + 0.25 * error * dt));
    const wanted = Math.max(-brakeLimit - 1, Math.min(limit, (ahead - b.speed) / 0.65 + this.integral));
    const mass = this.car.body.mass;
    const slope = b.grade / Math.sqrt(1 + b.grade * b.grade);
    const force = mass * 1.04 * wanted + roadLoad(this.car, b.speed, b.density, b.wind) + mass * 9.80665 * slope;
    const gear = b.gear > 0 ? b.gear : 1;
    const ratio = this.transmission.ratio(gear);
    const rpm = Math.max(b.engineSpeed * RPM, this.car.engine.idle);
    const torque = (force * this.driveline.drivenRadius) / (ratio * 0.95);
    const overrun = (-this.engine.dragTorque(rpm) * ratio) / this.driveline.drivenRadius;
    let aim = this.engine.pedalFor(torque, rpm);
    let brake = 0;
    if (force < overrun - 0.15 * mass || (b.speed < 2 && wanted < -0.3)) {
      brake = Math.min(1, (Math.min(0, overrun * (b.speed > 3 ? 1 : 0)) - force) / (mass * 11));
      if (brake < 0) brake = 0;
      aim = 0;
    }
    if (aim < 0.012) aim = 0;
    this.pedal = b.pedal + Math.max(-6 * dt, Math.min((limit > 8 ? 6 : 2.2) * dt, aim - b.pedal));
    b.pedal = this.pedal < 0.004 ? 0 : this.pedal;
    b.brake += Math.max(-5 * dt, Math.min(4 * dt, brake - b.brake));
    if (b.brake < 0.005) b.brake = 0;
    // Small corrections at the wheel, more in town.
    const busy = b.speed > 1 ? 260 / (4 + b.speed) : 0;
    b.steering += ((busy * Math.sin(0.31 * b.t) * Math.sin(0.083 * b.t + 1) - b.steering) * dt) / 0.6;
  }
}
