import type { Bus } from './bus.js';
import type { CarSpec } from './car.js';
import type { Plant } from './plant.js';

/** Lumped thermal masses: coolant, oil, fluid, clutch pack, charge cooler, air box. Coefficients are common practice. */
export class Heat {
  private clutchPack: number;
  private cooler: number;
  private airBox = 0;
  private done = new Set<string>();
  private dwelt = 0;
  private mapped = 0; // K by which the thermostat opens earlier now
  private guided = -1;
  private guide0 = 0; // degC of the guided temperature

  constructor(
    private readonly car: CarSpec,
    private readonly plant: Plant,
    start: number,
    ambient: number,
  ) {
    this.clutchPack = start;
    this.cooler = ambient;
  }

  /** True when the overheating tied to that tag has run its course (or there is none). */
  finished(tag: string): boolean {
    return this.done.has(tag) || !this.plant.overheats.some((o) => o.tag === tag);
  }

  step(b: Bus, dt: number, tag: string | undefined): void {
    const e = this.car.engine;
    const v = b.speed;
    const burnt = b.fuelFlow * 42.5e6;
    const power = Math.max(0, b.torque * b.engineSpeed);
    const frictionHeat = b.frictionTorque * b.engineSpeed;
    // Coolant
    const toCoolant = burnt * (0.25 - 0.09 * Math.min(1, power / (e.ratedPower * 1000)));
    this.mapped += ((b.strokeShare > 0.5 ? this.plant.thermostatMap : 0) - this.mapped) * Math.min(1, dt / 20);
    const open = Math.min(1, Math.max(this.plant.thermostatOpen, (b.coolant - (e.thermostat - this.mapped - 2)) / 7));
    const fan = Math.min(1, Math.max(0, (b.coolant - e.thermostat - 4) / 4));
    const size = e.ratedPower / 300;
    const radiator = open * (160 + 62 * v + 480 * fan + 900 * fan * Math.min(1, power / 60000)) * size;
    const oilExchange = 420 + 260 * size * Math.min(1, b.engineSpeed / 300);
    const toOil = 0.3 * frictionHeat + burnt * 0.02;
    const exchange = oilExchange * (b.oil - b.coolant);
    // The cooler's valve opens above 82 degC and its flow rises with temperature.
    const fluidExchange =
      (b.fluid > 82 ? 260 + 22 * Math.min(20, Math.max(0, b.fluid - 92)) : 70) *
      this.plant.coolerFactor *
      (b.running === 1 ? 1 : 0.1);
    const fromFluid = fluidExchange * (b.fluid - b.coolant);
    b.coolant +=
      (dt * (toCoolant + exchange + fromFluid - (radiator + 6 + 0.4 * v) * (b.coolant - b.ambient))) /
      (17000 * e.displacement + 9000);
    b.oil += (dt * (toOil - exchange - (4 + 0.5 * v) * (b.oil - b.ambient))) / (6000 * e.displacement + 6000);
    const { oilShare, oilRelief, oilLowStage, oilStageBelow } = this.plant;
    const low = b.engineSpeed < oilStageBelow && b.torque < 0.45 * e.ratedTorque;
    b.oilShare = oilShare;
    b.oilCeiling = Math.min(oilRelief, low ? oilLowStage : Number.POSITIVE_INFINITY);
    // Transmission fluid and clutch pack
    const capacity = this.car.transmission.fluidMass * 2100 + 13000;
    const pack = 420 * (this.clutchPack - b.fluid);
    const wet = this.car.transmission.kind !== 'manual';
    this.clutchPack += (dt * (b.clutchHeat - pack)) / 2600;
    b.fluid += (dt * (b.meshHeat + (wet ? pack : 0) - fromFluid - (8 + 0.6 * v) * (b.fluid - b.ambient))) / capacity;
    b.clutchOutlet += ((this.clutchPack - b.clutchOutlet) * dt) / 1.1;
    this.guide(b, dt, tag);
    // Charge air and air box
    const pressureRatio = Math.max(1, b.boost / (b.barometer * 0.985));
    const inlet = b.intakeAir + 273.15;
    const compressed = inlet * (1 + (pressureRatio ** 0.2857 - 1) / 0.71) - 273.15;
    // The cooler takes that share of what the air is warmer than its core; the core gives it on to the air of the road.
    const taken = 0.92 * this.plant.coolerShare;
    const given = b.airFlow * 1005 * taken * (compressed - this.cooler);
    this.cooler +=
      (dt *
        (given -
          (250 + 75 * v) * size * this.plant.coolerShare * (this.cooler - b.ambient) +
          12 * (b.coolant - this.cooler) * (v < 3 ? 1 : 0.3))) /
      9000;
    const charge = compressed - taken * (compressed - this.cooler);
    b.chargeAir += ((charge - b.chargeAir) * dt) / 0.8;
    const soak = b.running === 1 ? (0.22 * (b.coolant - b.ambient)) / (1 + 0.35 * v) : 0.25 * (b.coolant - b.ambient);
    this.airBox += ((soak - this.airBox) * dt) / 45;
    b.intakeAir = b.ambient + this.airBox;
  }

  /** The injected fault: lost cooling lets the fluid climb at a given rate to a given peak and stay there. */
  private guide(b: Bus, dt: number, tag: string | undefined): void {
    const list = this.plant.overheats;
    for (let i = 0; i < list.length; i++) {
      const o = list[i]!;
      if (o.tag !== tag || this.done.has(o.tag)) continue;
      if (this.guided !== i) {
        this.guided = i;
        this.dwelt = 0;
        this.guide0 = { fluid: b.fluid, outlet: b.clutchOutlet, coolant: b.coolant, oil: b.oil }[o.where];
      }
      // Replaces the physical balance while it runs, so that the peak is the dialled one.
      const rate = Math.min(o.rise, Math.max(0.04, (o.peak - this.guide0) / 9));
      const next = Math.min(o.peak, this.guide0 + rate * dt);
      this.guide0 = next;
      if (o.where === 'fluid') b.fluid = next;
      else if (o.where === 'coolant') b.coolant = next;
      else if (o.where === 'oil') b.oil = next;
      else {
        b.clutchOutlet = next;
        this.clutchPack = next;
      }
      if (next >= o.peak - 0.02) this.dwelt += dt;
      if (this.dwelt >= o.dwell) this.done.add(o.tag);
    }
  }
}
