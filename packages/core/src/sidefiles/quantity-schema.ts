import * as z from 'zod';
import { convert, type PhysicalQuantity, parseQuantity, UnitError } from '../units/index.js';

/** `{ value, unit }` or `'120 degC'`; a bare number is refused, because a number never travels without its unit. */
function written(example: string) {
  const [value = '', unit = ''] = example.split(' ');
  return z.union([z.string(), z.strictObject({ value: z.number(), unit: z.string() })], {
    error: (issue) =>
      `found ${show(issue.input)}, expected a quantity: '${example}' or { value: ${value}, unit: ${unit} }`,
  });
}

/**
 * A quantity in the given unit, as a number of that unit.
 * @param unit unit id of the result; @param example shown in the message; @param range plausible values, inclusive.
 */
export function quantityIn(unit: string, example: string, range: readonly [number, number]) {
  return written(example).transform((given, context): number => {
    const parsed = quantityOf(given);
    const value = parsed === undefined ? undefined : converted(parsed, unit);
    if (value === undefined || !Number.isFinite(value)) {
      context.addIssue({
        code: 'custom',
        message: `found ${show(given)}, expected a quantity convertible to ${unit}, e.g. '${example}'`,
      });
      return z.NEVER;
    }
    if (value < range[0] || value > range[1]) {
      context.addIssue({
        code: 'custom',
        message: `found ${show(given)}, expected ${range[0]} to ${range[1]} ${unit}`,
      });
      return z.NEVER;
    }
    return value;
  });
}

/** A quantity of any unit, kept as written; used where the rule knows the unit. */
export const ANY_QUANTITY = written('120 degC').transform((given, context): { value: number; unit: string } => {
  const parsed = quantityOf(given);
  if (parsed === undefined) {
    context.addIssue({
      code: 'custom',
      message: `found ${show(given)}, expected a number with a unit, e.g. '120 degC'`,
    });
    return z.NEVER;
  }
  return parsed;
});

/** Undefined for what is no quantity. */
function quantityOf(given: unknown): PhysicalQuantity | undefined {
  try {
    return parseQuantity(given);
  } catch (error) {
    if (error instanceof UnitError) return undefined;
    throw error;
  }
}

function converted(quantity: { value: number; unit: string }, unit: string): number | undefined {
  try {
    return convert(quantity.value, quantity.unit, unit);
  } catch {
    return undefined;
  }
}

function show(value: unknown): string {
  if (value === undefined) return 'nothing';
  const text = JSON.stringify(value) ?? String(value);
  return text.length > 60 ? `${text.slice(0, 57)}…` : text;
}
