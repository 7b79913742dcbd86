import { type Bus, SELECTOR } from './bus.js';
import { DriverBase } from './driver-base.js';
import type { Phase } from './script.js';

const RPM = 30 / Math.PI;
const KMH = 1 / 3.6;

/** Phases at and beyond the limit: pulls, limiter, wrong gear, launches, hot stops. */
export class HardDriver extends DriverBase {
  protected pull(b: Bus, dt: number, p: Extract<Phase, { kind: 'pull' | 'lug' }>, since: number): void {
    const gear = Math.min(p.gear, this.transmission.gears);
    const v0 = (p.fromRpm / RPM / this.transmission.ratio(gear)) * this.driveline.drivenRadius;
    if (this.step0 === 0) {
      this.steer(b, dt, v0, v0, 2);
      if (Math.abs(b.speed - v0) < 1.2 || since > 90) this.go(b, 1);
    } else if (this.step0 === 1) {
      b.gearRequest = gear;
      this.steer(b, dt, v0, v0, 2);
      if ((b.gear === gear && since > 2.5 && b.shifting === 0) || since > 12) {
        if (p.kind === 'pull') {
          this.pulls += 1;
          b.pullNumber = this.pulls;
        }
        this.go(b, 2);
      }
    } else if (this.step0 === 2) {
      b.gearRequest = gear;
      b.brake = 0;
      b.pedal = Math.min(p.pedal ?? (p.kind === 'lug' ? 0.79 : 1), b.pedal + (p.kind === 'lug' ? 0.6 : 5) * dt);
      if (b.engineSpeed * RPM > Math.min(p.toRpm, this.car.engine.revLimit - 150) || since > 25) {
        b.pullNumber = 0;
        this.go(b, 3);
      }
    } else {
      b.pedal = 0;
      b.gearRequest = gear;
      if (since > 2) this.nextPhase(b);
    }
  }

  protected limiter(b: Bus, dt: number, p: Extract<Phase, { kind: 'limiter' }>, since: number): void {
    b.gearRequest = p.gear;
    if (this.step0 === 0) {
      const v0 = (3500 / RPM / this.transmission.ratio(p.gear)) * this.driveline.drivenRadius;
      this.steer(b, dt, v0, v0, 2);
      if ((b.gear === p.gear && b.shifting === 0 && Math.abs(b.speed - v0) < 1.5) || since > 60) this.go(b, 1);
      return;
    }
    b.brake = 0;
    const full = this.step0 === 1 || since < p.duration;
    b.pedal = full ? Math.min(1, b.pedal + 5 * dt) : 0;
    if (this.step0 === 1 && (b.engineSpeed * RPM > this.car.engine.revLimit - 200 || since > 25)) this.go(b, 2);
    else if (this.step0 === 2 && since > p.duration + 2) this.nextPhase(b);
  }

  protected wrongGear(b: Bus, dt: number, p: Extract<Phase, { kind: 'wrongGear' }>, since: number): void {
    const wanted = this.car.engine.revLimit * (1 + p.over / 100);
    const after = (wanted / RPM / this.transmission.ratio(p.gear)) * this.driveline.drivenRadius;
    const high = Math.min(this.transmission.gears, p.gear + 1);
    const step = this.transmission.ratio(high) / this.transmission.ratio(p.gear);
    // The car pays for spinning the engine up: m v^2 before = m v^2 after + J (w2^2 - w1^2).
    const spin = (this.car.engine.inertia * (wanted / RPM) ** 2 * (1 - step * step)) / this.car.body.mass;
    const v0 = Math.sqrt(after * after + spin);
    if (this.step0 === 0) {
      // A little more: the shift takes a moment in which the car slows down.
      this.steer(b, dt, v0 * 1.04, v0 * 1.04, 3);
      if (b.speed > v0 * 1.03 || since > 120) this.go(b, 1);
    } else if (this.step0 === 1) {
      b.gearRequest = high;
      b.brake = 0;
      b.pedal = 0;
      if (since > 0.4) this.go(b, 2);
    } else {
      b.gearRequest = p.gear;
      b.forcedGear = b.gear === p.gear ? 0 : p.gear;
      b.brake = 0;
      b.pedal = 0;
      if (since > 3.5) this.nextPhase(b);
    }
  }

  /** Full load up a hill, brakes to rest, and then the engine stops: by the key, or by itself. */
  protected stopHot(b: Bus, dt: number, p: Extract<Phase, { kind: 'hotStop' | 'automaticStop' }>, since: number): void {
    const cool = p.kind === 'hotStop' ? p.cool : 1.5;
    if (this.step0 === 0) {
      const v0 = 60 * KMH;
      this.steer(b, dt, v0, v0, 2);
      if (Math.abs(b.speed - v0) < 1.5 || since > 60) this.go(b, 1);
    } else if (this.step0 === 1) {
      this.drive(b);
      b.brake = 0;
      b.pedal = Math.min(1, b.pedal + 3 * dt);
      if (since > p.load) this.go(b, 2);
    } else if (this.step0 === 2) {
      // Stands: the clock of the step starts anew until it does.
      if (this.standstill(b, dt, 4.5) && b.t - this.mark > cool) this.go(b, 3);
    } else if (p.kind === 'hotStop') {
      b.selector = this.manual ? SELECTOR.N : SELECTOR.P;
      b.pedal = 0;
      b.brake = since < 1.5 ? 0.3 : 0;
      if (since > 0.6) b.key = 0;
      if (since > p.duration) this.nextPhase(b);
    } else {
      b.pedal = 0;
      b.brake = 0.4;
      if (this.manual) b.selector = SELECTOR.N;
      b.autoStop = since < p.duration ? 1 : 0;
      if (since < p.duration) return;
      b.key = p.restarts && b.running === 0 ? 2 : 1;
      if (b.running === 1 || !p.restarts || since > p.duration + 6) this.nextPhase(b);
    }
  }

  protected launch(b: Bus, dt: number, p: Extract<Phase, { kind: 'launch' }>, since: number): void {
    if (this.step0 === 0) {
      if (!this.standstill(b, dt, 2.2)) return;
      this.drive(b);
      if (b.gear > 0 && b.t - this.mark > 3) this.go(b, 1);
    } else if (this.step0 === 1) {
      b.launchArmed = 1;
      b.brake = 0.9;
      b.pedal = Math.min(1, b.pedal + 3 * dt);
      if (since > (p.hold ?? 1.6)) this.go(b, 2);
    } else if (this.step0 === 2) {
      b.brake = 0;
      b.pedal = 1;
      if (b.speed > p.to * KMH || since > 20) this.go(b, 3);
    } else {
      b.launchArmed = 0;
      b.pedal = 0;
      b.brake = 0;
      if (since > 2) this.nextPhase(b);
    }
  }
}
