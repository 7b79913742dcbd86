/**
 * The one door through which numbers leave: every non-integer is rounded to 6 significant digits, so that the last
 * bit in which floating-point functions differ between engines never shows. Limits were compared before.
 */
export function toJson(document: unknown): string {
  return `${JSON.stringify(document, (_key, value: unknown) => (typeof value === 'number' ? rounded(value) : value), 2)}\n`;
}

/** 6 significant digits; integers as they are; not finite -> null; -0 -> 0. */
export function rounded(value: number): number | null {
  if (!Number.isFinite(value)) return null;
  if (Number.isInteger(value)) return value === 0 ? 0 : value;
  return Number(value.toPrecision(6));
}
