import { type Bus, SELECTOR } from './bus.js';
import type { CarSpec } from './car.js';
import type { Driveline } from './driveline.js';
import { HandOver, UNSEEN } from './hand-over.js';
import { Plant } from './plant.js';
import type { EngagementRecord } from './transmission-records.js';

const RPM = 30 / Math.PI;
/** Steps (rpm) in which the time of a flare's rise is noted. */
const LEVEL = 10;
/** Fluid (degC) from which a drive that cannot be held lets go. */
const WARM = 25;

/** Gear choice, selector, take-up, hand-over between two clutches (or the two elements of an automatic), launch programme. */
export class Transmission extends HandOver {
  readonly engagements: EngagementRecord[] = [];
  /** Seconds from selector to take-up with warm fluid. */
  engageTime = 0.5;
  microSlip = 0; // rad/s in steady part load
  /** When (s) the flare of the last shift passed each step. */
  private readonly passed = new Float64Array(400);
  private lastSelector: number = SELECTOR.P;
  private engaging = -1;
  private askedAt = 0;
  private takingUp = true;
  private launching = false;
  private pedalSlow = 0;
  private heldFor = 0;
  private drops = 0;
  private dropping = false;
  private droppedAt = 0;
  private letGo: EngagementRecord | undefined;

  constructor(car: CarSpec, driveline: Driveline, plant = new Plant()) {
    super(car, driveline, plant);
    const t = car.transmission;
    if (!Number.isNaN(plant.engageTime)) this.engageTime = plant.engageTime;
    if (t.kind === 'dual-clutch') this.microSlip = Number.isNaN(plant.microSlip) ? 3.5 : plant.microSlip;
  }

  get gears(): number {
    return this.ratios.length;
  }

  /** Whether a clutch slips to take the car up from rest. */
  get slipping(): boolean {
    return this.takingUp && this.stage < 0;
  }

  /** Capacity (N.m) of a closed clutch that is worn: what it holds, and more of it the faster it slips. */
  private worn(b: Bus, path: 1 | 2, shaft: number, capacity: number): number {
    const wear = this.plant.wornClutch;
    if (wear === undefined || (wear.path !== 0 && wear.path !== path)) return capacity;
    return Math.min(capacity, wear.hold + wear.gradient * Math.max(0, b.nodeSpeed - Math.abs(shaft)));
  }

  private lockUpCapacity(b: Bus, full: number): number {
    const wear = this.plant.wornLockUp;
    b.lockUpStiffness = wear === undefined ? 160 : 400;
    const slip = Math.max(0, b.engineSpeed - this.driveline.turbine);
    b.lockUpGradient = wear === undefined ? 0 : wear.gradient;
    if (wear !== undefined) return Math.min(full, wear.hold + wear.gradient * slip);
    // Controlled on purpose: just the torque of the engine at the wanted slip.
    const wanted = Math.max(this.plant.lockUpSlip, b.fluid < 45 ? this.plant.lockUpColdSlip : 0);
    if (wanted > 0) return Math.max(10, Math.min(full, b.torque + 8 * (slip - wanted)));
    return full;
  }

  step(b: Bus, dt: number): void {
    const t = this.car.transmission;
    const axle = this.car.driveline.driven === 'front' ? b.frontAxle : b.rearAxle;
    const full = this.car.engine.ratedTorque * 1.35;
    this.sinceShift += dt;
    this.watch(b, axle);
    this.pedalSlow += ((b.pedal - this.pedalSlow) * dt) / 0.35;
    b.torqueFactor = 1;
    b.blip = 0;
    b.torqueLimit = 1e4;
    b.shifting = this.stage >= 0 ? 1 : 0;
    this.select(b, dt);
    this.traction(b, dt);
    this.distribute(b, dt);
    if (b.gear === 0) {
      b.capacity1 = 0;
      b.capacity2 = 0;
      b.lockUp = 0;
      return;
    }
    // The launch programme keeps the torque within the grip in the two lowest gears.
    if (b.launchArmed === 1 && b.gear > 0 && b.gear <= 2 && b.speed > 0.6)
      b.torqueLimit = this.gripTorque(b, this.ratio(b.gear)) * 1.02;
    if (this.stage >= 0) {
      this.hand(b, dt, axle, full);
      return;
    }
    const ratio = this.ratio(b.gear);
    const shaft = ratio * axle;
    const path = this.path(b.gear);
    const idle = (this.car.engine.idle * 1.0) / RPM;
    this.setPath(b, path === 1 ? 2 : 1, this.preselected(b), 0);
    let capacity = full;
    let slip = 0;
    if (t.kind === 'converter') {
      if (b.launchArmed === 1 && b.speed < 0.6 && b.brake > 0.15 && t.launchSpeed > 0) {
        // Launch programme: the element of first gear slips, so that the brakes can hold the car.
        this.launching = true;
        capacity = (0.2 * this.car.body.mass * 9.80665 * this.driveline.drivenRadius) / ratio;
        b.torqueLimit = Math.max(30, 0.5 * capacity + 3 * (t.launchSpeed / RPM - b.engineSpeed));
      } else if (this.launching) {
        const grip = this.gripTorque(b, ratio);
        capacity = Math.min(full, grip);
        b.torqueLimit = Math.max(60, grip);
        if (b.pedal < 0.1 || b.speed > 12 || (b.speed > 3 && Math.abs(b.nodeSpeed - shaft) < 3)) this.launching = false;
      }
      if (b.selector === SELECTOR.D && b.brake > 0.2 && b.pedal < 0.02 && b.speed < 0.2) capacity = full * 0.2;
      const lockable = b.gear >= 2 && shaft > 1350 / RPM && b.coolant > 45;
      if (b.lockUp === 0 && lockable && this.sinceShift > 0.5) {
        b.lockUp = 1;
      } else if (b.lockUp === 1 && (shaft < 1080 / RPM || b.gear < 2)) b.lockUp = 0;
    } else {
      // On the brake the clutch opens before the idle governor, raised while cold, pushes against it.
      const open = b.brake > 0.05 && b.pedal < 0.01 ? Math.max(idle, b.idleTarget / RPM) : idle;
      if (!this.takingUp && shaft < open * 0.9) this.takingUp = true;
      if (this.takingUp) capacity = this.takeUp(b, shaft, full, ratio);
      else if (this.microSlip > 0 && b.pedal < 0.6) slip = b.torque > 10 ? this.microSlip : 0;
    }
    b.lockUpCapacity = this.lockUpCapacity(b, full);
    this.setPath(b, path, ratio, this.worn(b, path, shaft, capacity), slip);
    if (b.gear > 0 && !this.launching) this.choose(b, axle);
  }

  /** Notes when the ratio of the last shift passed 10 % and 90 % of its change, and how far the engine ran over. */
  private watch(b: Bus, axle: number): void {
    const shift = this.shifts[this.shifts.length - 1];
    if (shift === undefined || !Number.isNaN(shift.t90) || b.t - shift.from > 5 || axle < 2) return;
    const old = this.ratio(shift.gearBefore);
    const progress = (b.nodeSpeed / axle - old) / (this.ratio(shift.gearAfter) - old);
    if (progress <= 0.1) shift.t10 = b.t;
    if (progress >= 0.9) shift.t90 = b.t;
    if (shift.gearAfter < shift.gearBefore) return;
    const over = (b.nodeSpeed - old * axle) * RPM - this.slipBefore;
    if (over <= shift.flare) return;
    for (let k = Math.floor(shift.flare / LEVEL) + 1; k <= over / LEVEL && k < this.passed.length; k++)
      this.passed[k] = b.t;
    shift.flare = over;
    const half = Math.floor(over / 2 / LEVEL);
    if (half >= 1) shift.tHalf = this.passed[Math.min(half, this.passed.length - 1)]!;
  }

  /** The drive lets go at standstill for a while and comes back without the selector having moved. */
  private dropOut(b: Bus, dt: number): void {
    this.heldFor += dt;
    const { after, seconds, times } = this.plant.dropOut;
    const last = this.engagements[this.engagements.length - 1];
    if (this.drops >= times || last === undefined || this.heldFor < after || last === this.letGo) return;
    // Thick fluid seals a leaking clutch: it lets go once warm.
    if (b.fluid < WARM) return;
    this.drops++;
    this.letGo = last;
    b.gearTarget = b.gear;
    b.gear = 0;
    this.dropping = true;
    this.engaging = seconds;
    this.droppedAt = b.t;
  }

  /** The drive is back, or the driver has moved the selector before it came: how long it was gone. */
  private comeBack(b: Bus): void {
    if (this.dropping && this.letGo !== undefined) this.letGo.droppedOut = b.t - this.droppedAt;
    this.dropping = false;
  }

  /** Next gear up or down that engages; 0 when there is none. */
  private neighbour(gear: number, direction: 1 | -1): number {
    let g = gear + direction;
    while (g >= 1 && g <= this.ratios.length && this.plant.lostGears.has(g)) g += direction;
    return g >= 1 && g <= this.ratios.length ? g : 0;
  }

  private select(b: Bus, dt: number): void {
    if (b.selector !== this.lastSelector) {
      const was = this.lastSelector;
      this.lastSelector = b.selector;
      this.comeBack(b);
      const drive = b.selector === SELECTOR.D || b.selector === SELECTOR.M;
      const wasDrive = was === SELECTOR.D || was === SELECTOR.M;
      if (!(drive && wasDrive)) {
        b.gear = 0;
        b.gearTarget = drive ? this.neighbour(0, 1) : b.selector === SELECTOR.R ? -1 : 0;
        this.stage = -1;
        const cold = 1 + (0.7 * Math.max(0, 30 - b.fluid)) / 30;
        const rest = this.engagements.length === 0 ? this.plant.engageRest : 0;
        this.engaging = b.gearTarget !== 0 ? this.engageTime * cold + rest : -1;
        this.askedAt = b.t;
      }
    }
    if (this.engaging >= 0 && b.running === 1) {
      this.engaging -= dt;
      if (this.engaging < 0) {
        b.gear = b.gearTarget;
        this.heldFor = 0;
        this.takingUp = this.car.transmission.kind !== 'converter';
        if (this.dropping) this.comeBack(b);
        else
          this.engagements.push({ asked: this.askedAt, engaged: b.t, selector: b.gear > 0 ? 'D' : 'R', droppedOut: 0 });
      }
    } else if (b.gear !== 0 && b.speed < 0.2) this.dropOut(b, dt);
  }

  /** Gear that waits on the free shaft of a dual clutch. */
  private preselected(b: Bus): number {
    if (this.car.transmission.kind !== 'dual-clutch' || b.gear < 1) return 0;
    return this.ratio(b.gear === this.ratios.length ? b.gear - 1 : b.gear + 1);
  }

  /** Clutch torque (N.m) while the car is slower than the engine can run: creep, pull-away and launch. */
  private takeUp(b: Bus, shaft: number, full: number, ratio: number): number {
    const t = this.car.transmission;
    const slip = b.engineSpeed - shaft * Math.sign(ratio);
    const idle = b.idleTarget / RPM;
    if (b.launchArmed === 1 && t.launchSpeed > 0 && b.speed < 0.6) {
      const target = t.launchSpeed / RPM;
      if (b.brake > 0.15) {
        b.torqueLimit = Math.max(5, 22 + 2.4 * (target - b.engineSpeed));
        return 12;
      }
    }
    if (b.launchArmed === 1 && t.launchSpeed > 0) this.launching = true;
    if (this.launching) {
      const target = t.launchSpeed / RPM;
      const grip = this.gripTorque(b, ratio);
      const cap = Math.min(full, grip, Math.max(0, b.torque) + 3.2 * (b.engineSpeed - target * 0.93));
      if (Math.abs(slip) < 3 && shaft > idle) {
        this.launching = false;
        this.takingUp = false;
        return full;
      }
      if (b.pedal < 0.1) this.launching = false;
      b.torqueLimit = Math.max(60, grip * 1.02);
      return Math.max(0, cap);
    }
    const brakeOpen = b.brake > 0.04 && b.pedal < 0.02;
    if (b.pedal < 0.01) {
      if (shaft > idle * 0.98) {
        this.takingUp = false;
        return full;
      }
      const creepSpeed = this.car.transmission.kind === 'manual' ? 0 : 2.1;
      if (brakeOpen || creepSpeed === 0) return 0;
      return Math.max(
        0,
        Math.min(this.car.body.mass * 0.014, 30 * (creepSpeed - Math.abs(b.speed)), b.capacity1 + b.capacity2 + 0.2),
      );
    }
    const target = idle + b.pedal * 110;
    if (Math.abs(slip) < 3 && shaft > idle * 0.92) {
      this.takingUp = false;
      return full;
    }
    const cap = Math.max(0, b.torque) * 0.98 + 2.6 * (b.engineSpeed - target);
    return Math.min(full, this.gripTorque(b, ratio) * 1.3, Math.max(0, cap));
  }

  private traction(b: Bus, dt: number): void {
    const r = this.driveline.drivenRadius;
    const axle = this.car.driveline.driven === 'front' ? b.frontAxle : b.rearAxle;
    const over = (axle * r - b.speed) / Math.max(3, b.speed);
    const aim = b.tractionOff === 1 || b.pedal < 0.05 ? 1 : Math.max(0.15, Math.min(1, 1 - 7 * (over - 0.06)));
    b.tractionFactor += ((aim - b.tractionFactor) * dt) / (aim < b.tractionFactor ? 0.03 : 0.25);
  }

  private distribute(b: Bus, dt: number): void {
    if (this.car.driveline.driven !== 'all') return;
    const slip = Math.max(0, b.rearAxle * this.driveline.radiusRear - b.speed) / Math.max(4, b.speed);
    const sharp = Math.abs(b.steering) > 0.4 * this.car.body.steeringLock ? 0.15 : 1;
    const open = this.plant.couplingOpened || b.speed * 3.6 > this.plant.couplingOffAbove;
    const aim = open ? 0 : Math.min(this.plant.couplingLimit, (0.12 + 0.75 * b.pedal + 6 * slip) * sharp);
    b.coupling += ((aim - b.coupling) * dt) / 0.08;
    b.couplingClosed = b.coupling * this.plant.couplingShare;
  }

  private choose(b: Bus, axle: number): void {
    const rev = this.car.engine.revLimit;
    const g = b.gear;
    const sync = this.ratio(g) * axle * RPM;
    const p = this.pedalSlow;
    const up1 = this.neighbour(g, 1);
    const down1 = this.neighbour(g, -1);
    let want = g;
    if (b.forcedGear > 0) want = Math.min(b.forcedGear, this.ratios.length);
    else if (b.gearRequest > 0) {
      const r = Math.min(b.gearRequest, this.ratios.length);
      // A requested gear is not held below the speed at which the engine would labour.
      if (sync < 1050 && down1 > 0) want = down1;
      else if (r > g && up1 > 0 && this.ratio(up1) * axle * RPM > 1250) want = up1;
      else if (r < g && down1 > 0 && this.ratio(down1) * axle * RPM < rev - 250) want = down1;
      else if (sync > rev - 120 && g < this.ratios.length && r >= g) want = g;
    } else {
      const up = Math.min(rev - 260, 1580 + (0.955 * rev - 1580) * p ** 2);
      const down = 1030 + (0.5 * rev - 1030) * p ** 4;
      if (
        up1 > 0 &&
        sync > up &&
        this.sinceShift > (sync > rev - 500 ? 0.15 : 0.7) &&
        b.brake < 0.05 &&
        this.ratio(up1) * axle * RPM > 1060
      )
        want = up1;
      else if (down1 > 0) {
        const after = this.ratio(down1) * axle * RPM;
        if (sync < down && after < up * 0.93 && after < rev - 500 && this.sinceShift > (p > 0.6 ? 0.15 : 0.6))
          want = down1;
        else if (sync < 930) want = down1;
      }
    }
    if (want === g || this.takingUp) {
      if (want < g && this.takingUp) {
        // Nearly at rest: change the open gear without a hand-over.
        this.shifts.push({ from: b.t, to: b.t, gearBefore: g, gearAfter: want, pedal: b.pedal, ...UNSEEN, tHalf: b.t });
        b.gear = want;
        b.gearTarget = want;
        this.sinceShift = 0;
      }
      return;
    }
    this.begin(b, want);
  }
}
