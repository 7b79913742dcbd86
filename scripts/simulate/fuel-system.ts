import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import { WORK_PER_AIR } from './engine.js';
import type { Plant } from './plant.js';

export interface Injection {
  readonly kind: 'port' | 'direct';
  /** mg/ms of one injector at its reference pressure. */
  readonly flow: number;
  /** kPa: pressure drop at which that flow holds. */
  readonly reference: number;
  /** ms at 14 V that open nothing. */
  readonly dead: number;
}

const PORT_CARS: ReadonlySet<string> = new Set(['demo-wagon', 'demo-mid-engine', 'demo-roadster']);
const PORT_FEED = 400; // kPa gauge
const DIRECT_FEED = 550;
/** kPa gauge, and ethanol-free petrol: what the names of injectors refer to here. */
const REFERENCE = { port: 300, direct: 10_000 } as const;

/** Injectors that suit the rating: 70 % of the cycle (port) or 150 degrees (direct) at rated power. */
export function injectionOf(car: CarSpec): Injection {
  const e = car.engine;
  const kind = PORT_CARS.has(car.id) ? 'port' : 'direct';
  const rpm = 0.88 * e.revLimit;
  const flow = (e.ratedPower * 1000 * 1.12) / WORK_PER_AIR / 14.55 / e.fullLoadLambda; // kg/s
  const mass = (flow * 1e6 * 120) / (rpm * e.cylinders); // mg a cycle and cylinder
  const dead = kind === 'port' ? 0.95 : 0.32;
  const time = kind === 'port' ? (0.7 * 120_000) / rpm : 150 / (0.006 * rpm);
  const drop = kind === 'port' ? PORT_FEED - 90 : 19_000;
  return { kind, dead, reference: REFERENCE[kind], flow: mass / (time - dead) / Math.sqrt(drop / REFERENCE[kind]) };
}

/** Feed pump, high-pressure pump, injectors, tank and its ventilation. Coefficients are common practice. */
export class FuelSystem {
  private readonly injection: Injection;
  private vapour = 0;
  private begun = false;

  constructor(
    private readonly car: CarSpec,
    private readonly plant: Plant,
    private readonly ratedFlow: number,
  ) {
    this.injection = injectionOf(car);
  }

  step(b: Bus, dt: number): void {
    const { plant } = this;
    const direct = this.injection.kind === 'direct';
    const share = Math.min(1.3, b.airFlow / this.ratedFlow);
    const drawn = Math.max(0, (share - 0.2) / 0.8);
    const on = b.key > 0 || b.running === 1;
    // Feed: held by its regulator until the pump cannot deliver what is drawn.
    b.feedTarget = direct ? DIRECT_FEED : PORT_FEED;
    const referenced = plant.feedReferenced ? b.manifold - b.barometer : 0;
    if (!this.begun) {
      this.begun = true;
      b.feedPressure = on ? b.feedTarget : 0;
    }
    const fed = on ? (b.feedTarget + referenced) * (1 - plant.feedFade * drawn) : 0;
    b.feedPressure += ((fed - b.feedPressure) * dt) / 0.12;
    // Rail: the pump draws from the feed, and starves when that is far down.
    if (direct) {
      b.railTarget = b.running === 1 ? 5000 + 14_000 * Math.min(1, b.strokeShare * 1.1) : b.railTarget;
      const starved = Math.max(0, 1 - b.feedPressure / b.feedTarget - 0.12) * 1.6;
      const missing = plant.railFade * drawn + (b.running === 1 ? starved : 0);
      const aim = b.railTarget * (1 - missing + plant.railHigh);
      b.railPressure += ((aim - b.railPressure) * dt) / 0.09;
    } else {
      b.railTarget = b.feedTarget;
      b.railPressure = b.feedPressure;
    }
    this.inject(b);
    this.ventilate(b, dt);
  }

  /** One injection a cycle: opening delay, orifice, and a first tenth of a millisecond that gives less. */
  private inject(b: Bus): void {
    const { plant, injection } = this;
    if (b.running === 0 || b.fuelCut === 1 || b.engineSpeed < 20) {
      b.injectionTime = b.key === 2 ? 6 : 0;
      return;
    }
    const rpm = (b.engineSpeed * 30) / Math.PI;
    // The mixture is kept in petrol of 14.55; blends need more (published rounded ratios).
    const need = 14.55 / (this.car.engine.fuel === 'E10' ? 14.1 : 14.35);
    const mass = (need * b.fuelFlow * 1e6 * 120) / (rpm * this.car.engine.cylinders);
    const drop = injection.kind === 'port' ? b.feedPressure - (b.manifold - b.barometer) : b.railPressure;
    const delivered = (plant.fuelFactor[0] + plant.fuelFactor[1]) / 2;
    const flow = injection.flow * plant.injectorScale * delivered * Math.sqrt(Math.max(1, drop) / injection.reference);
    const open = mass / flow;
    const sluggish = injection.dead * (1 + 0.09 * (14 - b.voltage)) + 0.08 * Math.exp(-open / 0.6);
    // The second set of injectors takes over what the first one does not give.
    b.injectionTime = (sluggish + open) * (plant.secondSet > 0 && b.strokeShare > 0.3 ? 1 - plant.secondSet : 1);
  }

  private ventilate(b: Bus, dt: number): void {
    const { plant } = this;
    const may = b.running === 1 && b.fuelCut === 0 && b.coolant > 60 && b.runTime > 40;
    const { every, length, duty } = plant.purgePattern;
    const phase = b.t % every;
    const wanted = may && phase < length ? duty * Math.min(1, phase / 1.2) : 0;
    b.purgeDuty += ((wanted - b.purgeDuty) * dt) / 0.25;
    // Travel from the canister to the cylinder: first-order of one and a half seconds. Little of it at high flow.
    const flow = Math.min(1, 0.06 / Math.max(0.02, b.airFlow / this.ratedFlow));
    this.vapour += ((plant.canister * b.purgeDuty * flow - this.vapour) * dt) / 1.2;
    b.purgeVapour = this.vapour;
    const boost = Math.max(0, b.manifold - b.barometer);
    const tank = plant.tankBase - 0.9 * b.purgeDuty + plant.tankPerBoost * boost;
    b.tankPressure += ((tank - b.tankPressure) * dt) / 1.5;
  }
}
