import { leastSquares, leverage } from '../math/least-squares.js';
import { median } from '../math/quantile.js';
import { volumePerMinute } from '../physics/injection.js';
import { AMBIENT } from './ambient.js';
import { FILLING } from './filling.js';
import { FUEL } from './fuel.js';
import { FUEL_CUT } from './fuel-cut.js';
import { INJECTION } from './injection.js';
import { isFrontLambda } from './lambda-lag.js';
import { MEASURED_AIR } from './measured-air.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { steadyRows } from './steady.js';

export interface InjectorFlow {
  /** Static flow of one injector, cm3/min of this fuel, at the reference pressure drop. */
  readonly flow: number;
  /** Two-sided 95 % interval, never narrower than the floor. */
  readonly low: number;
  readonly high: number;
  /** g/s of the same. */
  readonly mass: number;
  /** Opening delay, ms. */
  readonly dead: number;
  /** kPa: pressure drop that the flow refers to. */
  readonly reference: number;
  readonly kind: 'port' | 'direct';
  /** Half-width that the interval never goes below, share. */
  readonly floor: number;
  /** Relative standard uncertainty of the line alone. */
  readonly u: number;
  /** The air meter was checked by a plausible filling; otherwise it may have been rescaled. */
  readonly meterChecked: boolean;
  readonly rows: number;
  readonly notes: readonly string[];
}

/** Pressure drops that injectors are named by, kPa. Common practice, no source. */
const REFERENCE = { port: 300, direct: 10_000 } as const;
/** Half-width of the interval at least: meter, fuel, spread of injectors; and where the meter may have been rescaled. */
const FLOOR = 0.12;
const FLOOR_RESCALED = 0.25;
/** A filling outside this at middle speed is no engine's: the meter was rescaled or reads wrong. Common practice, no source. */
const PLAUSIBLE = [0.76, 1.05] as const;
const BINS = 24;
const FEWEST_BINS = 5;
const ROWS_PER_BIN = 4;
/** Standard uncertainties: pressure drop of a port system without a sensor, and of any sensor. Shares. */
const DROP_UNKNOWN_U = 0.12;
const DROP_U = 0.03;
/** The line must go through the points to this share of the middle time, or the time is not all of the fuel. */
const FOLLOWS = 0.08;

export const INJECTOR_FLOW = recipe<InjectorFlow>({
  id: 'injectorFlow',
  about:
    'Static flow of the injectors and their opening delay: line through opening time over fuel mass (air mass / lambda / stoichiometric ratio), fuel mass brought to the reference pressure drop by the orifice law; 95 % interval of at least 12 %, 25 % where the air meter may have been rescaled.',
  compute(drive) {
    const injection = drive.derive(INJECTION);
    if (isRefusal(injection)) return injection;
    const { kind } = injection;
    if (kind === 'both')
      return refuse('a port and a direct set share the fuel: one opening time does not tell a size', {
        conditions: ['opening times of both sets of injectors'],
      });
    if (kind === undefined)
      return refuse('it is not known whether the injectors sit in the ports or the cylinders', {
        channels: ['fuelRailPressure'],
        conditions: ['vehicle profile with engine.injection'],
      });
    const { cylinders } = drive.vehicle.engine;
    if (cylinders === undefined)
      return refuse('the number of cylinders is not known', { conditions: ['vehicle profile with engine.cylinders'] });
    const air = drive.derive(MEASURED_AIR);
    if (isRefusal(air)) return air;
    const fuel = drive.derive(FUEL);
    const lambda = lambdaOf(drive);
    const speed = samplesOf(drive).held('engineSpeed');
    if (isRefusal(fuel) || speed === undefined || lambda === undefined) {
      const absent = [...(speed ? [] : ['engineSpeed']), ...(lambda ? [] : ['lambda'])];
      return refuse(`no injector flow, because ${absent.join(' and ')} is absent`, { channels: absent });
    }
    const drop = dropOf(drive, kind);
    if (drop === undefined)
      return refuse('no injector flow of direct injection without rail pressure', { channels: ['fuelRailPressure'] });
    const cut = drive.derive(FUEL_CUT);
    const steady = steadyRows(drive, speed, air.values);
    const x: number[] = [];
    const y: number[] = [];
    for (let i = 0; i < speed.length; i++) {
      const n = speed[i]!;
      const t = injection.time[i]!;
      if (steady[i] === 0 || !(n >= 500) || !(t > 0.2) || !(lambda[i]! > 0.6 && lambda[i]! < 1.3)) continue;
      if (!isRefusal(cut) && cut.mask[i] === 1) continue;
      const mass = (air.values[i]! * 120_000) / (n * cylinders) / (lambda[i]! * fuel.ratio); // mg
      const brought = mass / Math.sqrt(drop.at(i) / REFERENCE[kind]);
      if (!(brought > 0)) continue;
      x.push(brought);
      y.push(t);
    }
    const line = lineOf(x, y);
    if (line === undefined)
      return refuse('no injector flow: steady driving covers too little of the load range', {
        conditions: ['steady idle, cruise and acceleration with air mass, lambda and injection time'],
      });
    if (!(line.slope > 0) || line.scatter > FOLLOWS)
      return refuse(
        'no injector flow: opening time does not follow the fuel mass (a second set of injectors, or a rescaled column)',
        {
          conditions: ['opening times of all sets of injectors'],
        },
      );
    const filling = drive.derive(FILLING);
    const middle = isRefusal(filling) ? Number.NaN : filling.fillingAt(2500, 80);
    const meterChecked = middle >= PLAUSIBLE[0] && middle <= PLAUSIBLE[1];
    const floor = meterChecked ? FLOOR : FLOOR_RESCALED;
    const u = Math.hypot(line.u, air.u, fuel.ratioU, drop.u / 2);
    const half = Math.max(floor, 1.96 * u);
    const mass = 1 / line.slope; // mg/ms = g/s
    const flow = volumePerMinute(mass, fuel.density);
    return {
      flow,
      low: flow * (1 - half),
      high: flow * (1 + half),
      mass,
      dead: line.dead,
      reference: REFERENCE[kind],
      kind,
      floor,
      u: line.u,
      meterChecked,
      rows: x.length,
      notes: drop.note === '' ? [] : [drop.note],
    };
  },
});

/** Mean of the sensors before the catalyst, held; undefined without one that moves. */
function lambdaOf(drive: Drive): Float64Array | undefined {
  const sensors = drive.family('lambda').filter((channel) => isFrontLambda(channel) && !channel.quality.constant);
  const held = sensors.map(({ id }) => samplesOf(drive).held(id)!);
  const [first] = held;
  if (first === undefined || held.length === 1) return first;
  return first.map((_, i) => held.reduce((sum, each) => sum + each[i]!, 0) / held.length);
}

interface Drop {
  readonly at: (i: number) => number;
  readonly u: number;
  readonly note: string;
}

/** Pressure drop over the injector, kPa. */
function dropOf(drive: Drive, kind: 'port' | 'direct'): Drop | undefined {
  const samples = samplesOf(drive);
  const rail = samples.held('fuelRailPressure');
  if (kind === 'direct') return rail === undefined ? undefined : { at: (i) => rail[i]!, u: DROP_U, note: '' };
  const feed = rail ?? samples.held('fuelFeedPressure');
  const manifold = samples.held('manifoldPressure');
  const ambient = drive.derive(AMBIENT);
  if (feed === undefined || manifold === undefined || isRefusal(ambient))
    return {
      at: () => REFERENCE.port,
      u: DROP_UNKNOWN_U,
      note: 'Fuel pressure was not recorded: 300 kPa over the manifold taken.',
    };
  return { at: (i) => feed[i]! - (manifold[i]! - ambient.pressure), u: DROP_U, note: '' };
}

interface FlowLine {
  readonly slope: number;
  readonly dead: number;
  /** Relative standard error of the slope. */
  readonly u: number;
  /** Spread of the bins about the line over the middle time. */
  readonly scatter: number;
}

/** Line through the medians of bins of equal width in fuel mass, so that idle does not outweigh load. */
function lineOf(x: readonly number[], y: readonly number[]): FlowLine | undefined {
  if (x.length < 40) return undefined;
  const sorted = [...x].sort((a, b) => a - b);
  const low = sorted[Math.floor(0.005 * sorted.length)]!;
  const high = sorted[Math.floor(0.995 * (sorted.length - 1))]!;
  // Dead time and flow part only where the load range is wide.
  if (!(high > 2 * low)) return undefined;
  const bins: { x: number[]; y: number[] }[] = Array.from({ length: BINS }, () => ({ x: [], y: [] }));
  for (let i = 0; i < x.length; i++) {
    const bin = bins[Math.floor(((x[i]! - low) / (high - low)) * BINS)];
    bin?.x.push(x[i]!);
    bin?.y.push(y[i]!);
  }
  const kept = bins.filter((bin) => bin.x.length >= ROWS_PER_BIN);
  if (kept.length < FEWEST_BINS) return undefined;
  const bx = kept.map((bin) => median(bin.x));
  const by = kept.map((bin) => median(bin.y));
  const weights = kept.map((bin) => Math.min(1, bin.x.length / 20));
  const fit = leastSquares([bx.map(() => 1), bx], by, weights);
  if (fit === undefined) return undefined;
  const [dead, slope] = [fit.coefficients[0]!, fit.coefficients[1]!];
  const scatter = Math.sqrt(fit.variance) / median(by);
  return { slope, dead, u: Math.sqrt(fit.variance * leverage(fit, [0, 1])) / slope, scatter };
}
