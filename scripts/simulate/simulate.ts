import { Aftertreatment } from './aftertreatment.js';
import { airDensity, standardAtmosphere } from './atmosphere.js';
import { Bus, SELECTOR } from './bus.js';
import type { CarSpec } from './car.js';
import { carById } from './cars.js';
import { Combustion } from './combustion.js';
import { Driveline } from './driveline.js';
import { Driver } from './driver.js';
import { Electrics } from './electrics.js';
import { Engine } from './engine.js';
import { Filter } from './filter.js';
import { FuelSystem } from './fuel-system.js';
import { Heat } from './heat.js';
import { Hydraulics } from './hydraulics.js';
import { KnockControl } from './knock.js';
import { Mixture } from './mixture.js';
import { Oil } from './oil.js';
import { Plant } from './plant.js';
import { Random } from './random.js';
import type { Phase } from './script.js';
import { signalsOf } from './signals.js';
import { Transmission } from './transmission.js';
import { type Truth, TruthKeeper } from './truth.js';
import { ValveTrain } from './valve-train.js';
import { Vibrations } from './vibrations.js';

export const STEP = 0.005; // s

export interface Ambient {
  readonly temperature: number; // degC
  readonly altitude?: number; // m
  readonly pressure?: number; // kPa; default from the altitude
  readonly wind?: number; // m/s against the car
  /** Tyre friction of the road (default 1.15, warm sports tyres on dry road). */
  readonly grip?: number;
  /** Rolling hills: height of the swings (m) and length (m). */
  readonly hills?: { readonly height: number; readonly length: number };
}
export interface DriveSpec {
  readonly seed: number;
  readonly car: CarSpec | string;
  readonly script: readonly Phase[];
  readonly ambient: Ambient;
  /** Disturbs the healthy car: see faults/. */
  readonly disturb?: (plant: Plant) => void;
  /** Stops the drive (s) at the latest; default 7200. */
  readonly duration?: number;
  /** Rate of the kept signals (Hz), a divisor of 200; default 100. */
  readonly signalRate?: number;
  /** Temperature of a car that was not started cold (degC). */
  readonly warm?: number;
}
export interface Simulation {
  readonly car: CarSpec;
  readonly plant: Plant;
  readonly rate: number;
  readonly samples: number;
  readonly time: Float64Array;
  readonly signals: ReadonlyMap<string, Float32Array>;
  readonly truth: Truth;
  readonly aftertreatment: Aftertreatment;
  readonly filter: Filter;
}

/** Runs a drive. Same spec, same numbers. Integrates at 200 Hz; no allocation per step. */
export function simulate(spec: DriveSpec): Simulation {
  const car = typeof spec.car === 'string' ? carById(spec.car) : spec.car;
  const rate = spec.signalRate ?? 100;
  const every = Math.round(1 / STEP / rate);
  if (Math.abs(every * STEP * rate - 1) > 1e-9) throw new Error(`signalRate ${rate}: expected a divisor of 200 Hz`);
  const plant = new Plant();
  spec.disturb?.(plant);
  const b = new Bus();
  const ambient = spec.ambient;
  b.ambient = ambient.temperature;
  b.altitude = ambient.altitude ?? 0;
  b.wind = ambient.wind ?? 0;
  b.grip = ambient.grip ?? 1.15;
  b.grade = 0;
  b.t = 0;
  const offset = ambient.pressure === undefined ? 0 : ambient.pressure - standardAtmosphere(b.altitude).pressure / 1000;
  const cold = spec.script[0]?.kind === 'coldStart';
  const warm = cold ? b.ambient : (spec.warm ?? car.engine.thermostat);
  b.coolant = warm;
  b.oil = warm;
  b.fluid = cold ? b.ambient : warm - 6;
  b.clutchOutlet = b.fluid;
  if (cold && plant.preheated !== undefined) {
    b.coolant += plant.preheated.coolant;
    b.oil += plant.preheated.oil;
    b.fluid += plant.preheated.fluid;
    b.clutchOutlet = b.fluid;
  }
  b.intakeAir = b.ambient;
  b.chargeAir = b.ambient;
  b.key = cold ? 0 : 1;
  b.voltage = cold ? 12.5 : 14;
  b.speed = 0;
  b.distance = 0;
  b.frontAxle = 0;
  b.rearAxle = 0;
  b.engineSpeed = 0;
  const engine = new Engine(car, plant);
  const driveline = new Driveline(car);
  const transmission = new Transmission(car, driveline, plant);
  const heat = new Heat(car, plant, b.fluid, b.ambient);
  const mixture = new Mixture(car, plant, engine.ratedFlow, new Random(spec.seed, 1));
  const knock = new KnockControl(car, plant, new Random(spec.seed, 2));
  const combustion = new Combustion(car, plant, new Random(spec.seed, 5));
  const aftertreatment = new Aftertreatment(car, plant, warm, new Random(spec.seed, 7));
  const filter = new Filter(car, plant, warm);
  const electrics = new Electrics(plant);
  const fuel = new FuelSystem(car, plant, engine.ratedFlow);
  const oil = new Oil(car, plant);
  const hydraulics = new Hydraulics(car, plant);
  const vibrations = new Vibrations(car, plant, transmission);
  const hills = ambient.hills;
  const hill = (distance: number) =>
    hills ? ((Math.PI * hills.height) / hills.length) * Math.cos((2 * Math.PI * distance) / hills.length) : 0;
  const driver = new Driver(
    car,
    spec.script,
    engine,
    transmission,
    driveline,
    heat,
    new Random(spec.seed, 3),
    b.grip,
    hill,
  );
  if (!cold) {
    b.running = 1;
    b.runTime = 600;
    b.engineSpeed = (car.engine.idle * Math.PI) / 30;
    b.manifold = 35;
    b.oilPressure = 1.8;
    b.oilWhole = 1.8;
    driveline.turbine = b.engineSpeed * 0.98;
  }
  b.selector = SELECTOR.P;
  const keeper = new TruthKeeper(driveline);
  keeper.begin(b);
  const limit = Math.round((spec.duration ?? 7200) / STEP);
  const valves = new ValveTrain(plant);
  const columns = signalsOf(car, plant, b, {
    valves,
    mixture,
    knock,
    combustion,
    driveline,
    transmission,
    aftertreatment,
    filter,
  });
  const count = columns.length;
  let capacity = 60000;
  let stores = columns.map(() => new Float32Array(capacity));
  let kept = 0;
  const thermalStep = 4;
  for (let k = 0; k < limit; k++) {
    if (k % 200 === 0) {
      const air = standardAtmosphere(b.altitude);
      b.barometer = air.pressure / 1000 + offset;
      b.density = airDensity(b.barometer * 1000, b.ambient + 273.15);
    }
    driver.step(b, STEP);
    if (driver.done) break;
    transmission.step(b, STEP);
    engine.step(b, STEP);
    oil.step(b, STEP);
    mixture.step(b, STEP);
    fuel.step(b, STEP);
    knock.step(b, STEP);
    combustion.step(b, STEP);
    aftertreatment.step(b, mixture, combustion.gas, STEP);
    filter.step(b, aftertreatment.temperature, STEP);
    driveline.step(b, STEP);
    hydraulics.step(b, STEP);
    vibrations.step(b, STEP);
    valves.step(b, STEP);
    if (k % thermalStep === 0) {
      heat.step(b, STEP * thermalStep, driver.phase?.tag);
      electrics.step(b, STEP * thermalStep);
    }
    keeper.step(b, STEP);
    if (k % every === 0) {
      if (kept === capacity) {
        capacity *= 2;
        stores = stores.map((s) => {
          const grown = new Float32Array(capacity);
          grown.set(s);
          return grown;
        });
      }
      for (let c = 0; c < count; c++) stores[c]![kept] = columns[c]!.read();
      kept++;
    }
    b.t += STEP;
  }
  const time = new Float64Array(kept);
  for (let i = 0; i < kept; i++) time[i] = (i * every * 5) / 1000;
  const signals = new Map<string, Float32Array>();
  for (let c = 0; c < count; c++) signals.set(columns[c]!.id, stores[c]!.subarray(0, kept));
  const truth = keeper.finish(b, { mixture, knock, transmission, driver }, STEP);
  return { car, plant, rate, samples: kept, time, signals, truth, aftertreatment, filter };
}
