import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import type { Plant } from './plant.js';

/** kg/kmol of exhaust over the gas constant. */
const GAS = 8314.5 / 28.7;
/** Pa.s by Sutherland's law for air (White, Viscous Fluid Flow, from memory); exhaust is within a few percent of it. */
function viscosity(kelvin: number): number {
  return (1.716e-5 * (kelvin / 273.15) ** 1.5 * (273.15 + 110.4)) / (kelvin + 110.4);
}

/**
 * A wall-flow filter behind the catalyst, one a car: wall and channels resist by viscosity, entry and exit by density.
 * What is loaded in it narrows the wall, what is knocked out of it opens it.
 */
export class Filter {
  temperature: number;
  /** kPa over the filter, offset of the sensor included. */
  shown = 0;
  /** m3/h of the data sheet, and the kPa that a clean filter takes there. */
  readonly sheet: { readonly flow: number; readonly drop: number };
  /** Highest volume flow of hot gas, m3/h. */
  highest = 0;
  private readonly wall: number;
  private readonly ends: number;

  constructor(
    car: CarSpec,
    private readonly plant: Plant,
    start: number,
  ) {
    this.temperature = start > 60 ? 420 : start;
    // A gram of air a second makes a kilowatt, about (common practice); the sheet stands for half of the rated power.
    const kelvin = plant.filterSheet + 273.15;
    const mass = 0.5e-3 * car.engine.ratedPower * 1.07;
    const density = 104_000 / (GAS * kelvin);
    const flow = mass / density;
    const drop = 5000;
    this.wall = (0.75 * drop) / (viscosity(kelvin) * flow);
    this.ends = (0.25 * drop) / (density * flow * flow);
    this.sheet = { flow: flow * 3600, drop: drop / 1000 };
  }

  /** Pa. @param flow m3/s */
  private drop(flow: number, kelvin: number, density: number): number {
    const { filterLoad } = this.plant;
    return (
      this.wall * filterLoad * viscosity(kelvin) * flow + this.ends * Math.min(1.3, filterLoad) * density * flow * flow
    );
  }

  /** What a perfect observer gives: kPa at the flow of the sheet over the sheet, 1. */
  share(): number {
    const kelvin = this.plant.filterSheet + 273.15;
    return this.drop(this.sheet.flow / 3600, kelvin, 104_000 / (GAS * kelvin)) / (1000 * this.sheet.drop);
  }

  step(b: Bus, catalyst: number, dt: number): void {
    const mass = b.running === 1 ? b.airFlow * (b.fuelCut === 1 ? 1 : 1.07) : 0;
    const heated = b.running === 1 ? 0.97 * catalyst : b.ambient;
    this.temperature += ((heated - this.temperature) * dt) / (b.running === 1 ? 25 / Math.max(1, mass * 40) : 500);
    const kelvin = this.temperature + 273.15;
    // The silencer behind it adds its own pressure.
    const behind = b.barometer * 1000 + 9000 * (mass / 0.2) ** 2;
    const density = (behind + 1000 * Math.max(0, this.shown)) / (GAS * kelvin);
    const flow = mass / density;
    if (this.temperature > 260 && b.fuelCut === 0) this.highest = Math.max(this.highest, flow * 3600);
    const pressure = this.drop(flow, kelvin, density) / 1000;
    this.shown += ((pressure - this.shown) * dt) / 0.08;
  }
}
