import { type Bus, SELECTOR } from './bus.js';
import type { CarSpec } from './car.js';
import type { Driveline } from './driveline.js';
import type { Engine } from './engine.js';
import type { Heat } from './heat.js';
import type { Random } from './random.js';
import type { Phase } from './script.js';
import { SpeedControl } from './speed-control.js';
import { circuitTrace, cruiseTrace, cycleTrace, rollingTrace, Trace, townTrace } from './trace.js';
import type { Transmission } from './transmission.js';

const RPM = 30 / Math.PI;
const KMH = 1 / 3.6;

export interface PhaseRecord {
  readonly kind: Phase['kind'];
  readonly from: number;
  to: number;
}

/** Follows the script: each phase is a speed to follow or a small sequence of actions. */
export class Driver {
  readonly phases: PhaseRecord[] = [];
  done = false;
  private index = -1;
  private start = 0; // of the phase
  private step0 = 0; // step within the phase
  private mark = 0; // time of the last step change
  private count = 0;
  private trace: Trace | undefined;
  private readonly feet: SpeedControl;
  private pulls = 0;
  private readonly baseGrip: number;

  constructor(
    private readonly car: CarSpec,
    private readonly script: readonly Phase[],
    engine: Engine,
    private readonly transmission: Transmission,
    private readonly driveline: Driveline,
    private readonly heat: Heat,
    private readonly random: Random,
    grip: number,
    private readonly baseGrade: (distance: number) => number,
  ) {
    this.baseGrip = grip;
    this.feet = new SpeedControl(car, engine, transmission, driveline);
  }

  /** Phase that runs now. */
  get phase(): Phase | undefined {
    return this.script[this.index];
  }

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
    this.act(b, dt, phase);
    // A human foot in a manual car lifts while the clutch is down.
    if (this.car.transmission.kind === 'manual' && b.shifting === 1) b.pedal = 0;
  }

  private nextPhase(b: Bus): void {
    const last = this.phases[this.phases.length - 1];
    if (last) last.to = b.t;
    this.index += 1;
    this.start = b.t;
    this.mark = b.t;
    this.step0 = 0;
    this.count = 0;
    this.trace = undefined;
    this.feet.reset();
    b.gearRequest = 0;
    b.forcedGear = 0;
    b.autoStop = 0;
    b.pullNumber = 0;
    b.launchArmed = 0;
    b.tractionOff = 0;
    const phase = this.script[this.index];
    b.phase = this.index;
    if (phase) this.phases.push({ kind: phase.kind, from: b.t, to: b.t });
  }

  private go(b: Bus, step: number): void {
    this.step0 = step;
    this.mark = b.t;
  }

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

  private get manual(): boolean {
    return this.car.transmission.kind === 'manual';
  }

  private pull(b: Bus, dt: number, p: Extract<Phase, { kind: 'pull' | 'lug' }>, since: number): void {
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

  private limiter(b: Bus, dt: number, p: Extract<Phase, { kind: 'limiter' }>, since: number): void {
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

  private wrongGear(b: Bus, dt: number, p: Extract<Phase, { kind: 'wrongGear' }>, since: number): void {
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
  private stopHot(b: Bus, dt: number, p: Extract<Phase, { kind: 'hotStop' | 'automaticStop' }>, since: number): void {
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

  private launch(b: Bus, dt: number, p: Extract<Phase, { kind: 'launch' }>, since: number): void {
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

  /** Selector into D (at rest with the brake on). */
  private drive(b: Bus): void {
    if (b.selector !== SELECTOR.D && b.selector !== SELECTOR.M) {
      if (b.speed < 0.3) b.brake = Math.max(b.brake, 0.35);
      b.selector = SELECTOR.D;
    }
  }

  /** Brings the car to rest; true once it has been at rest for 0.5 s. The phase clock starts then. */
  private standstill(b: Bus, dt: number, deceleration = 1.5): boolean {
    if (this.count >= 0 && this.trace === undefined && b.speed < 0.15) {
      if (this.rest < 0.5) {
        this.rest += dt;
        this.mark = b.t;
        b.brake = 0.35;
        b.pedal = 0;
        return false;
      }
      b.steering -= b.steering * Math.min(1, dt * 2);
      b.pedal = b.selector === SELECTOR.N ? b.pedal : 0;
      b.brake = Math.max(b.brake, 0.3);
      return true;
    }
    this.rest = 0;
    this.mark = b.t;
    this.steer(b, dt, Math.max(0, b.speed - deceleration * 0.7), 0, deceleration + 1.5, deceleration);
    return false;
  }
  private rest = 0;

  private follow(b: Bus, dt: number, trace: Trace, limit: number): void {
    if (this.trace !== trace) {
      this.trace = trace;
      this.traceFrom = b.t;
    }
    this.drive(b);
    const t = b.t - this.traceFrom;
    if (b.gear === 0 && b.speed < 0.5) {
      // Wait for the clutch before the trace begins.
      this.traceFrom = b.t;
      b.brake = 0.35;
      b.pedal = 0;
      return;
    }
    const ahead = trace.at(t + 0.45);
    this.steer(b, dt, ahead, trace.at(t), limit);
    const tag = (this.script[this.index] as Phase).tag;
    const more = tag !== undefined && !this.heat.finished(tag);
    if (t > trace.duration) {
      if (more && b.t - this.start < 900) {
        this.trace = undefined;
      } else this.nextPhase(b);
    }
  }
  private traceFrom = 0;

  private steer(b: Bus, dt: number, ahead: number, now: number, limit: number, brakeLimit?: number): void {
    this.drive(b);
    this.feet.steer(b, dt, ahead, now, limit, brakeLimit);
  }
}
