import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import type { Driveline } from './driveline.js';
import type { Plant } from './plant.js';
import type { ShiftRecord } from './transmission-records.js';

const RPM = 30 / Math.PI;
export const UNSEEN = { t10: Number.NaN, t90: Number.NaN, flare: 0 };

/** Ratios, paths of torque, and how a gear hands over to the next: torque first, speed first, or an opened clutch. */
export abstract class HandOver {
  readonly shifts: ShiftRecord[] = [];
  protected readonly ratios: number[];
  protected readonly reverse: number;
  protected sinceShift = 5;
  protected stage = -1; // -1 none
  protected stageTime = 0;
  protected shiftFrom = 0;
  protected shiftTo = 0;
  protected driveShift = true;
  protected slipStart = 0;
  protected flared = false;
  /** rpm by which the old gear slipped when the shift began: by design, and no flare. */
  protected slipBefore = 0;

  constructor(
    protected readonly car: CarSpec,
    protected readonly driveline: Driveline,
    protected readonly plant: Plant,
  ) {
    const t = car.transmission;
    this.ratios = t.gears.map((g, i) => g * t.finalDrive * (plant.gearFactor[i + 1] ?? 1));
    this.reverse = -t.reverse * t.finalDrive;
  }

  /** Total ratio of a forward gear (1..n). */
  ratio(gear: number): number {
    return gear === -1 ? this.reverse : gear < 1 ? 0 : this.ratios[gear - 1]!;
  }

  /** Path of a gear: odd gears first shaft, even gears and reverse second; a manual has one. */
  protected path(gear: number): 1 | 2 {
    if (this.car.transmission.kind === 'manual') return 1;
    return gear === -1 || gear % 2 === 0 ? 2 : 1;
  }

  protected setPath(b: Bus, path: 1 | 2, ratio: number, capacity: number, slip = 0): void {
    if (path === 1) {
      b.ratio1 = ratio;
      b.capacity1 = capacity;
      b.slipTarget1 = slip;
    } else {
      b.ratio2 = ratio;
      b.capacity2 = capacity;
      b.slipTarget2 = slip;
    }
  }

  /** Clutch torque (N.m) that the driven tyres can carry, for launches. */
  protected gripTorque(b: Bus, ratio: number): number {
    const body = this.car.body;
    const weight = body.mass * 9.80665;
    const d = this.car.driveline.driven;
    const share = d === 'all' ? 1 : d === 'rear' ? 1 - body.frontShare + 0.09 : body.frontShare - 0.07;
    const aim = Math.min(0.82 * b.grip * share, 0.72);
    return (aim * weight * this.driveline.drivenRadius) / (Math.abs(ratio) * 0.96);
  }

  protected begin(b: Bus, want: number): void {
    this.shiftFrom = b.gear;
    this.shiftTo = want;
    this.driveShift = b.torque > 15 && b.pedal > 0.03;
    this.stage = 0;
    this.stageTime = 0;
    b.gearTarget = want;
    b.shifting = 1;
    const [from, pedal] = [b.t, b.pedal];
    this.shifts.push({ from, to: from, gearBefore: b.gear, gearAfter: want, pedal, ...UNSEEN, tHalf: from });
    this.flared = false;
    const axle = this.car.driveline.driven === 'front' ? b.frontAxle : b.rearAxle;
    this.slipBefore = Math.max(0, b.nodeSpeed - this.ratio(b.gear) * axle) * RPM;
  }

  protected finish(b: Bus): void {
    b.gear = this.shiftTo;
    this.stage = -1;
    this.sinceShift = 0;
    this.shifts[this.shifts.length - 1]!.to = b.t;
  }

  protected hand(b: Bus, dt: number, axle: number, full: number): void {
    const { gears, factor } = this.plant.shiftFactor;
    const slowed = gears === undefined || gears.has(this.shiftFrom) ? factor : 1;
    const T = this.car.transmission.shiftTime * slowed;
    this.stageTime += dt;
    if (this.car.transmission.kind === 'manual') {
      this.handManual(b, axle, full, T);
      return;
    }
    const a = this.path(this.shiftFrom);
    const p2 = this.path(this.shiftTo);
    const iA = this.ratio(this.shiftFrom);
    const iB = this.ratio(this.shiftTo);
    const syncB = iB * axle;
    const node = b.nodeSpeed;
    const carried = Math.max(20, Math.abs(a === 1 ? b.torque1 : b.torque2));
    const up = this.shiftTo > this.shiftFrom;
    const engine = Math.max(25, Math.abs(b.torque));
    if (up && this.driveShift) {
      // Torque first, then speed.
      const { flare } = this.plant;
      if (this.stage === 0 && !this.flared && flare.gears.has(this.shiftFrom)) {
        this.setPath(b, a, iA, engine * 0.55);
        this.setPath(b, p2, iB, 0);
        if ((node - iA * axle) * RPM >= flare.rpm || this.stageTime > 1.5) {
          this.flared = true;
          this.stageTime = 0;
          this.next(node - syncB);
        }
      } else if (this.stage === 0) {
        const x = Math.min(1, this.stageTime / (0.35 * T));
        this.setPath(b, a, iA, Math.max(0, engine * 1.15 * (1 - x)));
        this.setPath(b, p2, iB, engine * 1.02 * x);
        if (x >= 1) this.next(node - syncB);
      } else {
        b.torqueFactor = 0.5;
        const inertia = (this.car.transmission.kind === 'converter' ? 0.07 : 0) + this.car.engine.inertia;
        const cap = Math.max(40, b.demand * 0.9) + (inertia * Math.max(0, this.slipStart)) / T;
        this.setPath(b, a, iA, 0);
        this.setPath(b, p2, iB, Math.min(full, cap, this.gripTorque(b, iB) * 1.1));
        if (node - syncB < 2 || this.stageTime > 5 * T) this.finish(b);
      }
    } else if (!up && this.driveShift) {
      // Speed first: the old clutch slips while the engine climbs, then the torque changes over.
      if (this.stage === 0) {
        this.setPath(b, a, iA, Math.max(0, engine * 0.55));
        this.setPath(b, p2, iB, 0);
        if (node >= syncB - 2 || this.stageTime > 5 * T) this.next(0);
      } else {
        const x = Math.min(1, this.stageTime / (0.3 * T));
        this.setPath(b, a, iA, engine * 0.55 * (1 - x));
        this.setPath(b, p2, iB, carried + full * x);
        if (x >= 1) this.finish(b);
      }
    } else if (up) {
      if (this.stage === 0 && b.torque > 15 && b.pedal > 0.03) {
        // The driver wants power again: the new clutch takes the engine in hand, as in a shift under power.
        this.driveShift = true;
        this.next(node - syncB);
      } else if (this.stage === 0) {
        this.setPath(b, a, iA, 0);
        this.setPath(b, p2, iB, 25 + 60 * Math.min(1, this.stageTime / T));
        if (node <= syncB + 2 || this.stageTime > 6 * T) this.next(0);
      } else {
        const x = Math.min(1, this.stageTime / (0.3 * T));
        this.setPath(b, a, iA, 0);
        this.setPath(b, p2, iB, 30 + full * x);
        if (x >= 1) this.finish(b);
      }
    } else {
      if (this.stage === 0) {
        b.blip = node < syncB - 8 ? 70 : 0;
        const x = Math.min(1, this.stageTime / (0.5 * T));
        this.setPath(b, a, iA, 50 * (1 - x));
        // A gear that is forced in is not synchronised with care: the clutch bites.
        this.setPath(b, p2, iB, b.forcedGear > 0 ? full * x : 20 + 70 * x);
        if (node >= syncB - 2 || this.stageTime > 6 * T) this.next(0);
      } else {
        const x = Math.min(1, this.stageTime / (0.3 * T));
        this.setPath(b, a, iA, 0);
        this.setPath(b, p2, iB, 60 + full * x);
        if (x >= 1) this.finish(b);
      }
    }
  }

  protected next(slip: number): void {
    this.stage += 1;
    this.stageTime = 0;
    this.slipStart = slip;
  }

  protected handManual(b: Bus, axle: number, full: number, T: number): void {
    const x = this.stageTime / T;
    const iB = this.ratio(this.shiftTo);
    if (x < 0.55) {
      b.torqueFactor = 1;
      const open = Math.max(0, 1 - x / 0.12);
      this.setPath(b, 1, x < 0.3 ? this.ratio(this.shiftFrom) : iB, full * 0.4 * open * open);
      if (x > 0.25 && this.shiftTo < this.shiftFrom && b.engineSpeed < iB * axle - 5) b.blip = 90;
    } else {
      const y = Math.min(1, (x - 0.55) / 0.45);
      this.setPath(b, 1, iB, 20 + full * y * y * y);
      if (y >= 1) this.finish(b);
    }
  }
}
