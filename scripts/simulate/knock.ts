import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import type { Plant } from './plant.js';
import type { Random } from './random.js';

export interface KnockEvent {
  readonly cylinder: number;
  readonly from: number;
  to: number;
  /** Largest retard (deg). */
  peak: number;
  readonly rpm: number;
  /** What took the ignition back: a tip-in or hot charge is no knocking engine. */
  readonly cause: 'knock' | 'tip-in' | 'hot-charge';
  /** Number of the script's pull, 0 outside pulls. */
  readonly pull: number;
}

const RPM = 30 / Math.PI;

/** Knock control per cylinder: a heard event steps the retard up, time ramps it down (hold 0.25 s, then 1.6 deg/s). */
export class KnockControl {
  readonly retard: Float64Array;
  readonly events: KnockEvent[] = [];
  private readonly since: Float64Array;
  private readonly open: (KnockEvent | undefined)[];
  /** Pre-ignitions counted, by cylinder. */
  readonly preIgnitions: Float64Array;
  private early = -99;
  private learned = -1;
  private lastPedal = 0;
  private tip = 0;
  private target = 0;
  private cause: KnockEvent['cause'] = 'knock';

  constructor(
    private readonly car: CarSpec,
    private readonly plant: Plant,
    private readonly random: Random,
  ) {
    this.retard = new Float64Array(car.engine.cylinders);
    this.since = new Float64Array(car.engine.cylinders).fill(9);
    this.preIgnitions = new Float64Array(car.engine.cylinders);
    this.open = new Array<KnockEvent | undefined>(car.engine.cylinders).fill(undefined);
  }

  step(b: Bus, dt: number): void {
    const n = this.retard.length;
    const rpm = b.engineSpeed * RPM;
    const load = b.strokeShare;
    const rise = (b.pedal - this.lastPedal) / dt;
    this.lastPedal = b.pedal;
    if (this.plant.tipInRetard > 0 && rise > 2.2 && b.pedal > 0.25 && rpm > 1200 && this.tip <= 0) this.tip = 1.6;
    if (this.tip > 0) this.tip -= dt;
    const tipNow = this.tip > 1.15 && this.tip < 1.32;
    const natural = load > 0.7 && rpm > 1500 ? this.plant.knockRate * dt : 0;
    let mean = 0;
    for (let c = 0; c < n; c++) {
      let r = this.retard[c]!;
      this.since[c]! += dt;
      if (this.since[c]! > 0.25) r = Math.max(0, r - (this.tip > 0 ? 5 : 1.6) * dt);
      if (natural > 0 && this.random.next() < natural / n) {
        const step = 0.4 + 0.9 * this.random.next();
        if (r + step < 1.6) {
          r += step;
          this.since[c] = 0;
        }
      }
      if (tipNow && r < this.plant.tipInRetard) {
        r = this.plant.tipInRetard * (0.8 + 0.2 * this.random.next());
        this.since[c] = 0;
        this.cause = 'tip-in';
      }
      if (this.plant.hotChargeRetard > 0 && b.chargeAir > 55 && load > 0.6 && rpm > 1500) {
        const aim = this.plant.hotChargeRetard * Math.min(1, (b.chargeAir - 55) / 10);
        if (r < aim) {
          r = Math.min(aim, r + 6 * dt);
          this.cause = 'hot-charge';
        }
      }
      for (let i = 0; i < this.plant.knock.length; i++) {
        const f = this.plant.knock[i]!;
        if (load < 0.64 || rpm < f.from || rpm > f.to || this.since[c]! < 0.06) continue;
        if (b.pullNumber === 0 || !f.pulls.includes(b.pullNumber) || !f.cylinders.includes(c + 1)) continue;
        this.target = f.retard;
        this.cause = 'knock';
        if (r < this.target - 0.05) {
          r = Math.min(this.target, r + Math.max(1.2, this.target * 0.4));
          this.since[c] = 0;
        } else this.since[c] = 0;
      }
      const { cylinder, retard, times } = this.plant.preIgnition;
      if (cylinder === c + 1 && this.preIgnitions[c]! < times && this.ripe(b, rpm)) {
        // The only answer that a control unit has, and no cure: late, at once, and slowly back.
        this.early = b.t;
        this.preIgnitions[c]!++;
        r = Math.max(r, retard);
        this.since[c] = 0;
        this.cause = 'knock';
      }
      this.retard[c] = r;
      mean += r;
      this.note(b, c, r, rpm);
    }
    // What was learned is held under load, and shrinks or grows slowly with what is heard.
    if (this.learned < 0) this.learned = this.plant.octaneLearned;
    if (load > 0.6 && rpm > 1500) {
      const heard = mean / n > 0.8 ? 1 : 0;
      this.learned = Math.min(1, Math.max(0, this.learned + dt * (heard === 1 ? 0.004 : -0.0006)));
    }
    b.octane = this.learned;
    const held = load > 0.55 && rpm > 1200 ? this.learned * this.plant.octaneAuthority : 0;
    b.octaneRetard = held;
    b.knockMean = mean / n + held;
  }

  /** Low speed, high pressure, and the last one is a while ago: one in a passage of a pull. */
  private ripe(b: Bus, rpm: number): boolean {
    const pressure = (4e-2 * Math.PI * b.torque) / this.car.engine.displacement; // bar, Heywood eq. 2.20
    return b.pullNumber > 0 && rpm > 1400 && rpm < 2850 && pressure > 17 && b.t - this.early > 6 && b.shifting === 0;
  }

  private note(b: Bus, c: number, r: number, rpm: number): void {
    const event = this.open[c];
    if (event === undefined) {
      if (r >= 2) {
        const fresh = { cylinder: c + 1, from: b.t, to: b.t, peak: r, rpm, cause: this.cause, pull: b.pullNumber };
        this.open[c] = fresh;
        this.events.push(fresh);
      }
    } else {
      if (r > event.peak) event.peak = r;
      event.to = b.t;
      if (r < 2) this.open[c] = undefined;
    }
  }
}
