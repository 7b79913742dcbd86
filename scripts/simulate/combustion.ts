import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import type { Plant } from './plant.js';
import type { Random } from './random.js';

const RPM = 30 / Math.PI;
/** Common firing orders of in-line four, V6 and V8 engines (common practice). */
const ORDERS: Readonly<Record<number, readonly number[]>> = {
  4: [1, 3, 4, 2],
  6: [1, 5, 3, 6, 2, 4],
  8: [1, 8, 4, 3, 6, 5, 7, 2],
};
/** A firing that a healthy engine misses now and then. */
const NATURAL = 1e-4;

/**
 * Firing by firing: misfires and their counters, what each cylinder does apart from the others, and the unsteadiness of
 * the crank (missed firings, hunting idle, jerks, road) that rides on its speed without moving the car.
 */
export class Combustion {
  /** Per cylinder: misfires as the control unit counts them, its roughness (own scale), fuel correction (%), exhaust (degC). */
  readonly count: Float64Array;
  readonly roughness: Float64Array;
  readonly correction: Float64Array;
  readonly exhaust: Float64Array;
  /** Firings missed while fuel and ignition were on, over all cylinders. */
  missed = 0;
  /** Firings that were meant to be. */
  wanted = 0;
  /** 1 while cylinders are shut off by design. */
  shutOff = 0;
  private readonly order: readonly number[];
  private readonly own: { readonly roughness: number; readonly correction: number; readonly exhaust: number }[] = [];
  private angle = 0; // share of a firing interval
  private turn = 0; // place in the firing order
  private dip = 0; // rpm
  private huntPhase = 0;
  private huntSize = 0;
  private surgePhase = 0;
  private surgeSize = 0;
  private readonly road = { x: 0, v: 0 };
  gas = 300; // degC, mean of the cylinders, before the turbine
  afterTurbine = 280; // degC
  modelled = 300; // degC, what the control unit believes

  constructor(
    private readonly car: CarSpec,
    private readonly plant: Plant,
    private readonly random: Random,
  ) {
    const n = car.engine.cylinders;
    this.order = ORDERS[n]!;
    this.count = new Float64Array(n);
    this.roughness = new Float64Array(n);
    this.correction = new Float64Array(n);
    this.exhaust = new Float64Array(n).fill(20);
    for (let c = 0; c < n; c++)
      this.own.push({
        roughness: random.range(0.9, 1.1),
        correction: random.range(-1, 1),
        exhaust: random.range(-9, 9),
      });
  }

  step(b: Bus, dt: number): void {
    const { plant } = this;
    const rpm = b.engineSpeed * RPM;
    const cruising = b.speed > 14 && b.strokeShare < 0.35 && b.gear > 2 && b.shifting === 0 && b.fuelCut === 0;
    this.shutOff = plant.shutsOff && cruising ? 1 : 0;
    if (b.running === 1) {
      this.angle += (dt * b.engineSpeed * this.order.length) / (4 * Math.PI);
      for (; this.angle >= 1; this.angle--) this.fire(b, rpm);
    }
    const usual = 330 + 480 * Math.min(1.1, b.strokeShare) + 0.018 * rpm;
    // Late ignition or a lean mixture heat the gas from half load on.
    const share = Math.min(1, Math.max(0, (b.strokeShare - 0.5) / 0.3));
    const warm = b.running === 1 ? usual + share * Math.max(0, plant.exhaustFull - usual) : b.ambient + 60;
    this.gas += ((warm - this.gas) * dt) / 2.5;
    // The turbine takes work out of the gas, by the pressure that it gives to the air.
    const drop = 25 + 95 * Math.min(1.2, Math.max(0, b.boost / b.barometer - 1));
    this.afterTurbine += ((this.gas - drop - this.afterTurbine) * dt) / 1.5;
    this.modelled += ((usual * (b.running === 1 ? 1 : 0.5) - this.modelled) * dt) / 4;
    for (let c = 0; c < this.own.length; c++) {
      const own = this.own[c]!;
      const apart = plant.cylinders.find((each) => each.cylinder === c + 1);
      const hot = Math.min(1, Math.max(0, (this.gas - 300) / 400));
      this.exhaust[c] = this.gas + hot * (own.exhaust + (apart?.exhaust ?? 0));
      this.correction[c] = own.correction + (apart?.correction ?? 0);
    }
    this.dip -= (this.dip * dt) / 0.12;
    b.unsteady = b.running === 1 ? this.dip + this.hunt(b, dt) + this.surge(b, dt) + this.ripple(b, dt) : 0;
  }

  private fire(b: Bus, rpm: number): void {
    const { plant } = this;
    const cylinder = this.order[this.turn]!;
    this.turn = (this.turn + 1) % this.order.length;
    const c = cylinder - 1;
    const off = this.shutOff === 1 && cylinder % 2 === 0;
    const cut = b.fuelCut === 1 || rpm > this.car.engine.revLimit + plant.limiterLate - 60 || off;
    const reduced = b.torqueFactor < 0.8 || b.tractionFactor < 0.8;
    let chance = NATURAL;
    for (let i = 0; i < plant.misfires.length; i++) {
      const fault = plant.misfires[i]!;
      if (!fault.cylinders.includes(cylinder)) continue;
      if (fault.when === 'idle' && !(b.pedal < 0.02 && b.speed < 1)) continue;
      if (fault.when === 'load' && b.strokeShare < 0.5) continue;
      chance = Math.max(chance, fault.share);
    }
    if (!cut) this.wanted++;
    const missed = !cut && this.random.next() < chance;
    if (missed) {
      this.missed++;
      this.dip -= (17000 / Math.max(500, rpm)) * (4 / this.order.length);
    }
    if (missed || (plant.countsCuts && (cut || (reduced && this.random.next() < 0.5)))) this.count[c]!++;
    const apart = plant.cylinders.find((each) => each.cylinder === cylinder);
    const rough = this.own[c]!.roughness * (1 + (apart?.roughness ?? 0)) + 0.25 * this.random.normal();
    this.roughness[c]! += 0.25 * (rough + (missed ? 45 : 0) - this.roughness[c]!);
  }

  /** Idle that swings about its speed: amplitude and rhythm wander a little. */
  private hunt(b: Bus, dt: number): number {
    const { amplitude, frequency } = this.plant.idleHunt;
    if (amplitude === 0) return 0;
    const idling = b.pedal < 0.02 && b.speed < 0.3 && b.runTime > 4;
    this.huntSize += ((idling ? amplitude : 0) - this.huntSize) * Math.min(1, dt / 0.6);
    this.huntPhase += dt * 2 * Math.PI * frequency + 0.25 * Math.sqrt(dt) * this.random.normal();
    return this.huntSize * Math.sin(this.huntPhase);
  }

  /** Jerky delivery at part load in a held gear. */
  private surge(b: Bus, dt: number): number {
    const { amplitude, frequency } = this.plant.surge;
    if (amplitude === 0) return 0;
    const part = b.gear > 0 && b.shifting === 0 && b.strokeShare > 0.32 && b.strokeShare < 0.85 && b.speed > 5;
    this.surgeSize += ((part ? amplitude : 0) - this.surgeSize) * Math.min(1, dt / 0.4);
    this.surgePhase += dt * 2 * Math.PI * frequency + 0.8 * Math.sqrt(dt) * this.random.normal();
    return this.surgeSize * Math.sin(this.surgePhase);
  }

  /** The road shakes the driveline at its own frequency: noise through a damped resonance at 5 Hz. */
  private ripple(b: Bus, dt: number): number {
    const { ripple, roughRoad } = this.plant;
    if (ripple === 0) return 0;
    const rough = roughRoad.every > 0 && b.t % roughRoad.every < roughRoad.length ? roughRoad.factor : 1;
    const size = b.speed > 3 && b.gear > 0 ? ripple * rough : 0;
    const w = 2 * Math.PI * 5;
    const damping = 0.35;
    // A variance of 1 of the travel takes noise of 4 damping w^3 per second.
    const kick = Math.sqrt(4 * damping * w * w * w * dt) * size * this.random.normal();
    this.road.v += dt * (-2 * damping * w * this.road.v - w * w * this.road.x) + kick;
    this.road.x += dt * this.road.v;
    return this.road.x;
  }
}
