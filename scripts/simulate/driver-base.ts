import { type Bus, SELECTOR } from './bus.js';
import type { CarSpec } from './car.js';
import type { Driveline } from './driveline.js';
import type { Engine } from './engine.js';
import type { Heat } from './heat.js';
import type { Random } from './random.js';
import type { Phase } from './script.js';
import { SpeedControl } from './speed-control.js';
import type { Trace } from './trace.js';
import type { Transmission } from './transmission.js';

export interface PhaseRecord {
  readonly kind: Phase['kind'];
  readonly from: number;
  to: number;
}

/** Where the driver is in the script, and what every phase is made of: holding still, following a speed, selecting. */
export class DriverBase {
  readonly phases: PhaseRecord[] = [];
  done = false;
  protected index = -1;
  protected start = 0; // of the phase
  protected step0 = 0; // step within the phase
  protected mark = 0; // time of the last step change
  protected count = 0;
  protected trace: Trace | undefined;
  protected readonly feet: SpeedControl;
  protected pulls = 0;
  protected readonly baseGrip: number;

  constructor(
    protected readonly car: CarSpec,
    protected readonly script: readonly Phase[],
    engine: Engine,
    protected readonly transmission: Transmission,
    protected readonly driveline: Driveline,
    protected readonly heat: Heat,
    protected readonly random: Random,
    grip: number,
    protected readonly baseGrade: (distance: number) => number,
  ) {
    this.baseGrip = grip;
    this.feet = new SpeedControl(car, engine, transmission, driveline);
  }

  /** Phase that runs now. */
  get phase(): Phase | undefined {
    return this.script[this.index];
  }

  protected nextPhase(b: Bus): void {
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

  protected go(b: Bus, step: number): void {
    this.step0 = step;
    this.mark = b.t;
  }

  protected get manual(): boolean {
    return this.car.transmission.kind === 'manual';
  }

  /** Selector into D (at rest with the brake on). */
  protected drive(b: Bus): void {
    if (b.selector !== SELECTOR.D && b.selector !== SELECTOR.M) {
      if (b.speed < 0.3) b.brake = Math.max(b.brake, 0.35);
      b.selector = SELECTOR.D;
    }
  }

  /** Brings the car to rest; true once it has been at rest for 0.5 s. The phase clock starts then. */
  protected standstill(b: Bus, dt: number, deceleration = 1.5): boolean {
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
  protected rest = 0;

  protected follow(b: Bus, dt: number, trace: Trace, limit: number): void {
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
  protected traceFrom = 0;

  protected steer(b: Bus, dt: number, ahead: number, now: number, limit: number, brakeLimit?: number): void {
    this.drive(b);
    this.feet.steer(b, dt, ahead, now, limit, brakeLimit);
  }
}
