import { converter, type Quantity } from '../units/index.js';
import type { ChannelDefinition } from './definition.js';

export interface UnitInference {
  /** The one unit that fits; absent when several or none do. */
  readonly unit: string | undefined;
  /** The units between which the values do not decide; empty when `unit` is given. */
  readonly candidates: readonly string[];
  /** Why, in one sentence. */
  readonly reason: string;
}

function one(unit: string, reason: string): UnitInference {
  return { unit, candidates: [], reason };
}

function several(units: readonly string[]): UnitInference {
  return { unit: undefined, candidates: units, reason: `the values fit ${units.join(' and ')}` };
}

/** Units that sources write without saying so; the catalogue unit comes first by itself. */
const USUAL: Partial<Record<Quantity, readonly string[]>> = {
  temperature: ['degC', 'degF', 'K'],
  pressure: ['kPa', 'bar', 'mbar', 'psi', 'MPa', 'Pa', 'inHg'],
  speed: ['km/h', 'mph', 'm/s'],
  ratio: ['%', 'fraction', 'raw8'],
  mixture: ['1', 'AFR'],
  voltage: ['V', 'mV'],
  current: ['A', 'mA'],
  'mass-flow': ['g/s', 'kg/h', 'lb/min'],
  'volume-flow': ['L/h', 'L/min', 'cc/min'],
  torque: ['N.m', 'lb-ft'],
  time: ['s', 'ms', 'us', 'min'],
  length: ['m', 'km', 'mile'],
  angle: ['deg', 'rad'],
  acceleration: ['m/s2', 'gn'],
  'mass-per-stroke': ['mg/stroke', 'g/stroke'],
};

/** Base ratio used only to tell AFR from lambda; the reader confirms the real one from closed-loop cruise. */
const USUAL_AFR = 14.7;
/** Standard atmosphere (ISO 2533), kPa, stands in for the barometer while units are told apart. */
const ATMOSPHERE = 101.325;

interface Spread {
  readonly low: number;
  readonly median: number;
  readonly high: number;
  readonly distinct: number;
  readonly integer: boolean;
  /** Smallest distance between two different values; 0 when there is one value. */
  readonly step: number;
}

/** 0.5th, 50th and 99.5th percentile of the finite samples without sentinels; NaN is no sample; undefined when empty. */
function spread(definition: ChannelDefinition, values: Float64Array): Spread | undefined {
  const kept: number[] = [];
  const never = new Set(definition.sentinels.filter((s) => s.when !== 'constant').map((s) => s.value));
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isFinite(x) && !never.has(x)) kept.push(x);
  }
  if (kept.length === 0) return undefined;
  const sorted = Float64Array.from(kept).sort();
  const at = (p: number): number => sorted[Math.round(p * (sorted.length - 1))]!;
  const seen = new Set<number>();
  let integer = true;
  for (let i = 0; i < sorted.length && (integer || seen.size < 8); i++) {
    seen.add(sorted[i]!);
    if (!Number.isInteger(sorted[i]!)) integer = false;
  }
  let step = 0;
  for (let i = 1; i < sorted.length; i++) {
    const gap = sorted[i]! - sorted[i - 1]!;
    if (gap > 1e-9 && (step === 0 || gap < step)) step = gap;
  }
  return { low: at(0.005), median: at(0.5), high: at(0.995), distinct: seen.size, integer, step };
}

function inside(value: number, band: readonly [number, number] | undefined): boolean {
  return band === undefined || (value >= band[0] && value <= band[1]);
}

interface Fit {
  /** Inside the plausible range. */
  readonly plausible: boolean;
  /** And as a normal recording looks. */
  readonly typical: boolean;
}

function fit(definition: ChannelDefinition, s: Spread, unit: string, shift: number): Fit {
  const to = converter(
    unit,
    definition.unit === '1' && definition.quantity === 'mixture' ? 'lambda' : definition.unit,
    {
      afrBase: USUAL_AFR,
    },
  );
  const [low, median, high] = [to(s.low) + shift, to(s.median) + shift, to(s.high) + shift];
  const plausible = inside(low, definition.range) && inside(high, definition.range);
  return {
    plausible,
    typical: plausible && inside(median, definition.typical?.median) && inside(high, definition.typical?.peak),
  };
}

/** A correction is never logged coarser than 2 % (J1979: 0.78 %), and one beyond 40 % is at its authority. */
const COARSEST_CORRECTION = 0.02;
const LARGEST_CORRECTION = 0.4;

/** No mixture control holds its short correction within this much of a per cent while it works (common practice, no source). */
const CALMEST_TRIM = 0.2;

/** A signed correction within -1 and 1: a healthy trim in per cent, or a fraction. Its steps tell. */
function inferSmallCorrection(definition: ChannelDefinition, s: Spread, size: number): UnitInference {
  if (s.step >= COARSEST_CORRECTION) return one('%', 'the values move in steps too coarse for a fraction');
  if (size > LARGEST_CORRECTION) return one('%', 'as a fraction the correction would be beyond any authority');
  if (
    definition.id.startsWith('fuelTrimShort') &&
    s.distinct >= 8 &&
    size >= COARSEST_CORRECTION &&
    size <= CALMEST_TRIM
  )
    return one('fraction', 'in per cent the short trim would hold the mixture closer than any control does');
  return several(['%', 'fraction']);
}

/** Per cent, a fraction of one, a raw byte or a factor around one. */
function inferRatio(definition: ChannelDefinition, s: Spread): UnitInference {
  const size = Math.max(Math.abs(s.low), Math.abs(s.high));
  if (size === 0) return one('%', 'all values are 0');
  if (definition.range[0] < 0 && s.low > 0.5 && s.high < 1.6 && s.distinct > 2 && Math.abs(s.median - 1) < 0.3) {
    return one('factor', 'the values lie around 1 and never near 0: a multiplier');
  }
  const step = definition.resolution ?? 0;
  if (size <= 1) {
    if (definition.range[0] < -20) return inferSmallCorrection(definition, s, size);
    // A coded per cent moves in steps of its resolution; a value between zero and one step is none of them.
    if (size < step || (definition.typical?.peak?.[0] ?? 0) > 1) {
      return one('fraction', 'the values stay within 0 and 1');
    }
    return several(['%', 'fraction']);
  }
  if (s.low >= definition.range[0] && s.high <= definition.range[1]) return one('%', 'the values are plausible in %');
  if (s.low >= 0 && s.high <= 255 && s.integer) return one('raw8', 'whole numbers up to 255');
  return several(['%', 'raw8']);
}

/**
 * The unit of a column that names none, from its values: the catalogue unit when the values look normal in it;
 * otherwise the one usual unit in which they do. Two that fit, or none, leave `unit` undefined. `gauge` = the heading says that
 * the pressure is relative. NaN is ignored; without samples the catalogue unit is returned.
 */
export function inferUnit(definition: ChannelDefinition, values: Float64Array, gauge?: boolean): UnitInference {
  const s = spread(definition, values);
  if (s === undefined || definition.kind === 'state' || definition.kind === 'flag' || definition.kind === 'counter') {
    return one(definition.unit, 'the unit of the catalogue');
  }
  if (definition.quantity === 'ratio') return inferRatio(definition, s);
  const shift =
    definition.quantity !== 'pressure' || definition.gauge !== false ? 0 : gauge === true || s.low < 0 ? ATMOSPHERE : 0;
  const own = fit(definition, s, definition.unit, shift);
  const others = (USUAL[definition.quantity] ?? []).filter((unit) => unit !== definition.unit);
  const typical = others.filter((unit) => fit(definition, s, unit, shift).typical);
  const ownMedian = definition.typical?.median;
  // A short or cold recording is low, not foreign: only too high a value speaks against the catalogue unit of a
  // temperature.
  const tooHigh = definition.typical?.peak !== undefined && s.high > definition.typical.peak[1];
  const normal =
    definition.quantity === 'temperature' ? own.plausible && inside(s.median, ownMedian) && !tooHigh : own.typical;
  if (normal) return one(definition.unit, `the values are plausible in ${definition.unit}`);
  const ownPossible = own.plausible && inside(s.median + shift, ownMedian);
  if (typical.length === 0) {
    if (own.plausible)
      return one(definition.unit, `the values are possible in ${definition.unit} and in no other usual unit`);
    const plausible = others.filter((unit) => fit(definition, s, unit, shift).plausible);
    if (plausible.length === 1) return one(plausible[0]!, `the values are possible only in ${plausible[0]}`);
    return plausible.length === 0
      ? { unit: undefined, candidates: [], reason: 'the values are possible in no usual unit' }
      : several(plausible);
  }
  if (typical.length === 1 && !ownPossible) return one(typical[0]!, `the values are plausible only in ${typical[0]}`);
  return several(ownPossible ? [definition.unit, ...typical] : typical);
}

/**
 * Whether an absolute-pressure channel was logged relative to ambient. Values in the catalogue unit (kPa). A manifold
 * is never above ambient at idle and charge pressure never far below it, which tells the two apart.
 */
export function inferGauge(
  definition: ChannelDefinition,
  values: Float64Array,
): { readonly gauge: boolean } | { readonly ambiguous: true } {
  if (definition.quantity !== 'pressure' || definition.gauge === undefined) return { ambiguous: true };
  if (definition.gauge) return { gauge: true };
  const s = spread(definition, values);
  if (s === undefined) return { ambiguous: true };
  if (s.low < -1) return { gauge: true };
  if (definition.id.startsWith('manifold')) return s.low > 5 ? { gauge: false } : { ambiguous: true };
  // Charge, ambient and exhaust pressure: about one atmosphere at rest.
  if (s.low >= 60) return { gauge: false };
  return s.low < 30 ? { gauge: true } : { ambiguous: true };
}

/**
 * Whether a column is written with the opposite sign of the catalogue's convention (knock retard as negative angle).
 * Only for channels whose values have one sign by nature.
 */
export function inferSign(
  definition: ChannelDefinition,
  values: Float64Array,
): { readonly flip: boolean } | { readonly ambiguous: true } {
  if (!definition.id.startsWith('knock')) return { flip: false };
  let positive = 0;
  let negative = 0;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (x > 0) positive += x;
    else if (x < 0) negative -= x;
  }
  const total = positive + negative;
  if (total === 0) return { flip: false };
  // One sign carries nearly everything: sensors of the other sign are noise or learned advance.
  if (positive >= 0.95 * total) return { flip: false };
  if (negative >= 0.95 * total) return { flip: true };
  return { ambiguous: true };
}
