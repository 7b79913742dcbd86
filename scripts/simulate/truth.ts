import type { Bus } from './bus.js';
import type { Driveline, Ledger } from './driveline.js';
import type { Driver } from './driver.js';
import type { PhaseRecord } from './driver-base.js';
import type { KnockControl, KnockEvent } from './knock.js';
import type { Mixture } from './mixture.js';
import type { Transmission } from './transmission.js';
import type { EngagementRecord, ShiftRecord } from './transmission-records.js';

const RPM = 30 / Math.PI;

export interface PullAway {
  /** The car starts to move (s). */
  readonly at: number;
  /** Mean acceleration over the first second (m/s2), from true ground speed. */
  meanAcceleration: number;
  /** s from 0 to 40 km/h, NaN when not reached within 10 s. */
  to40: number;
  readonly pedal: number;
  /** Engine speed (rpm) while still held on the brake. */
  readonly heldRpm: number;
  readonly phase: string;
}
export interface Pull {
  readonly from: number;
  to: number;
  readonly rpmFrom: number;
  rpmTo: number;
  readonly number: number;
}
export interface TrimTruth {
  /** Median total trim (%), (1+short)(1+long)-1, warm closed loop, away from fuel cuts, purge and shifts. */
  readonly median: number;
  readonly seconds: number;
}
export interface Truth {
  readonly duration: number;
  readonly distance: number; // m
  readonly phases: readonly PhaseRecord[];
  /** Starts with the launch programme; `acceleration` = mean over the first second (m/s2). */
  readonly launches: readonly { readonly from: number; readonly to: number; readonly acceleration: number }[];
  readonly pullAways: readonly PullAway[];
  readonly pulls: readonly Pull[];
  readonly shifts: readonly ShiftRecord[];
  readonly engagements: readonly EngagementRecord[];
  /** Retard >= 2 deg per cylinder with its cause; small natural retard is left out. */
  readonly knock: readonly KnockEvent[];
  /** Keys `idle.bank1`, `cruise.bank1`, `load.bank1` and the same for bank 2. */
  readonly trims: Readonly<Record<string, TrimTruth>>;
  /** Largest value per temperature channel (degC). */
  readonly peaks: Readonly<Record<string, number>>;
  /** Seconds of the fluid (`fluid`) and the clutch outlet (`outlet`) above whole degrees from 100 to 200. */
  readonly secondsAbove: {
    readonly fluid: readonly number[];
    readonly outlet: readonly number[];
    readonly firstDegree: number;
  };
  /** Settled full load: longest seconds lean by the limits of repair and stop, and the excess over target that lasted 0.5 s. */
  readonly lean: { readonly repair: number; readonly stop: number; readonly excess: number; readonly seconds: number };
  readonly energy: Ledger;
}

const FIRST = 100;

/** Watches the true state at full rate and writes down what happened. */
export class TruthKeeper {
  private readonly launches: { from: number; to: number; acceleration: number }[] = [];
  private readonly pullAways: PullAway[] = [];
  private readonly pulls: Pull[] = [];
  private readonly above = new Float64Array(101);
  private readonly aboveOutlet = new Float64Array(101);
  private readonly peak = new Float64Array(6).fill(-99);
  private kineticStart = 0;
  private still = 0;
  private heldRpm = 0;
  private moving: PullAway | undefined;
  private movedAt = 0;
  private pull: Pull | undefined;
  private armed = false;
  private launch: { from: number; to: number; acceleration: number } | undefined;

  constructor(private readonly driveline: Driveline) {}

  begin(b: Bus): void {
    this.kineticStart = this.driveline.kinetic(b);
  }

  step(b: Bus, dt: number): void {
    if (b.coolant > this.peak[0]!) this.peak[0] = b.coolant;
    if (b.oil > this.peak[1]!) this.peak[1] = b.oil;
    if (b.fluid > this.peak[2]!) this.peak[2] = b.fluid;
    if (b.clutchOutlet > this.peak[3]!) this.peak[3] = b.clutchOutlet;
    if (b.chargeAir > this.peak[4]!) this.peak[4] = b.chargeAir;
    if (b.intakeAir > this.peak[5]!) this.peak[5] = b.intakeAir;
    if (b.fluid > FIRST) this.above[Math.min(100, (b.fluid - FIRST) | 0)]! += dt;
    if (b.clutchOutlet > FIRST) this.aboveOutlet[Math.min(100, (b.clutchOutlet - FIRST) | 0)]! += dt;
    // Pull-aways
    if (b.speed < 0.14) {
      this.still += dt;
      this.heldRpm = b.engineSpeed * RPM;
      if (this.moving && b.t - this.movedAt > 1) this.moving = undefined;
    } else {
      if (this.still >= 0.5 && this.moving === undefined) {
        this.movedAt = b.t;
        this.moving = {
          at: b.t,
          meanAcceleration: Number.NaN,
          to40: Number.NaN,
          pedal: b.pedal,
          heldRpm: this.heldRpm,
          phase: String(b.phase),
        };
        this.pullAways.push(this.moving);
        this.armed = b.launchArmed === 1;
      }
      this.still = 0;
      const m = this.moving;
      if (m) {
        const s = b.t - this.movedAt;
        if (Number.isNaN(m.meanAcceleration) && s >= 1) {
          m.meanAcceleration = b.speed - 0.14;
          if (this.armed) {
            this.launch = { from: m.at, to: b.t, acceleration: m.meanAcceleration };
            this.launches.push(this.launch);
          }
        }
        if (Number.isNaN(m.to40) && b.speed >= 40 / 3.6 && s < 10) m.to40 = s;
        if (s > 10) this.moving = undefined;
      }
    }
    if (b.pedal < 0.5) {
      this.armed = false;
      this.launch = undefined;
    } else if (this.launch) this.launch.to = b.t;
    // Pulls of the script
    if (b.pullNumber > 0) {
      if (this.pull === undefined) {
        this.pull = { from: b.t, to: b.t, rpmFrom: b.engineSpeed * RPM, rpmTo: 0, number: b.pullNumber };
        this.pulls.push(this.pull);
      }
      this.pull.to = b.t;
      this.pull.rpmTo = b.engineSpeed * RPM;
    } else this.pull = undefined;
  }

  finish(
    b: Bus,
    parts: { mixture: Mixture; knock: KnockControl; transmission: Transmission; driver: Driver },
    dt: number,
  ): Truth {
    const trims: Record<string, TrimTruth> = {};
    const names = ['idle', 'cruise', 'load'];
    for (let k = 0; k < parts.mixture.histogram.length / 3; k++) {
      for (let r = 0; r < 3; r++) {
        const m = parts.mixture.median(k, r, dt);
        if (m.seconds > 0) trims[`${names[r]}.bank${k + 1}`] = { median: m.median, seconds: m.seconds };
      }
    }
    const phases = parts.driver.phases;
    const last = phases[phases.length - 1];
    if (last && last.to === last.from) last.to = b.t;
    const cumulate = (h: Float64Array): number[] => {
      const out: number[] = [];
      let sum = 0;
      for (let i = h.length - 1; i >= 0; i--) {
        sum += h[i]!;
        out.unshift(sum);
      }
      return out;
    };
    const energy = { ...this.driveline.ledger, kinetic: this.driveline.kinetic(b) - this.kineticStart };
    const p = this.peak;
    return {
      duration: b.t,
      distance: b.distance,
      phases,
      launches: this.launches,
      pullAways: this.pullAways.map((m) => ({ ...m, phase: phases[Number(m.phase)]?.kind ?? '' })),
      pulls: this.pulls,
      shifts: parts.transmission.shifts,
      engagements: parts.transmission.engagements,
      knock: parts.knock.events,
      trims,
      lean: { ...parts.mixture.lean },
      peaks: {
        coolantTemperature: p[0]!,
        engineOilTemperature: p[1]!,
        transmissionOilTemperature: p[2]!,
        clutchOilTemperature: p[3]!,
        chargeAirTemperature: p[4]!,
        intakeAirTemperature: p[5]!,
      },
      secondsAbove: { fluid: cumulate(this.above), outlet: cumulate(this.aboveOutlet), firstDegree: FIRST },
      energy,
    };
  }
}
