import { valuesAt } from '../math/gather.js';
import { median } from '../math/quantile.js';
import { outputOf, usable } from './clutch-slip-output.js';
import { byProfile, plausible, type Ratio, ratiosOf, TAKEN_UP } from './clutch-slip-ratios.js';
import { learnedOf, type Side, sideOf } from './clutch-slip-side.js';
import { strays } from './clutch-stray.js';
import { takeUps } from './clutch-take-up.js';
import { HELD_GEAR } from './held-gear.js';
import { lined } from './lined.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';

/** Speed difference over the closed clutch, one entry a measurement, in a settled forward gear. */
export interface ClutchSlip {
  /** Rows of the measurements; all arrays of one length. */
  readonly row: Int32Array;
  /** Input minus output side, rpm; NaN = shift, neutral, take-up, unknown. */
  readonly slip: Float64Array;
  /** Speed of the input side, rpm. */
  readonly input: Float64Array;
  /** Standard uncertainty of `slip`, rpm. */
  readonly u: Float64Array;
  readonly gear: Float64Array;
  /** Clutch by gear: 1, 2, or 0 where the gearbox has one, or it is not known. */
  readonly clutch: ReadonlyMap<number, number>;
  /** `shafts` = both sides measured by shaft speeds; `wheels` = output side from wheel or road speed and learned ratio. */
  readonly basis: 'shafts' | 'wheels';
  /** What was compared, in words. */
  readonly source: string;
  /** 1 = both sides run at a steady ratio between two gears that is neither; only where no gear channel names the gear. */
  readonly stray: Uint8Array;
  /** Measurements per second. */
  readonly hz: number;
  /** Channels read. */
  readonly channels: readonly string[];
}

/** Lowest gear judged: in low gears tyres slip and ratios are taken at low speed. */
export const LOWEST_GEAR = { shafts: 1, wheels: 3 } as const;

export const CLUTCH_SLIP = recipe<ClutchSlip>({
  id: 'clutchSlip',
  about:
    'Slip of the clutch that carries, rpm: logged, else engine less clutch shaft, else input less output shaft x ratio, else engine less wheel speed x ratio; ratios learned on overrun and light load; lag of the pair taken out.',
  compute(drive) {
    const held = drive.derive(HELD_GEAR);
    if (isRefusal(held)) return refuse(`no clutch slip: ${held.reason}`, held.missing);
    const shaft = drive.channel('inputShaftSpeed');
    // The turbine of a converter, or of a gearbox of unknown kind, is the clutch's input; else it is the engine.
    const input =
      usable(drive, 'inputShaftSpeed') && drive.vehicle.transmission.kind !== 'manual' && shaft
        ? 'inputShaftSpeed'
        : 'engineSpeed';
    if (!usable(drive, input)) return refuse(`no clutch slip, because ${input} is absent`, { channels: [input] });
    const clutches = ['inputShaftSpeed.clutch1', 'inputShaftSpeed.clutch2'].filter((id) => usable(drive, id));
    if (clutches.length === 2 && usable(drive, 'engineSpeed')) return fromClutchShafts(drive, held.values, clutches);
    const road = outputOf(drive);
    if (isRefusal(road)) return refuse(`no clutch slip: ${road.reason}`, road.missing);
    const gear = input === 'engineSpeed' ? closedOnly(drive, held.values) : held.values;
    const n = inputOf(drive, input);
    const side = sideOf(drive, { id: input, values: n }, road, gear);
    const fitted = learnedOf(drive, input, road.id);
    const learned = plausible(drive, held, ratiosOf(drive, { ...held, values: gear }, n, side.values, fitted));
    const ratios = road.id === 'outputShaftSpeed' ? byProfile(drive, held, learned) : learned;
    const rows = measuredRows(drive, input, road.hz, road.fresh);
    const sides = picked(drive, rows.row, gear, n);
    const { output, u } = outputsOf(sides, ratios, side, {
      input: drive.channel(input)!.quality.quantum,
      output: road.quantum,
      tyreU: road.tyreU,
    });
    const basis = road.id === 'outputShaftSpeed' ? 'shafts' : 'wheels';
    const pair = {
      at: sides.at,
      input: sides.input,
      output: valuesAt(side.values, rows.row),
      quantum: road.quantum,
    };
    return {
      row: sides.row,
      gear: sides.gear,
      input: sides.input,
      slip: slipOf(sides, output, u),
      u,
      clutch: new Map(),
      stray: strays(pair, held.source === 'ratio' ? ratios : new Map(), LOWEST_GEAR[basis]),
      basis,
      source: `${input === 'engineSpeed' ? 'engine speed' : 'input shaft'} against ${road.words}`,
      hz: rows.hz,
      channels: [input, road.channel],
    };
  },
});

/** Measurements of the input side, one entry each. */
interface Sides extends Pick<ClutchSlip, 'row' | 'gear' | 'input'> {
  /** s */
  readonly at: Float64Array;
}

/**
 * Output side times the ratio of the gear, rpm, and standard uncertainty of the difference to the input side, by quanta,
 * ratio, lag and tyre slip (JCGM 100, 5.1); NaN and 0 in a gear without a ratio.
 */
function outputsOf(
  { row, gear }: Sides,
  ratios: ReadonlyMap<number, Ratio>,
  { values, lagU, slope }: Side,
  doubt: { readonly input: number; readonly output: number; readonly tyreU: number },
): { readonly output: Float64Array; readonly u: Float64Array } {
  const output = new Float64Array(row.length).fill(Number.NaN);
  const u = new Float64Array(row.length);
  let last = Number.NaN;
  let ratio: Ratio | undefined;
  for (let k = 0; k < output.length; k++) {
    const g = gear[k]!;
    if (g !== last) {
      last = g;
      ratio = ratios.get(g);
    }
    if (ratio === undefined) continue;
    const i = row[k]!;
    const v = values[i]!;
    const rate = slope(i);
    output[k] = ratio.value * v;
    u[k] = Math.sqrt(
      doubt.input ** 2 / 12 +
        (ratio.value * doubt.output) ** 2 / 12 +
        (ratio.u * v) ** 2 +
        (lagU * ratio.value * rate) ** 2 +
        (ratio.value * doubt.tyreU * rate * v) ** 2,
    );
  }
  return { output, u };
}

/** Engine speed tells of the clutches behind a converter only while its own clutch is closed, and half a second later. */
function closedOnly(drive: Drive, gear: Float64Array): Float64Array {
  const state = samplesOf(drive).held('converterClutchState');
  if (state === undefined) return gear;
  let since = Number.POSITIVE_INFINITY;
  return gear.map((g, i) => {
    if (state[i]! >= 2) since = Math.min(since, drive.time[i]!);
    else since = Number.POSITIVE_INFINITY;
    return drive.time[i]! - since >= 0.5 ? g : Number.NaN;
  });
}

function fromClutchShafts(drive: Drive, gear: Float64Array, ids: readonly string[]): ClutchSlip {
  const samples = samplesOf(drive);
  const n = inputOf(drive, 'engineSpeed');
  const rows = measuredRows(drive, 'engineSpeed', Math.min(...ids.map((id) => samples.hz(id))), samples.fresh(ids[0]!));
  const sides = ids.map((id) =>
    sideOf(drive, { id: 'engineSpeed', values: n }, { id, values: inputOf(drive, id) }, gear),
  );
  const clutch = carriers(
    rows.row,
    gear,
    n,
    sides.map((side) => side.values),
  );
  const output = new Float64Array(rows.row.length).fill(Number.NaN);
  const u = new Float64Array(rows.row.length);
  for (let k = 0; k < output.length; k++) {
    const i = rows.row[k]!;
    const which = clutch.get(gear[i]!);
    if (which === undefined) continue;
    const side = sides[which - 1]!;
    output[k] = side.values[i]!;
    const step = drive.channel(ids[which - 1]!)!.quality.quantum;
    u[k] = Math.sqrt(
      (step ** 2 + drive.channel('engineSpeed')!.quality.quantum ** 2) / 12 + (side.lagU * side.slope(i)) ** 2,
    );
  }
  const both = picked(drive, rows.row, gear, n);
  return {
    row: both.row,
    gear: both.gear,
    input: both.input,
    slip: slipOf(both, output, u),
    u,
    clutch,
    stray: new Uint8Array(rows.row.length),
    basis: 'shafts',
    source: 'engine speed against the shaft of each clutch',
    hz: rows.hz,
    channels: ['engineSpeed', ...ids],
  };
}

/** Input less output side, NaN where the clutch is still taken up or the car hardly moves. */
function slipOf({ at, gear, input }: Sides, output: Float64Array, u: Float64Array): Float64Array {
  const taking = takeUps({ at, gear, input, output, u });
  const slip = new Float64Array(output.length);
  for (let k = 0; k < slip.length; k++)
    slip[k] = output[k]! >= TAKEN_UP && taking[k] === 0 ? input[k]! - output[k]! : Number.NaN;
  return slip;
}

/** A shaft speed row by row, drawn between its samples where rows are more. */
function inputOf(drive: Drive, id: string): Float64Array {
  const samples = samplesOf(drive);
  return lined(drive, samples.held(id)!, samples.fresh(id), samples.hz(id));
}

/** Of each gear the clutch whose shaft runs with the engine (smallest median difference); works for any numbering. */
function carriers(
  row: Int32Array,
  gear: Float64Array,
  n: Float64Array,
  shafts: readonly Float64Array[],
): Map<number, number> {
  const byGear = new Map<number, number[][]>();
  for (let k = 0; k < row.length; k++) {
    const i = row[k]!;
    const g = gear[i]!;
    if (Number.isNaN(g) || !(n[i]! > 500)) continue;
    let lists = byGear.get(g);
    if (lists === undefined) {
      lists = [[], []];
      byGear.set(g, lists);
    }
    for (let c = 0; c < 2; c++) lists[c]!.push(Math.abs(n[i]! - shafts[c]![i]!));
  }
  const found = new Map<number, number>();
  for (const [g, lists] of byGear) {
    const [a, b] = [median(lists[0]!), median(lists[1]!)];
    if (!Number.isNaN(a) && !Number.isNaN(b)) found.set(g, a <= b ? 1 : 2);
  }
  return found;
}

function measuredRows(drive: Drive, input: string, hz: number, fresh: Int32Array): { row: Int32Array; hz: number } {
  const samples = samplesOf(drive);
  const own = samples.hz(input);
  return own <= hz ? { row: samples.fresh(input), hz: own } : { row: fresh, hz };
}

function picked(drive: Drive, row: Int32Array, gear: Float64Array, input: Float64Array): Sides {
  return { row, at: valuesAt(drive.time, row), gear: valuesAt(gear, row), input: valuesAt(input, row) };
}
