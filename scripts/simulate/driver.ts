import { type Bus, SELECTOR } from './bus.js';
import { HardDriver } from './hard-driver.js';
import type { Phase } from './script.js';
import { circuitTrace, cruiseTrace, cycleTrace, rollingTrace, Trace, townTrace } from './trace.js';

const RPM = 30 / Math.PI;
const KMH = 1 / 3.6;

/** Follows the script: each phase is a speed to follow or a small sequence of actions. */
export class Driver extends HardDriver {
  step(b: Bus, dt: number): void {
    if (this.index < 0) this.nextPhase(b);
    const phase = this.script[this.index];
    if (phase === undefined) {
      this.done = true;
      return;
    }
    const slope = (phase.kind === 'hillStart' ? phase.slope : phase.grade) ?? this.baseGrade(b.distance);
    b.grade += ((slope - b.grade) * dt) / 3;
    const grip = (phase.kind === 'wheelspinIce' ? phase.friction : phase.grip) ?? this.baseGrip;
    b.grip += ((grip - b.grip) * dt) / 0.5;
    if (b.selector === SELECTOR.M && phase.kind !== 'circuit') b.selector = SELECTOR.D;
    this.act(b, dt, phase);
    // A human foot in a manual car lifts while the clutch is down.
    if (this.car.transmission.kind === 'manual' && b.shifting === 1) b.pedal = 0;
  }

  /** Turns the wheel for that much sideways (m/s2) while the speed is held below a bound (m/s), to either side in turn. */
  private corner(b: Bus, dt: number, lateral: number, below: number): void {
    if (this.trace === undefined) return;
    const t = b.t - this.traceFrom;
    const before = this.trace.at(t - 0.3);
    const after = this.trace.at(t + 0.3);
    if (before > below || Math.abs(after - before) > 0.5 || b.speed < 10 || b.speed > below) {
      this.inCorner = false;
      b.steering -= Math.sign(b.steering) * Math.min(Math.max(0, Math.abs(b.steering) - 6), 350 * dt);
      return;
    }
    if (!this.inCorner) this.side = -this.side;
    this.inCorner = true;
    const { wheelbase, steeringRatio } = this.car.body;
    const aim = (this.side * steeringRatio * 180 * Math.atan((lateral * wheelbase) / (b.speed * b.speed))) / Math.PI;
    b.steering += Math.max(-350 * dt, Math.min(350 * dt, aim - b.steering));
  }
  /** By hand: gears that turn the engine at 3600 rpm and more in corners, one step at a time. */
  private sportingGear(b: Bus): void {
    if (b.gear < 1 || b.shifting === 1) {
      this.shiftedAt = b.t;
      return;
    }
    if (!this.manual) b.selector = SELECTOR.M;
    if (b.gearRequest === 0) b.gearRequest = b.gear;
    if (b.t - this.shiftedAt < 0.8) return;
    const speedIn = (gear: number) => (b.speed / this.driveline.drivenRadius) * this.transmission.ratio(gear) * RPM;
    const { gears } = this.car.transmission;
    const top = this.car.engine.revLimit - 500;
    if (speedIn(b.gear) > top && b.gear < gears.length) b.gearRequest = b.gear + 1;
    else if (speedIn(b.gear) < 3600 && b.gear > 1 && speedIn(b.gear - 1) < top - 600) b.gearRequest = b.gear - 1;
  }
  private shiftedAt = 0;
  private inCorner = false;
  private side = 1;

  private act(b: Bus, dt: number, p: Phase): void {
    const since = b.t - this.mark;
    switch (p.kind) {
      case 'coldStart':
        b.selector = SELECTOR.P;
        b.brake = 0.3;
        b.pedal = 0;
        if (this.step0 === 0) {
          b.key = 1;
          if (since > (p.keyOn ?? 3)) this.go(b, 1);
        } else if (this.step0 === 1) {
          b.key = 2;
          if (b.running === 1 || since > 12) {
            b.key = 1;
            this.go(b, 2);
          }
        } else if (since > p.duration) this.nextPhase(b);
        return;
      case 'restart':
        if (!this.standstill(b, dt)) return;
        b.selector = SELECTOR.P;
        b.brake = 0.3;
        if (this.step0 === 0) {
          b.key = 0;
          if (b.t - this.mark > p.off) this.go(b, 1);
        } else if (this.step0 === 1) {
          b.key = 1;
          if (since > 1.5) this.go(b, 2);
        } else if (this.step0 === 2) {
          b.key = 2;
          if (b.running === 1 || since > 12) {
            b.key = 1;
            this.go(b, 3);
          }
        } else if (since > p.duration) this.nextPhase(b);
        return;
      case 'keyOff':
        if (!this.standstill(b, dt)) return;
        b.selector = SELECTOR.P;
        b.key = 0;
        if (b.t - this.mark > p.duration) this.nextPhase(b);
        return;
      case 'idle':
      case 'hotIdle': {
        if (!this.standstill(b, dt)) return;
        const s = this.manual ? 'N' : (p.selector ?? 'P');
        b.selector = SELECTOR[s];
        b.brake = s === 'D' ? 0.35 : 0.2;
        if (b.t - this.mark > p.duration) this.nextPhase(b);
        return;
      }
      case 'selectorExercise': {
        if (!this.standstill(b, dt)) return;
        b.brake = 0.5;
        const hold = p.hold ?? 4;
        const n = Math.floor((b.t - this.mark) / hold);
        b.selector = n % 2 === 0 ? SELECTOR.D : SELECTOR.R;
        if (n >= p.repeats * 2 + 1) {
          b.selector = SELECTOR.D;
          this.nextPhase(b);
        }
        return;
      }
      case 'town':
        this.follow(b, dt, this.trace ?? townTrace(this.random, b.speed, p.duration, p.limit ?? 50), 3);
        return;
      case 'gentleGears':
        this.follow(b, dt, this.trace ?? new Trace(b.speed).to(p.to * KMH, p.acceleration ?? 0.9).hold(6), 3);
        return;
      case 'cruise':
      case 'motorway':
        this.follow(
          b,
          dt,
          this.trace ?? cruiseTrace(this.random, b.speed, p.duration, p.speed, p.kind === 'motorway' ? 12 : 0),
          2.5,
        );
        return;
      case 'rollingAcceleration':
        this.follow(b, dt, this.trace ?? rollingTrace(b.speed, p.from, p.to, p.acceleration, p.repeats), 4);
        return;
      case 'circuit':
        this.follow(
          b,
          dt,
          this.trace ??
            circuitTrace(this.random, b.speed, p.duration, p.top ?? 170, p.corner ?? 75, p.braking, p.acceleration),
          12,
        );
        if (p.sporting) this.sportingGear(b);
        if (p.lateral !== undefined) this.corner(b, dt, p.lateral, (p.corner ?? 75) * 1.3 * KMH);
        return;
      case 'cycle':
        this.follow(b, dt, this.trace ?? cycleTrace(p.speeds, p.interval ?? 1), 6);
        return;
      case 'stop':
        if (!this.standstill(b, dt, p.deceleration ?? 1.6)) return;
        if (b.t - this.mark > (p.stand ?? 3)) this.nextPhase(b);
        return;
      case 'coast':
        if (p.neutral) b.selector = SELECTOR.N;
        else this.drive(b);
        b.pedal = 0;
        b.brake = 0;
        if (b.speed < p.to * KMH || b.t - this.start > 240) this.nextPhase(b);
        return;
      case 'briskPullAway':
      case 'hillStart':
        if (this.step0 === 0) {
          if (!this.standstill(b, dt, 2)) return;
          this.drive(b);
          if (b.gear > 0 && b.t - this.mark > 4) this.go(b, 1);
        } else {
          const a = p.kind === 'hillStart' ? 1.4 : p.acceleration;
          this.follow(b, dt, this.trace ?? new Trace(0).to(p.to * KMH, a).hold(2), a);
        }
        return;
      case 'creep':
        if (this.step0 === 0) {
          if (!this.standstill(b, dt)) return;
          this.drive(b);
          if (b.gear > 0) this.go(b, 1);
        } else {
          b.pedal = 0;
          b.brake = since % 9 < 6 ? 0 : 0.3;
          if (since > p.duration) this.nextPhase(b);
        }
        return;
      case 'fullLock': {
        if (this.step0 === 0) {
          if (!this.standstill(b, dt)) return;
          this.go(b, 1);
          return;
        }
        const half = p.duration / 2;
        const lock = this.car.body.steeringLock * (p.share ?? 0.96);
        const side = since < half ? 1 : -1;
        const aim = since > p.duration - 2.5 ? 0 : side * lock;
        const turned = b.steering + Math.max(-260 * dt, Math.min(260 * dt, aim - b.steering));
        this.follow(
          b,
          dt,
          this.trace ??
            new Trace(0)
              .to(1.9, 0.5)
              .hold(Math.max(1, p.duration - 8))
              .to(0, 0.8),
          1.2,
        );
        // The feet's own small corrections are not for this.
        b.steering = turned;
        return;
      }
      case 'revInNeutral':
        if (!this.standstill(b, dt)) return;
        b.selector = SELECTOR.N;
        b.brake = 0.3;
        if (this.step0 % 2 === 0) {
          b.pedal = b.t - this.mark > 1.2 && b.gear === 0 ? Math.min(0.85, b.pedal + 4 * dt) : 0;
          if (b.engineSpeed * RPM > p.rpm) this.step0 += 1;
        } else {
          b.pedal = 0;
          if (b.engineSpeed * RPM < this.car.engine.idle + 400) {
            this.step0 += 1;
            this.count += 1;
            if (this.count >= p.times) this.nextPhase(b);
          }
        }
        return;
      case 'wheelspinIce':
        if (this.step0 === 0) {
          if (!this.standstill(b, dt)) return;
          this.drive(b);
          if (b.gear > 0 && b.t - this.mark > 3) this.go(b, 1);
        } else {
          b.tractionOff = 1;
          b.brake = 0;
          b.pedal = Math.min(0.9, b.pedal + 1.5 * dt);
          b.gearRequest = 2;
          if (since > p.duration) this.nextPhase(b);
        }
        return;
      case 'pull':
      case 'lug':
        this.pull(b, dt, p, since);
        return;
      case 'limiter':
        this.limiter(b, dt, p, since);
        return;
      case 'wrongGear':
        this.wrongGear(b, dt, p, since);
        return;
      case 'hotStop':
      case 'automaticStop':
        this.stopHot(b, dt, p, since);
        return;
      case 'launch':
        this.launch(b, dt, p, since);
        return;
      case 'tipIn':
        if (this.step0 === 0) {
          this.steer(b, dt, 45 * KMH, 45 * KMH, 3);
          b.gearRequest = 3;
          if (Math.abs(b.speed - 45 * KMH) < 1 && b.gear === 3 && since > 3) this.go(b, 1);
          else if (since > 30) this.nextPhase(b);
        } else if (since < 0.8) b.pedal = Math.min(0.55, b.pedal + 5 * dt);
        else {
          this.count += 1;
          if (this.count >= p.times) this.nextPhase(b);
          else this.go(b, 0);
        }
        return;
    }
  }
}
