import { GRAVITY } from './atmosphere.js';
import type { Bus } from './bus.js';
import { type CarSpec, rollingRadius } from './car.js';

const STIFFNESS = 30; // tyre force per load and unit slip at small slip, common practice for wide summer tyres
const MESH_LOSS = 0.025; // share of the torque per gear set, common practice

/** Energies (J) since the start, for the balance: what the engine gave and where it went. */
export interface Ledger {
  engine: number;
  clutch: number;
  converter: number;
  mesh: number;
  coupling: number;
  tyre: number;
  brake: number;
  aerodynamic: number;
  rolling: number;
  potential: number;
  kinetic: number;
}

/**
 * Engine side, two friction paths (or a converter before them), two axles with slipping tyres, the car's mass.
 * Clutches: the torque that would bring the slip to its target at the end of the step, limited to the capacity
 * (time-stepping Coulomb friction after Karnopp 1985); tyres: linearised-implicit slip force.
 * Powers use speeds at mid-step, so the discrete energy balance closes.
 */
export class Driveline {
  readonly radiusFront: number;
  readonly radiusRear: number;
  readonly ledger: Ledger = {
    engine: 0,
    clutch: 0,
    converter: 0,
    mesh: 0,
    coupling: 0,
    tyre: 0,
    brake: 0,
    aerodynamic: 0,
    rolling: 0,
    potential: 0,
    kinetic: 0,
  };
  /** Converter: turbine speed (rad/s) and torque at the pump (N.m). */
  turbine = 0.01;
  private locked = false;
  private readonly axleInertia = 2.2;
  private readonly turbineInertia = 0.07;
  private readonly converterK: number; // N.m/(rad/s)^2 at stall
  private readonly rearPrimary: boolean;
  private lastForce = 0;

  constructor(private readonly car: CarSpec) {
    this.radiusFront = rollingRadius(car.driveline.tyreFront);
    this.radiusRear = rollingRadius(car.driveline.tyreRear);
    this.rearPrimary = car.driveline.driven !== 'front';
    const stall = 290; // rad/s at rated torque, about 2770 rpm
    this.converterK = car.engine.ratedTorque / (stall * stall);
  }

  get drivenRadius(): number {
    return this.rearPrimary ? this.radiusRear : this.radiusFront;
  }

  /** Kinetic energy (J) of the whole now. */
  kinetic(b: Bus): number {
    const e = this.car.engine.inertia;
    let k = 0.5 * this.car.body.mass * b.speed * b.speed;
    k += 0.5 * this.axleInertia * (b.frontAxle * b.frontAxle + b.rearAxle * b.rearAxle);
    k += 0.5 * e * b.engineSpeed * b.engineSpeed;
    if (this.car.transmission.kind === 'converter') k += 0.5 * this.turbineInertia * this.turbine * this.turbine;
    return k;
  }

  step(b: Bus, dt: number): void {
    const body = this.car.body;
    const converter = this.car.transmission.kind === 'converter';
    const rF = this.radiusFront;
    const rR = this.radiusRear;
    const v = b.speed;
    const L = this.ledger;
    // Axle loads with transfer
    const weight = body.mass * GRAVITY;
    const transfer = (this.lastForce * body.centreHeight) / body.wheelbase;
    const loadF = Math.max(500, weight * body.frontShare - transfer);
    const loadR = Math.max(500, weight * (1 - body.frontShare) + transfer);
    const base = Math.max(Math.abs(v), 1.5);
    // Tyre force and slope at the start of the step
    const gripF = b.grip * loadF;
    const gripR = b.grip * loadR;
    const xF = ((STIFFNESS * loadF) / gripF) * ((b.frontAxle * rF - v) / base);
    const xR = ((STIFFNESS * loadR) / gripR) * ((b.rearAxle * rR - v) / base);
    const qF = 1 / Math.sqrt(1 + xF * xF);
    const qR = 1 / Math.sqrt(1 + xR * xR);
    const forceF = gripF * xF * qF;
    const forceR = gripR * xR * qR;
    const slopeF = ((STIFFNESS * loadF) / base) * qF * qF * qF;
    const slopeR = ((STIFFNESS * loadR) / base) * qR * qR * qR;
    const dF = this.axleInertia + dt * rF * rF * slopeF;
    const dR = this.axleInertia + dt * rR * rR * slopeR;
    // Coupling between the axles
    let coupling = 0;
    if (this.car.driveline.driven === 'all') {
      const difference = b.rearAxle * rR - b.frontAxle * rF;
      const capacity = b.couplingClosed * this.car.engine.ratedTorque * 3.2;
      const stick = (difference / rR / dt) * (1 / (1 / dF + 1 / dR)) * 0.5 + b.couplingTorque * 0.98;
      coupling = Math.max(-capacity, Math.min(capacity, stick));
      b.couplingTorque = coupling;
    }
    // Brakes: up to the torque that stops the wheel within the step
    const brakeTotal = b.brake * body.mass * 11;
    const primaryIsRear = this.rearPrimary;
    const driveNow = (b.torque1 * b.ratio1 + b.torque2 * b.ratio2) * 0.97;
    const capF = brakeTotal * 0.64 * rF;
    const capR = (brakeTotal * 0.36 + b.brakeDrag) * rR;
    const needF = -((b.frontAxle * dF) / dt - rF * forceF + coupling + (primaryIsRear ? 0 : driveNow));
    const needR = -((b.rearAxle * dR) / dt - rR * forceR - coupling + (primaryIsRear ? driveNow : 0));
    const brakeF = Math.max(-capF, Math.min(capF, needF));
    const brakeR = Math.max(-capR, Math.min(capR, needR));

    // The input side of the clutches
    let nodeInertia = this.car.engine.inertia;
    let node = b.engineSpeed;
    let nodeTorque = b.torque;
    let pump = 0;
    let pumpWork = 0;
    let lockSlope = 0; // N.m/(rad/s), of a lock-up clutch
    let nodeDamping = 0; // N.m/(rad/s), of the converter on the turbine
    if (converter) {
      if (b.lockUp === 1 && !this.locked) {
        const slip = b.engineSpeed - this.turbine;
        // It slips when even the torque that it would end the step with is beyond its capacity: judged by the slip at
        // the start, a stiff clutch on a light turbine would throw the slip from one side to the other, step by step.
        const sticks = Math.abs(b.torque1) < b.capacity1 || Math.abs(b.torque2) < b.capacity2;
        const mobility = 1 / this.car.engine.inertia + (sticks ? 0 : 1 / this.turbineInertia);
        // What drives engine and turbine apart meanwhile: left out, a clutch that is too weak for the engine would hold.
        const apart = b.torque / this.car.engine.inertia + (sticks ? 0 : (b.torque1 + b.torque2) / this.turbineInertia);
        const ends = ((slip + dt * apart) * b.lockUpStiffness) / (1 + dt * b.lockUpStiffness * mobility);
        const holds = Math.abs(ends) < b.lockUpCapacity;
        // Implicit in the slip either way: a worn clutch carries the more the faster it slips.
        lockSlope = holds ? b.lockUpStiffness : b.lockUpGradient;
        if (Math.abs(slip) < 2 && b.lockUpCapacity > Math.abs(b.torque) + 5) {
          const je = this.car.engine.inertia;
          const jt = this.turbineInertia;
          const merged = (je * b.engineSpeed + jt * this.turbine) / (je + jt);
          const before = 0.5 * je * b.engineSpeed * b.engineSpeed + 0.5 * jt * this.turbine * this.turbine;
          L.converter += before - 0.5 * (je + jt) * merged * merged;
          b.engineSpeed = merged;
          this.turbine = merged;
          this.locked = true;
        } else pump = holds ? slip * lockSlope : Math.sign(slip) * b.lockUpCapacity;
      } else if (b.lockUp === 0 || Math.abs(b.torque) > b.lockUpCapacity) this.locked = false;
      node = this.turbine;
      nodeInertia = this.turbineInertia;
      if (this.locked) {
        nodeInertia += this.car.engine.inertia;
        node = b.engineSpeed;
      } else {
        // Implicit in both speeds, one after the other: the coupling is stiff near equal speeds.
        const we = Math.max(b.engineSpeed, 5);
        const wt = this.turbine;
        const sr = wt / we;
        const K = this.converterK;
        let fluidTorque: number;
        let multiply = 1;
        let slopeTurbine: number; // -dT/d(turbine speed)
        let slopeEngine: number; // dT/d(engine speed)
        if (sr < 1) {
          const shape = 1 - 0.25 * Math.max(0, sr);
          const fall = sr > 0.85 ? (1 - sr) / 0.15 : 1;
          fluidTorque = K * shape * fall * we * we;
          slopeTurbine = sr > 0.85 ? (K * shape * we) / 0.15 : 0.25 * K * we;
          slopeEngine = (2 * fluidTorque) / we + slopeTurbine * sr;
          multiply = sr < 0.85 ? 1.8 - (0.8 * Math.max(0, sr)) / 0.85 : 1;
        } else {
          fluidTorque = -K * Math.min(1, (sr - 1) / 0.2) * 0.7 * wt * we;
          slopeTurbine = sr < 1.2 ? 3.5 * K * wt : 0;
          slopeEngine = slopeTurbine;
        }
        const before = b.engineSpeed;
        const je = this.car.engine.inertia;
        const change = (dt * (b.torque - fluidTorque - pump)) / (je + dt * (slopeEngine + lockSlope));
        const after = Math.max(0, before + change);
        const carried = fluidTorque + slopeEngine * (after - before);
        const lockNow = pump + lockSlope * (after - before);
        b.engineSpeed = after;
        nodeTorque = multiply * carried + lockNow;
        nodeDamping = multiply * slopeTurbine + lockSlope;
        pump = carried + lockNow;
        pumpWork = dt * pump * 0.5 * (before + after);
        L.engine += pumpWork + 0.5 * je * (after * after - before * before);
      }
    }

    // Clutches
    const axle = primaryIsRear ? b.rearAxle : b.frontAxle;
    const d = primaryIsRear ? dR : dF;
    const rest = primaryIsRear ? -rR * forceR - coupling + brakeR : -rF * forceF + coupling + brakeF;
    const i1 = b.ratio1;
    const i2 = b.ratio2;
    const eta1 = b.torque1 >= 0 ? 1 - MESH_LOSS * 1.6 : 1 / (1 - MESH_LOSS * 1.6);
    const eta2 = b.torque2 >= 0 ? 1 - MESH_LOSS * 1.6 : 1 / (1 - MESH_LOSS * 1.6);
    const jn = nodeInertia + dt * nodeDamping;
    const freeNode = node + (dt * nodeTorque) / jn;
    // Viscous drag of the gearbox, on the driven axle
    const drag = axle * (0.2 + (0.3 * Math.max(0, 60 - b.fluid)) / 60);
    const freeAxle = axle + (dt * (rest - drag)) / d;
    const s1 = freeNode - i1 * freeAxle;
    const s2 = freeNode - i2 * freeAxle;
    const a11 = dt * (1 / jn + (eta1 * i1 * i1) / d);
    const a22 = dt * (1 / jn + (eta2 * i2 * i2) / d);
    const a12 = dt * (1 / jn + (eta2 * i1 * i2) / d);
    const a21 = dt * (1 / jn + (eta1 * i1 * i2) / d);
    const c1 = i1 !== 0 ? b.capacity1 : 0;
    const c2 = i2 !== 0 ? b.capacity2 : 0;
    const target1 = b.slipTarget1;
    const target2 = b.slipTarget2;
    let t1 = 0;
    let t2 = c2 > c1 ? 0 : Math.max(-c2, Math.min(c2, b.torque2));
    if (c1 > 0 || c2 > 0) {
      t1 = Math.max(-c1, Math.min(c1, (s1 - a12 * t2 - target1) / a11));
      t2 = Math.max(-c2, Math.min(c2, (s2 - a21 * t1 - target2) / a22));
      t1 = Math.max(-c1, Math.min(c1, (s1 - a12 * t2 - target1) / a11));
    } else t2 = 0;
    let nodeAfter = freeNode - (dt * (t1 + t2)) / jn;
    if (nodeAfter < 0 && !converter) nodeAfter = 0;
    const axleAfter = freeAxle + (dt * (eta1 * i1 * t1 + eta2 * i2 * t2)) / d;
    b.torque1 = t1;
    b.torque2 = t2;

    // Axles
    let frontAfter: number;
    let rearAfter: number;
    if (primaryIsRear) {
      rearAfter = axleAfter;
      frontAfter = b.frontAxle + (dt * (-rF * forceF + coupling + brakeF)) / dF;
    } else {
      frontAfter = axleAfter;
      rearAfter = b.rearAxle + (dt * (-rR * forceR + brakeR)) / dR;
    }
    const forceFrontEnd = forceF + slopeF * rF * (frontAfter - b.frontAxle);
    const forceRearEnd = forceR + slopeR * rR * (rearAfter - b.rearAxle);
    // Car
    const air = v + b.wind;
    const aero = 0.5 * b.density * body.dragArea * air * Math.abs(air);
    const slope = b.grade / Math.sqrt(1 + b.grade * b.grade);
    const roll = (weight * body.rolling * v) / (Math.abs(v) + 0.08);
    const climb = weight * slope;
    const net = forceFrontEnd + forceRearEnd - aero - roll - climb;
    const after = v + (dt * net) / body.mass;
    const vMid = 0.5 * (v + after);

    // Ledger
    const nodeMid = 0.5 * (node + nodeAfter);
    const axleMid = 0.5 * (axle + axleAfter);
    const frontMid = 0.5 * (b.frontAxle + frontAfter);
    const rearMid = 0.5 * (b.rearAxle + rearAfter);
    if (!converter || this.locked)
      L.engine += dt * (t1 + t2) * nodeMid + 0.5 * nodeInertia * (nodeAfter * nodeAfter - node * node);
    else L.converter += pumpWork - dt * (nodeTorque - nodeDamping * (nodeAfter - node)) * nodeMid;
    const heat1 = t1 * (nodeMid - i1 * axleMid);
    const heat2 = t2 * (nodeMid - i2 * axleMid);
    const mesh = (t1 * i1 * (1 - eta1) + t2 * i2 * (1 - eta2) + drag) * axleMid;
    L.clutch += dt * (heat1 + heat2);
    L.mesh += dt * mesh;
    L.coupling += dt * coupling * (rearMid - frontMid);
    L.brake -= dt * (brakeF * frontMid + brakeR * rearMid);
    L.tyre += dt * (forceFrontEnd * (rF * frontMid - vMid) + forceRearEnd * (rR * rearMid - vMid));
    L.aerodynamic += dt * aero * vMid;
    L.rolling += dt * roll * vMid;
    L.potential += dt * climb * vMid;
    b.clutchHeat =
      Math.max(0, heat1 + heat2) + (converter && !this.locked ? Math.max(0, pumpWork / dt - nodeTorque * nodeMid) : 0);
    b.meshHeat = Math.max(0, mesh);
    b.brakeForce = Math.abs(brakeF) / rF + Math.abs(brakeR) / rR;

    // Commit
    if (!converter) b.engineSpeed = nodeAfter;
    else if (this.locked) {
      b.engineSpeed = nodeAfter;
      this.turbine = nodeAfter;
    } else this.turbine = nodeAfter;
    b.nodeSpeed = nodeAfter;
    b.frontAxle = frontAfter;
    b.rearAxle = rearAfter;
    b.acceleration = net / body.mass;
    this.lastForce += (net - this.lastForce) * 0.05;
    b.speed = after;
    b.distance += dt * vMid;
    b.altitude += dt * vMid * slope;
  }
}
