import { median } from '../math/quantile.js';
import { lagOf } from './aligned.js';
import { DRIVEN_SPEED, type DrivenSpeed } from './driven-speed.js';
import { FUEL_CUT } from './fuel-cut.js';
import { SHIFTS } from './gear-shifts.js';
import { HELD_GEAR, type HeldGear } from './held-gear.js';
import { LOAD_FRACTION } from './load-fraction.js';
import { type Drive, isRefusal, type Refusal, recipe, refuse } from './recipe.js';
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
  /** Measurements per second. */
  readonly hz: number;
  /** Channels read. */
  readonly channels: readonly string[];
}

/** Input side below this, in rpm, and the car may still be taken up from rest. Common practice, no source. */
const TAKEN_UP = 1100;
/** Seconds of overrun (else of light load) that a gear's ratio is learned from. */
const LEARN = 1.5;

export const CLUTCH_SLIP = recipe<ClutchSlip>({
  id: 'clutchSlip',
  about:
    'Slip of the clutch that carries, rpm: logged, else engine less clutch shaft, else input less output shaft x ratio, else engine less wheel speed x ratio; ratios learned on overrun and light load; lag of the pair taken out.',
  compute(drive) {
    const held = drive.derive(HELD_GEAR);
    if (isRefusal(held)) return refuse(`no clutch slip: ${held.reason}`, held.missing);
    const samples = samplesOf(drive);
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
    const side = sideOf(drive, input, road.values, road.id, gear);
    const ratios = plausible(drive, held, ratiosOf(drive, gear, samples.held(input)!, side.values));
    const rows = measuredRows(drive, input, road.hz, road.fresh);
    const slip = new Float64Array(rows.row.length).fill(Number.NaN);
    const u = new Float64Array(rows.row.length);
    const n = samples.held(input)!;
    const { quantum } = drive.channel(input)!.quality;
    for (let k = 0; k < slip.length; k++) {
      const i = rows.row[k]!;
      const ratio = ratios.get(gear[i]!);
      const output = ratio === undefined ? Number.NaN : ratio.value * side.values[i]!;
      if (!(output >= TAKEN_UP)) continue;
      slip[k] = n[i]! - output;
      u[k] = Math.sqrt(
        quantum ** 2 / 12 +
          (ratio!.value * road.quantum) ** 2 / 12 +
          (ratio!.u * side.values[i]!) ** 2 +
          (side.lagU * ratio!.value * side.slope(i)) ** 2,
      );
    }
    const basis = road.id === 'outputShaftSpeed' ? 'shafts' : 'wheels';
    return {
      ...picked(rows.row, gear, n),
      slip,
      u,
      clutch: new Map(),
      basis,
      source: `${input === 'engineSpeed' ? 'engine speed' : 'input shaft'} against ${road.words}`,
      hz: rows.hz,
      channels: [input, road.channel],
    };
  },
});

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
  const n = samples.held('engineSpeed')!;
  const rows = measuredRows(drive, 'engineSpeed', Math.min(...ids.map((id) => samples.hz(id))), samples.fresh(ids[0]!));
  const sides = ids.map((id) => sideOf(drive, 'engineSpeed', samples.held(id)!, id, gear));
  const clutch = carriers(
    rows.row,
    gear,
    n,
    sides.map((side) => side.values),
  );
  const slip = new Float64Array(rows.row.length).fill(Number.NaN);
  const u = new Float64Array(rows.row.length);
  for (let k = 0; k < slip.length; k++) {
    const i = rows.row[k]!;
    const which = clutch.get(gear[i]!);
    if (which === undefined) continue;
    const side = sides[which - 1]!;
    if (!(side.values[i]! >= TAKEN_UP)) continue;
    slip[k] = n[i]! - side.values[i]!;
    const step = drive.channel(ids[which - 1]!)!.quality.quantum;
    u[k] = Math.sqrt(
      (step ** 2 + drive.channel('engineSpeed')!.quality.quantum ** 2) / 12 + (side.lagU * side.slope(i)) ** 2,
    );
  }
  return {
    ...picked(rows.row, gear, n),
    slip,
    u,
    clutch,
    basis: 'shafts',
    source: 'engine speed against the shaft of each clutch',
    hz: rows.hz,
    channels: ['engineSpeed', ...ids],
  };
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

interface Ratio {
  readonly value: number;
  /** Standard uncertainty, and scatter of the samples. */
  readonly u: number;
  readonly spread: number;
}

interface Side {
  /** Output side, row by row, lag against the input taken out. */
  readonly values: Float64Array;
  /** Standard uncertainty of the lag, s. */
  readonly lagU: number;
  /** Absolute rate of change at a row, per s. */
  readonly slope: (row: number) => number;
}

function sideOf(drive: Drive, input: string, values: Float64Array, id: string, gear: Float64Array): Side {
  const { time } = drive;
  const samples = samplesOf(drive);
  const interval = 1 / Math.min(samples.hz(input), samples.hz(id));
  const reach = Math.max(1, Math.round(0.3 / samples.spacing));
  const rate = (i: number): number => {
    const a = Math.max(0, i - reach);
    const b = Math.min(values.length - 1, i + reach);
    const found = (values[b]! - values[a]!) / (time[b]! - time[a]!);
    return Number.isFinite(found) ? found : 0;
  };
  const lag = overrunLag(drive, samples.held(input)!, values, gear) ?? pairLag(drive, input, id);
  const lagU = lag === undefined ? 0.5 * interval : Math.max(lag.u, 0.03 * interval);
  const moved =
    lag === undefined || Math.abs(lag.seconds) < 0.002
      ? values
      : values.map((_x, i) => later(time, values, i, lag.seconds));
  return { values: moved, lagU, slope: (i) => Math.abs(rate(i)) };
}

/** Value at `seconds` after row i, linear between rows; NaN beyond the recording or over a gap. */
function later(time: Float64Array, values: Float64Array, i: number, seconds: number): number {
  const t = time[i]! + seconds;
  let k = i;
  if (seconds >= 0) while (k + 1 < time.length && time[k + 1]! <= t) k++;
  else while (k > 0 && time[k]! > t) k--;
  const a = time[k]!;
  if (t === a) return values[k]!;
  const b = time[k + 1];
  if (b === undefined || t < a || b - a > 2) return Number.NaN;
  return values[k]! + ((values[k + 1]! - values[k]!) * (t - a)) / (b - a);
}

/** Farthest lag looked for and step of the search, s. */
const FARTHEST = 0.6;
const SEARCH = 0.04;

/**
 * On overrun no clutch slips: the lag is the shift at which input / output scatters least within gears (least squares
 * over a grid, parabola through the lowest three). Its uncertainty follows from the curvature, JCGM 100 5.1. Undefined
 * without enough overrun, or when the scatter hardly depends on the shift.
 */
function overrunLag(
  drive: Drive,
  n: Float64Array,
  out: Float64Array,
  gear: Float64Array,
): { seconds: number; u: number } | undefined {
  const cut = drive.derive(FUEL_CUT);
  if (isRefusal(cut)) return undefined;
  const rows: number[] = [];
  for (let i = 0; i < n.length; i++)
    if (cut.mask[i] === 1 && !Number.isNaN(gear[i]!) && out[i]! > 0 && n[i]! >= TAKEN_UP) rows.push(i);
  if (rows.length < 40) return undefined;
  // Two thousand rows tell as much as all of them.
  const stride = Math.max(1, Math.floor(rows.length / 2000));
  const steps = Math.round(FARTHEST / SEARCH);
  const scatter = new Float64Array(2 * steps + 1);
  let count = 0;
  for (let s = -steps; s <= steps; s++) {
    const byGear = new Map<number, number[]>();
    for (let k = 0; k < rows.length; k += stride) {
      const i = rows[k]!;
      const x = Math.log(n[i]! / later(drive.time, out, i, s * SEARCH));
      const list = byGear.get(gear[i]!);
      if (list === undefined) byGear.set(gear[i]!, [x]);
      else list.push(x);
    }
    let total = 0;
    count = 0;
    for (const list of byGear.values()) {
      const middle = median(list);
      for (const x of list) {
        // Bounded: a shift that was not seen must not rule the fit.
        if (!Number.isFinite(x)) continue;
        total += Math.min(Math.abs(x - middle), 0.06) ** 2;
        count++;
      }
    }
    scatter[s + steps] = total;
  }
  let best = 0;
  for (let k = 1; k < scatter.length; k++) if (scatter[k]! < scatter[best]!) best = k;
  const left = scatter[best - 1];
  const right = scatter[best + 1];
  if (left === undefined || right === undefined) return undefined;
  const curve = (left - 2 * scatter[best]! + right) / SEARCH ** 2;
  if (!(curve > 0)) return undefined;
  // Neighbouring rows share their error: one in five counts.
  const u = Math.sqrt((2 * 5 * scatter[best]!) / count / curve);
  return u < 0.06 ? { seconds: (best - steps) * SEARCH + (0.5 * (left - right)) / (curve * SEARCH), u } : undefined;
}

function pairLag(drive: Drive, input: string, id: string): { seconds: number; u: number } | undefined {
  const shifts = drive.derive(SHIFTS);
  const lag = lagOf(drive, input, id, isRefusal(shifts) ? [] : shifts);
  return isRefusal(lag) || Math.abs(lag.seconds) > 0.6 ? undefined : { seconds: lag.seconds, u: lag.uncertainty };
}

interface Output extends Pick<DrivenSpeed, 'values' | 'channel' | 'words' | 'hz' | 'quantum' | 'fresh'> {
  readonly id: string;
}

/** Output shaft, else the driven wheels (their creep on the road then does not matter), else the road speed. */
function outputOf(drive: Drive): Output | Refusal {
  const id = 'outputShaftSpeed';
  if (usable(drive, id)) {
    const samples = samplesOf(drive);
    const { quantum } = drive.channel(id)!.quality;
    const values = samples.held(id)!;
    return {
      values,
      id,
      channel: id,
      words: 'the output shaft',
      hz: samples.hz(id),
      quantum,
      fresh: samples.fresh(id),
    };
  }
  const speed = drive.derive(DRIVEN_SPEED);
  return isRefusal(speed) ? speed : { ...speed, id: speed.channel };
}

/**
 * Ratio input / output of each gear: median on overrun, where no clutch is asked for torque, else over the lowest
 * third of light load. A gear with too little of both has none.
 */
function ratiosOf(drive: Drive, gear: Float64Array, n: Float64Array, out: Float64Array): Map<number, Ratio> {
  const load = drive.derive(LOAD_FRACTION);
  const cut = drive.derive(FUEL_CUT);
  const samples = samplesOf(drive);
  const over = new Map<number, number[]>();
  const light = new Map<number, number[]>();
  for (let i = 0; i < gear.length; i++) {
    const g = gear[i]!;
    if (Number.isNaN(g) || !(out[i]! > 0) || !(n[i]! >= TAKEN_UP)) continue;
    const list =
      !isRefusal(cut) && cut.mask[i] === 1 ? over : isRefusal(load) || load.cruiseLow[i] === 1 ? light : undefined;
    if (list === undefined) continue;
    const found = list.get(g);
    if (found === undefined) list.set(g, [n[i]! / out[i]!]);
    else found.push(n[i]! / out[i]!);
  }
  const least = LEARN / samples.spacing;
  const ratios = new Map<number, Ratio>();
  for (const g of new Set([...over.keys(), ...light.keys()])) {
    const some = over.get(g) ?? [];
    const more = light.get(g) ?? [];
    const list = some.length >= least ? some : more;
    if (list.length < least) continue;
    const value = median(list);
    const spread = 1.4826 * median(list.map((x) => Math.abs(x - value)));
    ratios.set(g, { value, spread, u: Math.max(spread / Math.sqrt(Math.min(list.length, 25)), 0.0005 * value) });
  }
  return ratios;
}

/**
 * Ratios whose samples scatter are none. Where the profile names the gears, overall ratio / gear ratio must be the same
 * for all; one that is off by more than 2 % was learned in some other state and is replaced by what the others say.
 */
function plausible(drive: Drive, held: HeldGear, ratios: Map<number, Ratio>): Map<number, Ratio> {
  for (const [g, ratio] of ratios) if (ratio.spread > 0.015 * ratio.value) ratios.delete(g);
  const gears = drive.vehicle.transmission.gears;
  if (gears === undefined || !held.numbered) return ratios;
  const overall = median([...ratios].map(([g, ratio]) => ratio.value / (gears[g - 1] ?? Number.NaN)));
  for (const [g, { value }] of ratios) {
    const expected = overall * (gears[g - 1] ?? Number.NaN);
    if (Math.abs(value / expected - 1) > 0.02) ratios.set(g, { value: expected, u: 0.01 * expected, spread: 0 });
  }
  return ratios;
}

function measuredRows(drive: Drive, input: string, hz: number, fresh: Int32Array): { row: Int32Array; hz: number } {
  const samples = samplesOf(drive);
  const own = samples.hz(input);
  return own <= hz ? { row: samples.fresh(input), hz: own } : { row: fresh, hz };
}

function picked(row: Int32Array, gear: Float64Array, input: Float64Array) {
  const gears = new Float64Array(row.length);
  const inputs = new Float64Array(row.length);
  for (let k = 0; k < row.length; k++) {
    gears[k] = gear[row[k]!]!;
    inputs[k] = input[row[k]!]!;
  }
  return { row, gear: gears, input: inputs };
}

function usable(drive: Drive, id: string): boolean {
  const channel = drive.channel(id);
  return channel !== undefined && channel.quality.samples >= 10 && !channel.quality.constant;
}
