import { AMBIENT } from '../../derived/ambient.js';
import { FUEL } from '../../derived/fuel.js';
import { FUEL_CUT } from '../../derived/fuel-cut.js';
import { lastValue } from '../../derived/last-value.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { freshRate } from '../../derived/refresh.js';
import { SAMPLES } from '../../derived/samples.js';
import { madn } from '../../math/madn.js';
import { median } from '../../math/quantile.js';
import { exhaustFlow, exhaustVolumeFlow, gasViscosity } from '../../physics/exhaust.js';
import type { Channel } from '../../recording/recording.js';

/** Slowest pressure drop that is set beside an air flow, Hz. Common practice, no source. */
export const SLOWEST = 1;
/** Gas (degC) from which it counts: cold gas is thin in volume and tough in flow. Common practice, no source. */
export const HOT = 250;
/** Fresh samples with the engine at rest that make an offset. */
const AT_REST = 5;
/** rpm below which the engine stands; and s that the pressure needs to settle after it stopped. */
const STANDS = 50;
const SETTLES = 1;
/** Air flow may change by this share over the interval of a sample, or the two do not belong together. */
const CALM = 0.2;
const BACK = 0.7;
/** m3/h, width of the classes of volume flow; one class counts as one sample, however long it was driven. */
const CLASS = 25;
const CLASSES = 400;

/** Hot gas that a pressure drop is stated for where the profile does not say, degC. Common practice, no source. */
const STATED = 600;

/** Pressure drop by classes of volume flow; `count[k]` samples with sums of flow (m3/h) and drop (kPa). */
export interface Classes {
  readonly count: Float64Array;
  readonly flow: Float64Array;
  /** Flow times its viscosity, and its square times its density, both over those of the gas of the profile. */
  readonly tough: Float64Array;
  readonly heavy: Float64Array;
  readonly drop: Float64Array;
}

interface FilterReading {
  /** '' where there is one filter only. */
  readonly bank: string;
  readonly channel: Channel;
  readonly classes: Classes;
  /** Samples that counted. */
  readonly samples: number;
  /** Pressure drop (kPa) with the engine at rest, its standard uncertainty; absent when that was not recorded. */
  readonly offset?: { readonly value: number; readonly u: number };
  readonly slow: boolean;
  readonly disbelief?: string;
}

export interface FilterObservation {
  readonly filters: readonly FilterReading[];
  /** What kept the volume flow from being told. */
  readonly obstacle?: Refusal;
  /** Gas temperature taken from somewhere else than the filter. */
  readonly heatFrom?: string;
  /** Stored soot and ash, g; NaN when not read. */
  readonly soot: number;
  readonly ash: number;
}

type Reads = Pick<Drive, 'time' | 'derive' | 'vehicle'> & {
  optional(id: FilterChannel): Channel | undefined;
  family(id: FilterChannel): readonly Channel[];
};
type FilterChannel =
  | 'particulateFilterPressureDrop'
  | 'particulateFilterTemperature'
  | 'catalystTemperature'
  | 'catalystTemperatureModelled'
  | 'airMassFlow'
  | 'exhaustMassFlow'
  | 'engineSpeed'
  | 'particulateSoot'
  | 'particulateAsh';

export function readFilters(view: Reads): FilterObservation | Refusal {
  const soot = greatest(view.family('particulateSoot').map(lastValue));
  const ash = greatest(view.family('particulateAsh').map(lastValue));
  const drops = view.family('particulateFilterPressureDrop').filter(({ quality }) => quality.samples > 0);
  if (drops.length === 0) {
    const missing = refuse('no pressure drop over the particulate filter was recorded', {
      channels: ['particulateFilterPressureDrop'],
    });
    return Number.isNaN(soot) && Number.isNaN(ash) ? missing : { filters: [], obstacle: missing, soot, ash };
  }
  const gas = gasOf(view, drops.length);
  return {
    filters: drops.map((channel) => readFilter(view, channel, isRefusal(gas) ? undefined : gas)),
    ...(isRefusal(gas) ? { obstacle: gas } : gas.from.startsWith('particulateFilter') ? {} : { heatFrom: gas.from }),
    soot,
    ash,
  };
}

interface Gas {
  /** g/s through one filter, held; degC; kPa behind it. */
  readonly mass: Float64Array;
  readonly heat: Float64Array;
  readonly behind: number;
  readonly from: string;
  readonly share: number;
  readonly id: string;
}

function gasOf(view: Reads, filters: number): Gas | Refusal {
  const samples = view.derive(SAMPLES);
  if (isRefusal(samples)) return samples;
  const id = view.optional('exhaustMassFlow') === undefined ? 'airMassFlow' : 'exhaustMassFlow';
  const mass = samples.held(id);
  if (mass === undefined)
    return refuse('no volume flow, because neither exhaust nor air mass flow was recorded', {
      channels: ['airMassFlow'],
    });
  const hot =
    view.family('particulateFilterTemperature')[0] ??
    view.family('catalystTemperature')[0] ??
    view.family('catalystTemperatureModelled')[0];
  const heat = hot === undefined ? undefined : samples.held(hot.id);
  if (hot === undefined || heat === undefined)
    return refuse('no volume flow, because the temperature of the gas at the filter was not recorded', {
      channels: ['particulateFilterTemperature'],
    });
  const ambient = view.derive(AMBIENT);
  const fuel = view.derive(FUEL);
  const burnt = id === 'exhaustMassFlow' ? 1 : exhaustFlow(1, isRefusal(fuel) ? 14.4 : fuel.ratio);
  return {
    mass,
    heat,
    behind: isRefusal(ambient) ? 101.325 : ambient.pressure,
    from: hot.id,
    share: burnt / filters,
    id,
  };
}

function readFilter(view: Reads, channel: Channel, gas: Gas | undefined): FilterReading {
  const { time } = view;
  const samples = view.derive(SAMPLES);
  const classes: Classes = {
    count: new Float64Array(CLASSES),
    flow: new Float64Array(CLASSES),
    tough: new Float64Array(CLASSES),
    heavy: new Float64Array(CLASSES),
    drop: new Float64Array(CLASSES),
  };
  const bank = /\.(bank\d)/.exec(channel.id)?.[1] ?? '';
  const slow = freshRate(channel).hz < 0.95 * SLOWEST;
  const disbelief = channel.quality.constant
    ? 'reads the same all the time: frozen, simulated or unplugged'
    : undefined;
  const base = { bank, channel, classes, slow, ...(disbelief === undefined ? {} : { disbelief }) };
  if (isRefusal(samples)) return { ...base, samples: 0 };
  const rows = samples.fresh(channel.id);
  const engine = samples.held('engineSpeed');
  const offset = engine === undefined ? undefined : offsetOf(channel, rows, engine, time);
  const known = offset === undefined ? {} : { offset };
  if (gas === undefined) return { ...base, samples: 0, ...known };
  const stated = view.vehicle.exhaust.particulateFilter?.temperature ?? STATED;
  const cut = view.derive(FUEL_CUT);
  const back = Math.max(BACK, 1 / samples.hz(channel.id), 1 / samples.hz(gas.id));
  let counted = 0;
  let first = 0;
  for (let k = 0; k < rows.length; k++) {
    const i = rows[k]!;
    while (time[i]! - time[first]! > back) first++;
    const flow = gas.mass[i]!;
    const before = gas.mass[first]!;
    if (first === i || !(flow > 0) || !(Math.abs(flow - before) <= CALM * flow)) continue;
    if (!(gas.heat[i]! >= HOT) || (engine !== undefined && !(engine[i]! >= 300))) continue;
    // In a cut the gas is air, without fuel, and cools what is measured.
    if (!isRefusal(cut) && cut.mask[i] === 1) continue;
    const drop = channel.values[i]! - (offset?.value ?? 0);
    const volume = exhaustVolumeFlow(flow * gas.share, gas.heat[i]!, gas.behind + Math.max(0, drop));
    const at = Math.floor(volume / CLASS);
    if (!(at >= 0 && at < CLASSES) || Number.isNaN(drop)) continue;
    classes.count[at]! += 1;
    classes.flow[at]! += volume;
    classes.tough[at]! += volume * (gasViscosity(gas.heat[i]!) / gasViscosity(stated));
    // Density by the law of ideal gases; pressure moves the smaller part of the drop by a few percent only.
    const dense = (stated + 273.15) / (gas.heat[i]! + 273.15);
    classes.heavy[at]! += volume * volume * dense;
    classes.drop[at]! += drop;
    counted++;
  }
  return { ...base, samples: counted, ...known };
}

/** NaN is no sample. Median of what the sensor shows while nothing flows; undefined below five fresh samples. */
function offsetOf(
  channel: Channel,
  rows: Int32Array,
  engine: Float64Array,
  time: Float64Array,
): { value: number; u: number } | undefined {
  const rest: number[] = [];
  let turned = Number.NEGATIVE_INFINITY;
  let row = 0;
  for (let k = 0; k < rows.length; k++) {
    const i = rows[k]!;
    for (; row <= i; row++) if (!(engine[row]! < STANDS)) turned = time[row]!;
    if (time[i]! - turned >= SETTLES) rest.push(channel.values[i]!);
  }
  if (rest.length < AT_REST) return undefined;
  const u = Math.hypot(madn(rest) / Math.sqrt(rest.length), channel.quality.quantum / Math.sqrt(12));
  return { value: median(rest), u };
}

function greatest(list: readonly number[]): number {
  return list.reduce((a, b) => (b > a || Number.isNaN(a) ? b : a), Number.NaN);
}
