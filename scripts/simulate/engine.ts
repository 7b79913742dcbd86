import { GAS_CONSTANT } from './atmosphere.js';
import type { Bus } from './bus.js';
import { type CarSpec, fullLoadCurve, TORQUE_STEP } from './car.js';
import { Plant } from './plant.js';

const RPM = 30 / Math.PI;
/** Work on the piston per kg of air at lambda 1 and best timing: 42.5 MJ/kg over 14.55 at 36 % (common practice). */
export const WORK_PER_AIR = (42.5e6 / 14.55) * 0.36;

/** Torque kept when ignition is `r` degrees later than base; fitted to textbook spark-sweep shapes (common practice). */
export function sparkEfficiency(r: number): number {
  return 1 - 0.0045 * r - 0.0004 * r * r;
}
function sparkRetardFor(share: number): number {
  return (-0.0045 + Math.sqrt(0.0045 * 0.0045 + 0.0016 * (1 - share))) / 0.0008;
}

/** Flow of an opening over its choked flow, by the pressure ratio across it: the ellipse that is usual for throttles. */
function flowFunction(ratio: number): number {
  return ratio < 0.53 ? 1 : Math.sqrt(Math.max(0.001, 1 - ((ratio - 0.53) / 0.47) ** 2));
}

/** Torque-structured turbocharged petrol engine: demand -> air -> manifold and boost lag -> torque. */
export class Engine {
  private readonly full: Float64Array;
  private readonly sweptVolume: number; // m3
  private readonly meanTorque: number; // N.m per Pa of mean effective pressure: Vd / (4 pi), Heywood eq. 2.20
  private readonly airPerRadRated: number;
  private readonly boostFull: number; // kPa over barometer at rated torque
  private integral = 25;
  private limiterCut = false;
  private crankTime = 0;
  private flare = 0;
  private charge = 101.3; // kPa before the throttle, without what a bad control adds
  private surplus = 0; // kPa of overshoot now
  private surplusFor = 0; // s that it still lasts
  private below = false; // boost was well under its target
  private hunt = 0; // kPa
  private hunting = 0; // 0..1
  private dutyTrim = 0;
  private flowFull: number;

  constructor(
    private readonly car: CarSpec,
    private readonly plant = new Plant(),
  ) {
    const e = car.engine;
    this.full = fullLoadCurve(e);
    this.sweptVolume = e.displacement * 1e-3;
    this.meanTorque = this.sweptVolume / (4 * Math.PI);
    this.airPerRadRated = (e.ratedTorque * 1.06 + 25) / WORK_PER_AIR;
    const n = e.torqueFrom;
    const flow = (this.airPerRadRated * n) / RPM;
    const density = (flow * 120) / (this.breathing(n) * this.sweptVolume * n);
    this.boostFull = (density * GAS_CONSTANT * 318) / 1000 - 101;
    this.flowFull = (e.ratedPower * 1000 * 1.12) / WORK_PER_AIR;
  }

  /** Largest air flow of the rating (kg/s). */
  get ratedFlow(): number {
    return this.flowFull;
  }

  /** Full-load torque (N.m) at a speed, after boost has built up. */
  fullTorque(rpm: number): number {
    const x = Math.max(0, rpm) / TORQUE_STEP;
    const i = Math.min(this.full.length - 2, x | 0);
    return this.full[i]! + (this.full[i + 1]! - this.full[i]!) * Math.min(1, x - i);
  }

  /** Drag torque (N.m) with closed throttle, warm. */
  dragTorque(rpm: number): number {
    const k = rpm / 1000;
    return (0.9 + 0.14 * k + 0.02 * k * k + 0.65) * 1e5 * this.meanTorque;
  }

  /** Pedal (0..1) that asks for a torque at a speed: the inverse of the pedal map. */
  pedalFor(torque: number, rpm: number): number {
    const drag = this.dragTorque(rpm);
    const g = (torque + drag) / (this.fullTorque(rpm) + drag);
    if (g <= 0) return 0;
    if (g >= 1) return 1;
    return (-0.55 + Math.sqrt(0.3025 + 1.8 * g)) / 0.9;
  }

  /** Filling of the cylinder at manifold state without residual gas: peak near 60 % of the rev limit. */
  private breathing(rpm: number): number {
    const x = rpm / (0.6 * this.car.engine.revLimit) - 1;
    return 0.95 - 0.12 * x * x;
  }

  step(b: Bus, dt: number): void {
    const e = this.car.engine;
    const omega = Math.max(b.engineSpeed, 2);
    const rpm = omega * RPM;
    // Start and stop
    if (b.key === 0 || b.autoStop === 1) b.running = 0;
    if (b.key === 2) this.crankTime += dt;
    else this.crankTime = 0;
    if (
      b.running === 0 &&
      this.crankTime > (b.coolant < 50 ? this.plant.crankCold : this.plant.crankHot) &&
      rpm > 150
    ) {
      b.running = 1;
      b.runTime = 0;
      this.flare = 1;
      this.integral = 45;
    }
    if (b.running === 1) {
      b.runTime += dt;
      if (rpm < 250 && b.key !== 2 && b.runTime > 1) b.running = 0;
    } else b.runTime = 0;
    this.flare -= (this.flare * dt) / 2.5;
    const cold = Math.max(0, 75 - b.coolant);
    b.idleTarget = e.idle + 5.2 * cold * (b.selector === 0 || b.selector === 2 ? 1 : 0.45) + 260 * this.flare;

    // Friction, pumping, accessories
    const k = rpm / 1000;
    const thick = 1 + 0.9 * (Math.max(0, 90 - b.oil) / 90) ** 2;
    const exhaust = b.barometer * 1.02 + 70 * (b.airFlow / this.flowFull) ** 2;
    const friction = (0.9 + 0.14 * k + 0.02 * k * k) * 1e5 * this.meanTorque * thick + 4 + this.accessory(b);
    const pumping = (exhaust - b.manifold) * 1000 * this.meanTorque * 0.85;
    b.frictionTorque = friction;

    // Demand
    const full = this.fullTorque(rpm);
    const drag = this.dragTorque(rpm);
    const g = b.pedal * (0.55 + 0.45 * b.pedal);
    const driver = -drag + (full + drag) * g;
    const error = (b.idleTarget + this.plant.idleHigh) / RPM - omega;
    const governor = this.integral + 2.4 * error;
    let demand = Math.max(driver + b.blip, governor);
    if (driver <= governor && b.running === 1) {
      this.integral = Math.min(90, Math.max(-35, this.integral + 3.2 * error * dt * (Math.abs(error) > 25 ? 0.2 : 1)));
    }
    demand = Math.min(demand, full, b.torqueLimit);
    const limit = e.revLimit + this.plant.limiterLate;
    if (rpm > limit - 120) demand = Math.min(demand, full * Math.max(0, (limit + 40 - rpm) / 160));
    b.demand = demand;
    demand = Math.min(demand, full * this.plant.torqueCeiling);

    // Overrun cut and limiter
    if (b.fuelCut === 0) {
      if (b.pedal < 0.005 && b.blip < 1 && rpm > b.idleTarget + 550 && b.coolant > 30) b.fuelCut = 1;
    } else if (b.pedal > 0.01 || b.blip > 1 || rpm < b.idleTarget + 280) b.fuelCut = 0;
    if (rpm > limit + 30) this.limiterCut = true;
    else if (rpm < limit - 50) this.limiterCut = false;

    // Air: the control unit asks for the pressure that brings the torque
    const reserve = b.pedal < 0.01 ? 9 : 0; // deg of idle ignition reserve
    const idleEfficiency = sparkEfficiency(reserve);
    const indicated = Math.max(12, demand + friction + pumping) / idleEfficiency;
    const flowAsked = b.fuelCut ? 0.0015 * e.displacement * 0.4 : (indicated * omega) / WORK_PER_AIR;
    const temperature = b.chargeAir + 273.15 + 6;
    const worn = 1 - (1 - this.plant.idleFilling) * Math.min(1, Math.max(0, (2500 - rpm) / 1500));
    const perPressure = (worn * this.breathing(rpm) * this.sweptVolume * rpm) / (120 * GAS_CONSTANT * temperature);
    const asked = Math.max(20, ((flowAsked / perPressure) * 1e-3 + 0.1 * exhaust) / 1.1);
    const spool = Math.min(1, Math.max(0, (rpm - 900) / (e.torqueFrom - 700)));
    const cut = this.plant.throttleCut;
    const cutting =
      cut !== undefined &&
      b.pedal > 0.9 &&
      rpm >= cut.from &&
      rpm <= cut.to &&
      (cut.gears.size === 0 || cut.gears.has(b.gear));
    // A leak asks the compressor for air that the cylinders do not get.
    const leaking = this.plant.chargeLeak * (b.boost > b.barometer ? flowFunction(b.barometer / b.boost) : 0);
    b.airLeaked = leaking * this.flowFull * (b.boost / (101 + this.boostFull)) * (omega > 5 ? 1 : 0);
    const capacity = this.boostFull * 1.12 * this.plant.boostShare * (1 - 0.7 * leaking);
    const reach = b.barometer * 0.985 + capacity * spool * spool * (3 - 2 * spool);
    const over = asked > b.barometer * 0.97;
    // The control unit asks for no more than a sound turbocharger can build in this air.
    const wish = over ? Math.min(asked * 1.03 + 4, b.barometer * 0.985 + this.boostFull * 1.12) : b.barometer * 0.985;
    b.boostTarget = over
      ? wish / (b.pedal > 0.9 && (cut === undefined || cutting) ? this.plant.targetBeforeLimit : 1) - 1
      : b.barometer;
    const boostAim = over ? Math.min(wish + this.plant.boostOffset, reach) : b.barometer * 0.985;
    const flowShare = Math.min(1, b.airFlow / this.flowFull);
    const lag = boostAim > this.charge ? e.turboLag * (1 + 2.2 * (1 - flowShare)) : 0.12;
    this.charge += ((boostAim - this.charge) * dt) / lag;
    this.unsettle(b, dt, over, wish);
    b.boost = this.charge + this.surplus + this.hunt;
    const off = b.boostTarget - b.boost;
    if (!over) this.dutyTrim = 0;
    else if (Math.abs(off) < 30) {
      const trim = this.dutyTrim + (0.02 * off - this.dutyTrim / 3) * dt;
      this.dutyTrim = Math.min(0.5, Math.max(-0.3, trim));
    }
    b.wastegate = over
      ? Math.min(
          0.98,
          Math.max(
            0.05,
            0.25 + (0.4 * (b.boost - b.barometer)) / this.boostFull + 1.2 * leaking + 0.006 * off + this.dutyTrim,
          ),
        )
      : 0.05;
    b.wastegatePosition += ((b.wastegate - b.wastegatePosition) * dt) / 0.08;
    const open = Math.min(asked, b.boost * 0.99) * (cutting ? cut.share : 1);
    const aim = b.running === 1 || b.key === 2 ? open : b.barometer;
    const filling = omega > 10 ? 0.055 : 0.3;
    b.manifold += ((aim - b.manifold) * dt) / filling;
    b.airFlow = Math.max(0, perPressure * 1000 * (1.1 * b.manifold - 0.1 * exhaust)) * (omega > 5 ? 1 : 0);
    // Throttle angle from the orifice need: area ~ flow / (upstream pressure x flow function)
    const ratio = Math.min(0.999, b.manifold / Math.max(b.boost, 50));
    const psi = flowFunction(ratio);
    const opening = Math.sqrt(Math.min(1, b.airFlow / (this.flowFull * 1.15 * (b.boost / 101) * psi) + 0.002));
    const throttleAim =
      b.running === 0 ? 0.06 : Math.min(1, b.pedal > 0.97 && !cutting ? Math.max(opening, 0.99) : opening);
    b.throttle += ((throttleAim - b.throttle) * dt) / 0.05;
    b.strokeShare = b.airFlow / omega / this.airPerRadRated;
    const fullFlow = ((full + 22 + 9 * k) * omega) / WORK_PER_AIR;
    b.load04 =
      b.running === 1
        ? Math.min(
            100,
            (100 * b.airFlow) / (fullFlow * (b.barometer / 101.325) * Math.sqrt(298 / (b.ambient + 273.15))),
          )
        : 0;

    // Ignition
    const share = b.strokeShare;
    const base = Math.min(40, Math.max(-1, 31 - 27 * share + 0.0021 * (rpm - 1500) - (rpm < 1000 ? 8 : 0)));
    const factor = b.torqueFactor * b.tractionFactor;
    let retard = reserve + b.knockMean;
    let kept = sparkEfficiency(retard);
    if (factor < 0.995) {
      // Intervention on the indicated torque so that the crank sees factor x demand; beyond 28 deg cylinders are cut.
      const whole = demand + friction + pumping;
      const want = whole > 20 ? Math.max(0.05, (factor * Math.max(0, demand) + friction + pumping) / whole) : 1;
      const r = Math.min(28, sparkRetardFor(Math.min(1, want)));
      retard += r;
      kept *= want;
    }
    b.retardTotal = retard;
    b.ignition = b.running === 1 ? base - retard : 5;
    // Torque
    const lambda = b.lambdaTarget;
    const burn = lambda < 1 ? 1 + 0.12 * Math.min(0.12, 1 - lambda) : 1;
    const firing = b.running === 1 && b.fuelCut === 0 && !this.limiterCut ? 1 : 0;
    const starter = b.key === 2 && rpm < 330 ? 90 * e.displacement * (1 - rpm / 330) : 0;
    let torque = firing * WORK_PER_AIR * (b.airFlow / omega) * kept * burn - friction - pumping + starter;
    if (b.running === 0)
      torque = starter - (friction + Math.max(0, pumping) * 0.3 + 8) * Math.min(1, b.engineSpeed / 5);
    b.torque = torque;
  }

  /** What a late wastegate and a nervous control add to the boost. */
  private unsettle(b: Bus, dt: number, over: boolean, wish: number): void {
    const { boostOvershoot, boostHunt } = this.plant;
    if (this.charge < wish - 20 && over) this.below = true;
    if (!over) this.below = false;
    if (this.below && this.charge > wish - 5) {
      this.below = false;
      this.surplusFor = boostOvershoot.hold;
    }
    this.surplusFor -= dt;
    const aim = this.surplusFor > 0 && over ? boostOvershoot.size : 0;
    this.surplus += ((aim - this.surplus) * dt) / (aim > this.surplus ? 0.12 : 0.3);
    const settled = over && !this.below && Math.abs(this.charge - wish) < 25 ? 1 : 0;
    this.hunting += ((settled - this.hunting) * dt) / 0.4;
    this.hunt = boostHunt.amplitude * this.hunting * Math.sin(2 * Math.PI * boostHunt.frequency * b.t);
  }

  /** Torque (N.m) of an accessory that comes and goes. */
  private accessory(b: Bus): number {
    const { torque, period } = this.plant.accessory;
    return torque > 0 && b.running === 1 && b.t % period < 0.5 * period ? torque : 0;
  }
}
