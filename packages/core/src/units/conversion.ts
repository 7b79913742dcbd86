import { findUnit, unitById } from './spelling.js';
import { UNITS } from './table.js';
import { type Quantity, type Unit, UnitError } from './unit.js';

export interface ConversionOptions {
  /** Air-fuel ratio that the display calls lambda 1; needed for every conversion from or to AFR, never assumed. */
  readonly afrBase?: number;
}

function resolve(unit: string | Unit): Unit {
  if (typeof unit !== 'string') return unit;
  const found = unitById(unit) ?? findUnit(unit);
  if (found === undefined) {
    throw new UnitError(`unknown unit '${unit.slice(0, 40)}'; expected one of ${UNITS.map((u) => u.id).join(', ')}`);
  }
  return found;
}

/** `1` is lambda when the other side is a mixture. */
function pair(from: Unit, to: Unit): readonly [Unit, Unit] {
  const lambda = unitById('lambda')!;
  if (from.id === '1' && to.quantity === 'mixture') return [lambda, to];
  if (to.id === '1' && from.quantity === 'mixture') return [from, lambda];
  if (from.id === '1' && to.quantity === 'ratio') return [unitById('fraction')!, to];
  if (to.id === '1' && from.quantity === 'ratio') return [from, unitById('fraction')!];
  return [from, to];
}

function scaled(unit: Unit, options: ConversionOptions): { factor: number; divisor: number } {
  if (unit.id !== 'AFR') return unit;
  const base = options.afrBase;
  if (base === undefined || !(base > 0)) {
    throw new UnitError(
      'an air-fuel ratio needs the base ratio that the display divides by (usually 14.7); found none; give `afrBase`',
    );
  }
  return { factor: 1, divisor: base };
}

/**
 * A function from one unit to another (ids or any spelling). NaN stays NaN. Gauge and absolute pressure are not
 * exchanged here: that needs the barometric pressure and is done where it is known.
 * @throws {UnitError} unknown unit, different quantities, AFR without its base
 */
export function converter(
  from: string | Unit,
  to: string | Unit,
  options: ConversionOptions = {},
): (value: number) => number {
  const [a, b] = pair(resolve(from), resolve(to));
  if (a.quantity !== b.quantity) {
    throw new UnitError(
      `cannot convert ${a.id} (${a.quantity}) to ${b.id} (${b.quantity}); expected a unit of ${b.quantity}`,
    );
  }
  if (a.id === b.id) return (value) => value;
  const source = scaled(a, options);
  const target = scaled(b, options);
  const multiply = source.factor * target.divisor;
  const divide = source.divisor * target.factor;
  const before = a.offset;
  const after = b.offset;
  if (a.reciprocal === true || b.reciprocal === true) {
    return (value) => {
      const base = ((a.reciprocal === true ? 1 / value : value) * source.factor) / source.divisor;
      const out = (base * target.divisor) / target.factor;
      return b.reciprocal === true ? 1 / out : out;
    };
  }
  return (value) => ((value + before) * multiply) / divide - after;
}

/**
 * Converts one value; see `converter`.
 * @throws {UnitError}
 */
export function convert(
  value: number,
  from: string | Unit,
  to: string | Unit,
  options: ConversionOptions = {},
): number {
  return converter(from, to, options)(value);
}

/** A number with the unit it is in (unit id). */
export interface PhysicalQuantity {
  readonly value: number;
  readonly unit: string;
  readonly gauge?: boolean;
}

const NUMBER = /^[+-]?(?:\d{1,20}(?:\.\d{0,20})?|\.\d{1,20})(?:e[+-]?\d{1,3})?/i;

/**
 * Reads `'120 degC'`, `'3.2 L'` or `{ value, unit }`; a bare number is dimensionless. `expected` settles spellings with
 * two meanings and is checked.
 * @throws {UnitError} not a number, unknown unit, wrong quantity
 */
export function parseQuantity(input: unknown, expected?: Quantity): PhysicalQuantity {
  let value: unknown;
  let unitText: string;
  if (typeof input === 'number') {
    value = input;
    unitText = '1';
  } else if (typeof input === 'string') {
    const text = input.slice(0, 80).trim();
    const number = NUMBER.exec(text)?.[0];
    if (number === undefined) throw new UnitError(`found '${text}', expected a number and a unit such as '120 degC'`);
    value = Number(number);
    unitText = text.slice(number.length).trim();
  } else if (typeof input === 'object' && input !== null && 'value' in input) {
    value = input.value;
    unitText = 'unit' in input && typeof input.unit === 'string' ? input.unit : '1';
  } else {
    throw new UnitError(
      `found ${input === null ? 'null' : typeof input}, expected '120 degC' or { value: 120, unit: degC }`,
    );
  }
  if (typeof value !== 'number' || !Number.isFinite(value)) {
    throw new UnitError(`found the value '${String(value).slice(0, 40)}', expected a finite number`);
  }
  const unit = (expected === undefined ? undefined : findUnit(unitText, expected)) ?? findUnit(unitText);
  if (unit === undefined) throw new UnitError(`unknown unit '${unitText.slice(0, 40)}' behind ${value}`);
  const dimensionless = unit.id === '1' && (expected === 'ratio' || expected === 'mixture' || expected === 'number');
  if (expected !== undefined && unit.quantity !== expected && !dimensionless) {
    throw new UnitError(`found ${value} ${unit.id} (${unit.quantity}), expected a unit of ${expected}`);
  }
  return { value, unit: unit.id, ...(unit.gauge === undefined ? {} : { gauge: unit.gauge }) };
}
