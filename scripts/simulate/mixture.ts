import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import type { Plant } from './plant.js';
import type { Random } from './random.js';

/** Fuel system status as numbered by service 01 PID 03 (SAE J1979; bit values from memory). */
export const FUEL_STATUS = { off: 0, openCold: 1, closed: 2, openLoad: 4 } as const;
const HALF_SECOND = 100; // steps
const HALF_PERCENT_BINS = 1201; // -60..60 % in steps of 0.1

/** Two-bank mixture control: fast integrator (short trim), slow learning by regime (long trim), open loop at high load. */
export class Mixture {
  readonly short = new Float64Array(2);
  readonly long = new Float64Array(2);
  readonly lambda = new Float64Array([1, 1]);
  readonly sensor = new Float64Array([1, 1]);
  status: number = FUEL_STATUS.off;
  /** Regime now: 0 idle, 1 cruise, 2 load. */
  regime = 0;
  /** Total trim needed by the car as it is (share), now. */
  readonly needed = new Float64Array(2);
  /** Histogram of the total trim [bank][regime] in warm closed loop, away from cuts and purge, one count a step. */
  readonly histogram: Float64Array[] = [];
  /** Extra fuel out of the oil now, share of the mixture. */
  oilVapour = 0;
  private readonly learned = new Float64Array(6);
  private readonly known = new Uint8Array(6);
  private readonly wander = new Float64Array(2);
  /** What a perfect observer sees at settled full load: longest stretches (s) lean by 0.05, by 0.1 or beyond 1.02 where less
   * than 0.95 is wanted, and the largest excess that lasted for half a second. */
  readonly lean = { repair: 0, stop: 0, excess: Number.NaN, seconds: 0 };
  private readonly leanNow = new Float64Array(4);
  private readonly excesses = new Float64Array(2 * HALF_SECOND);
  private fullFor = 0;
  private highFor = 0;
  private sinceShift = 60;
  private sinceCut = 60;
  private wet = 0;
  private blown = 0; // what a vented dump valve lets out, 0..1

  constructor(
    private readonly car: CarSpec,
    private readonly plant: Plant,
    private readonly ratedFlow: number,
    private readonly random: Random,
  ) {
    for (let i = 0; i < 6; i++) this.histogram.push(new Float64Array(HALF_PERCENT_BINS));
  }

  step(b: Bus, dt: number): void {
    const plant = this.plant;
    const banks = this.car.engine.banks;
    // Air that the meter does not see
    const ratio = b.manifold / b.barometer;
    const psi = ratio < 0.53 ? 1 : ratio < 1 ? Math.sqrt(1 - ((ratio - 0.53) / 0.47) ** 2) : -0.6 * (ratio - 1);
    const leak = Math.min(plant.leakFlow * psi, b.airFlow * 0.5);
    const share = Math.min(1.2, b.airFlow / this.ratedFlow);
    if (b.pedal < 0.05 && b.boost > b.barometer + 15) this.blown = 1;
    this.blown -= (this.blown * dt) / 0.35;
    const blown = plant.ventedDump * this.ratedFlow * this.blown;
    const through =
      (b.airFlow - leak + b.airLeaked + blown) * (plant.meterLow + (plant.meterHigh - plant.meterLow) * share);
    b.airMetered = Math.min(plant.meterCeiling, through);
    const airError = b.airMetered > 1e-6 && !plant.speedDensity ? b.airFlow / b.airMetered : 1;
    const fade = 1 - plant.fuelFade * share;
    let vapour = b.purgeVapour;
    const steady = Math.abs(vapour) < 0.002;
    for (let i = 0; i < plant.purge.length; i++) {
      const p = plant.purge[i]!;
      if (b.t >= p.from && b.t < p.to) vapour = p.share;
    }
    if (plant.oilVapour > 0) {
      const idleShare = Math.min(1, (0.012 * this.ratedFlow) / Math.max(b.airFlow, 1e-4));
      this.oilVapour = plant.oilVapour * idleShare * Math.min(1, Math.max(0, (95 - b.oil) / 40));
      vapour += this.oilVapour;
    }
    // Target and loop state
    const closedBelow = this.car.engine.closedLoopBelow;
    const enrich = Math.min(1, Math.max(0, (b.strokeShare - closedBelow) / (0.97 - closedBelow)));
    this.highFor = enrich > 0 ? this.highFor + dt : 0;
    const aim = this.highFor < plant.enrichAfter ? 1 : 1 - (1 - this.car.engine.fullLoadLambda) * enrich;
    const enriched = Math.min(1, (1 - b.lambdaTarget) / Math.max(0.02, 1 - this.car.engine.fullLoadLambda));
    const top = Math.min(1, Math.max(0, ((b.engineSpeed * 30) / Math.PI / this.car.engine.revLimit - 0.6) / 0.2));
    const leanTable = 1 + (plant.fullLoadLean - 1 + (plant.topLean - 1) * top) * Math.max(0, enriched);
    b.lambdaTarget += ((aim - b.lambdaTarget) * dt) / 0.25;
    if (b.fuelCut === 1) {
      this.sinceCut = 0;
      this.wet = 0.05;
    } else {
      this.sinceCut += dt;
      this.wet -= (this.wet * dt) / 0.9;
    }
    const warmEnough = b.coolant > 25 && b.runTime > 20;
    const closed = b.running === 1 && warmEnough && b.fuelCut === 0 && this.sinceCut > 0.8 && aim > 0.995;
    this.status =
      b.running === 0
        ? FUEL_STATUS.off
        : closed
          ? FUEL_STATUS.closed
          : warmEnough
            ? FUEL_STATUS.openLoad
            : FUEL_STATUS.openCold;
    const still = b.speed < 0.28;
    this.regime = still && b.pedal < 0.01 ? 0 : b.strokeShare < 0.4 ? 1 : 2;
    const countable =
      closed &&
      b.coolant > 70 &&
      this.sinceCut > 3 &&
      steady &&
      vapour === b.purgeVapour &&
      (this.regime !== 1 || (b.speed > 5.56 && b.pedal > 0.01)) &&
      b.shifting === 0;
    const delay = 0.1 + 0.22 * Math.min(1, (0.012 * this.ratedFlow) / Math.max(b.airFlow, 1e-4));
    const noise = Math.sqrt(dt) * 0.006;
    let fuel = 0;
    for (let k = 0; k < banks; k++) {
      const need = (airError * plant.fuelNeed) / (plant.fuelFactor[k]! * fade) / (1 + vapour) - 1;
      this.needed[k] = need;
      const cell = k * 3 + this.regime;
      if (closed && this.known[cell] === 0) {
        this.known[cell] = 1;
        this.learned[cell] = plant.trimReset ? 0 : need * plant.learnedShare;
      }
      this.long[k]! += ((this.learned[cell]! - this.long[k]!) * dt) / 0.4;
      if (plant.trimReset) this.long[k] = 0;
      const total = (1 + this.short[k]!) * (1 + this.long[k]!);
      this.wander[k]! += -this.wander[k]! * dt * 0.7 + noise * this.random.normal();
      const lambda = (b.lambdaTarget * leanTable * (1 + need) * (1 + this.wet + this.wander[k]!)) / total;
      this.lambda[k] = b.fuelCut === 1 || b.running === 0 ? 3 : lambda;
      // Between the pulses of an idle a leak draws air in; under flow it blows out.
      const drawn = plant.exhaustLeak * Math.max(0, 1 - b.airFlow / (0.15 * this.ratedFlow));
      // A wide-band cell in gas under pressure pumps more than the mixture asks for, to either side of lambda 1.
      const pressed = (this.lambda[k]! - 1) * plant.backPressure * Math.max(0, b.manifold / b.barometer - 1);
      const passed = b.engineSpeed < 240 && b.manifold > b.barometer + 25 ? plant.scavenging : 0;
      const late = (b.fuelCut === 1 ? 0.5 : delay + plant.sensorDelay) * plant.sensorSlow[k]!;
      this.sensor[k]! +=
        ((this.lambda[k]! + passed + (b.fuelCut === 1 ? 0 : pressed + drawn) - this.sensor[k]!) * dt) / late;
      const error = this.sensor[k]! - b.lambdaTarget;
      if (closed) {
        const e = Math.min(0.3, error);
        this.short[k] = Math.min(0.3, Math.max(-0.3, this.short[k]! + dt * 0.9 * e));
        if (b.coolant > 70 && steady && vapour === b.purgeVapour && this.sinceCut > 3 && !plant.trimReset) {
          this.learned[cell] = Math.min(0.3, Math.max(-0.3, this.learned[cell]! + (dt * this.short[k]!) / 40));
        }
      } else this.short[k]! -= (this.short[k]! * dt) / 0.15;
      if (countable) {
        const bin = Math.round(((1 + this.short[k]!) * (1 + this.long[k]!) - 1) * 1000) + 600;
        if (bin >= 0 && bin < HALF_PERCENT_BINS) this.histogram[cell]![bin]! += 1;
      }
      fuel += b.fuelCut === 1 || b.running === 0 ? 0 : b.airFlow / banks / (14.55 * Math.max(0.5, lambda));
    }
    b.fuelFlow = fuel;
    this.observe(b, dt);
  }

  /** Full load a second long, away from shifts, fuel cuts and the limiter. */
  private observe(b: Bus, dt: number): void {
    const rpm = (b.engineSpeed * 30) / Math.PI;
    this.sinceShift = b.shifting === 1 ? 0 : this.sinceShift + dt;
    const full = b.pedal >= 0.8 && rpm > 1500 && b.running === 1 && b.speed > 1;
    this.fullFor = full ? this.fullFor + dt : 0;
    const settled =
      this.fullFor > 1 &&
      this.sinceCut > 2.2 &&
      this.sinceShift > 1.2 &&
      b.torqueFactor * b.tractionFactor > 0.995 &&
      rpm < this.car.engine.revLimit - 150;
    if (settled) this.lean.seconds += dt;
    for (let k = 0; k < this.car.engine.banks; k++) {
      const excess = settled ? this.lambda[k]! - b.lambdaTarget : Number.NEGATIVE_INFINITY;
      const wild = excess > 0.1 || (settled && this.lambda[k]! > 1.02 && b.lambdaTarget < 0.95);
      this.leanNow[k] = excess > 0.05 ? this.leanNow[k]! + dt : 0;
      this.leanNow[k + 2] = wild ? this.leanNow[k + 2]! + dt : 0;
      this.lean.repair = Math.max(this.lean.repair, this.leanNow[k]!);
      this.lean.stop = Math.max(this.lean.stop, this.leanNow[k + 2]!);
      const ring = this.excesses.subarray(k * HALF_SECOND, (k + 1) * HALF_SECOND);
      ring[Math.round(b.t / dt) % HALF_SECOND] = excess;
      if (!settled) continue;
      let least = Number.POSITIVE_INFINITY;
      for (let i = 0; i < HALF_SECOND; i++) if (ring[i]! < least) least = ring[i]!;
      if (least > Number.NEGATIVE_INFINITY && !(this.lean.excess >= least)) this.lean.excess = least;
    }
  }

  /** Median total trim (%) and seconds behind it, of a bank (0, 1) and regime (0..2); NaN when never there. */
  median(bank: number, regime: number, dt: number): { median: number; seconds: number } {
    const h = this.histogram[bank * 3 + regime]!;
    let count = 0;
    for (let i = 0; i < h.length; i++) count += h[i]!;
    let half = count / 2;
    for (let i = 0; i < h.length && count > 0; i++) {
      half -= h[i]!;
      if (half <= 0) return { median: (i - 600) / 10, seconds: count * dt };
    }
    return { median: Number.NaN, seconds: 0 };
  }
}
