import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import type { Mixture } from './mixture.js';
import type { Plant } from './plant.js';
import type { Random } from './random.js';

/** Share of oxygen in air by mass. */
const OXYGEN = 0.2314;
/** Swing of the mixture that a switching front sensor makes (share), and its rhythm (Hz) at cruise. Common practice. */
const SWING = 0.018;

/** Lambda at the front sensor from which the gas of a fuel cut counts (limit of the rule catalogue). */
const LEAN = 1.15;

/** Volts of a zirconia sensor by lambda: steep about stoichiometry (common practice: 0.85 V rich, 0.08 V lean). */
function switching(lambda: number): number {
  return 0.08 + 0.77 / (1 + Math.exp((lambda - 1) / 0.0028));
}

/**
 * One three-way catalyst a bank as a store of oxygen that fills in lean gas and empties in rich gas, both the worse the
 * fuller or emptier it is; part of the gas may pass by. The rear sensor sees what comes out, through its own delay.
 */
export class Aftertreatment {
  /** Volts of the sensors and degC of the catalyst, per bank. */
  readonly front = new Float64Array([0.45, 0.45]);
  readonly rear = new Float64Array([0.6, 0.6]);
  temperature: number;
  /** What a perfect observer sees: air (g) from lean gas in front to lean gas behind, per finished fuel cut, of bank 1. */
  readonly stored: number[] = [];
  /** Switches in warm closed loop of bank 1. */
  readonly switches = { front: 0, rear: 0, seconds: 0 };
  private readonly fill = new Float64Array([0.35, 0.35]);
  private readonly ahead = new Float64Array([1, 1]);
  private readonly slow = new Float64Array([0.6, 0.6]);
  private readonly side = new Int8Array(2);
  private phase = 0;
  private size = 1;
  private cutAir = Number.NaN;
  private sinceCut = 60;

  constructor(
    private readonly car: CarSpec,
    private readonly plant: Plant,
    start: number,
    private readonly random: Random,
  ) {
    this.temperature = start > 60 ? 480 : start;
  }

  step(b: Bus, mixture: Mixture, gas: number, dt: number): void {
    const { plant } = this;
    const banks = this.car.engine.banks;
    const flow = (b.airFlow * 1000) / banks;
    const heated = b.running === 1 ? 0.82 * gas + (this.temperature > 250 ? 60 : 0) : b.ambient;
    this.temperature += ((heated - this.temperature) * dt) / (b.running === 1 ? 600 / Math.max(2, flow) : 400);
    const alight = Math.min(1, Math.max(0, (this.temperature - 230) / 120));
    const closed = mixture.status === 2;
    const before = this.phase;
    this.phase += dt * (0.7 + 0.9 * Math.min(1, flow / 12));
    if (Math.floor(2 * before) !== Math.floor(2 * this.phase))
      this.size = Math.max(0.3, 1 + 0.35 * this.random.normal());
    const swing = closed && plant.narrowBand ? SWING * this.size * Math.sin(2 * Math.PI * this.phase) : 0;
    this.sinceCut = b.fuelCut === 1 ? 0 : this.sinceCut + dt;
    for (let k = 0; k < banks; k++) {
      // Control behind the catalyst holds the mean a little rich, and empties the store after a cut on purpose.
      const mean = mixture.lambda[k]! - (closed ? 0.0015 + (this.fill[k]! > 0.38 ? 0.06 : 0) : 0);
      const lambda = Math.min(3, mean + swing);
      this.ahead[k]! += ((lambda - this.ahead[k]!) * dt) / 0.12;
      const oxygen =
        b.running === 1 ? flow * OXYGEN * (1 - 1 / Math.max(0.6, lambda)) * (b.fuelCut === 1 ? 1.5 : 1) : 0;
      const capacity = Math.max(1e-4, plant.oxygenStorage * alight);
      // Gas flows through a long store: lean gas breaks through late and steeply.
      const taken = oxygen > 0 ? 1 - this.fill[k]! ** 40 : 1 - (1 - this.fill[k]!) ** 8;
      this.fill[k] = Math.min(1, Math.max(0, this.fill[k]! + (oxygen * taken * dt) / capacity));
      // What the store lets through is a little rich while it is empty, and lean when it is nearly full.
      const out = 1 + (lambda - 1) * (1 - taken) + taken * (0.006 * this.fill[k]! ** 2 - 0.003);
      const passed = (1 - plant.catalystBypass) * out + plant.catalystBypass * this.ahead[k]!;
      this.slow[k]! += ((passed - this.slow[k]!) * dt) / (0.09 + plant.rearSpacer);
      this.front[k]! += ((switching(this.ahead[k]!) - this.front[k]!) * dt) / 0.05;
      const seen = plant.rearSimulated ? 0.68 + 0.05 * Math.sin(0.9 * b.t) : switching(this.slow[k]!);
      this.rear[k]! += ((seen - this.rear[k]!) * dt) / 0.08;
    }
    this.observe(b, flow, closed, dt);
  }

  private observe(b: Bus, flow: number, closed: boolean, dt: number): void {
    const lean = b.fuelCut === 1 && b.running === 1;
    // Gas between cylinder and front sensor is no part of the store.
    if (lean && Number.isNaN(this.cutAir) && this.ahead[0]! > LEAN)
      this.cutAir = this.rear[0]! > 0.45 && this.temperature > 400 ? 0 : -1;
    if (!lean) this.cutAir = Number.NaN;
    if (this.cutAir >= 0) {
      this.cutAir += flow * dt;
      if (this.slow[0]! > 1.01) {
        this.stored.push(this.cutAir);
        this.cutAir = -1;
      }
    }
    if (!closed || this.sinceCut < 3 || this.temperature < 400 || b.engineSpeed < 115) {
      this.side.fill(0);
      return;
    }
    this.switches.seconds += dt;
    for (let s = 0; s < 2; s++) {
      const volts = s === 0 ? this.front[0]! : this.rear[0]!;
      const now = volts > 0.55 ? 1 : volts < 0.35 ? -1 : this.side[s]!;
      if (this.side[s] !== 0 && now !== this.side[s]) {
        if (s === 0) this.switches.front++;
        else this.switches.rear++;
      }
      this.side[s] = now;
    }
  }
}
