/** What a cell's text looks like as a number. Several decimals signs in one cell are no number (thousands separators). */
export const SHAPE = { none: 0, integer: 1, point: 2, comma: 3, thousands: 4 } as const;
export type Shape = (typeof SHAPE)[keyof typeof SHAPE];

function isDigit(code: number): boolean {
  return code >= 48 && code <= 57;
}

/**
 * Shape of a trimmed cell. Grammar: [+-] digits [.|, digits] [e[+-]digits], at least one digit in the mantissa. Hex,
 * `inf` and `nan` are not numbers. One pass, no regular expression.
 */
export function numberShape(text: string): Shape {
  const end = text.length;
  let at = 0;
  let code = text.charCodeAt(0);
  if (code === 43 || code === 45) code = text.charCodeAt(++at);
  let digits = 0;
  let points = 0;
  let commas = 0;
  let blanks = 0;
  let lastMark = -1;
  for (; at < end; at++) {
    code = text.charCodeAt(at);
    if (isDigit(code)) digits++;
    else if (code === 46) {
      points++;
      lastMark = at;
    } else if (code === 44) {
      commas++;
      lastMark = at;
    } else if ((code === 32 || code === 0xa0 || code === 0x202f || code === 39) && digits > 0) {
      if (!groupOfThree(text, at)) return SHAPE.none;
      blanks++;
    } else break;
  }
  if (digits === 0) return SHAPE.none;
  if (at < end) {
    if (code !== 69 && code !== 101) return SHAPE.none;
    at++;
    const sign = text.charCodeAt(at);
    if (sign === 43 || sign === 45) at++;
    if (at >= end) return SHAPE.none;
    for (; at < end; at++) if (!isDigit(text.charCodeAt(at))) return SHAPE.none;
  }
  if (points + commas + blanks === 0) return SHAPE.integer;
  if (blanks === 0 && points === 1 && commas === 0) return SHAPE.point;
  if (blanks === 0 && commas === 1 && points === 0) return SHAPE.comma;
  return grouped(text, lastMark) ? SHAPE.thousands : SHAPE.none;
}

/** Exactly three digits follow the mark at `at`, then no further digit. */
function groupOfThree(text: string, at: number): boolean {
  return (
    isDigit(text.charCodeAt(at + 1)) &&
    isDigit(text.charCodeAt(at + 2)) &&
    isDigit(text.charCodeAt(at + 3)) &&
    !isDigit(text.charCodeAt(at + 4))
  );
}

/** Every mark before the last one is followed by a group of three: `1.234.567`, `1,234.5`, but not a date `17.03.2024`. */
function grouped(text: string, last: number): boolean {
  for (let at = 0; at < text.length; at++) {
    const code = text.charCodeAt(at);
    if (code !== 46 && code !== 44) continue;
    if (at !== last || text.indexOf(text[at]!) !== at) if (!groupOfThree(text, at)) return false;
  }
  return true;
}

/** Number of a trimmed cell, the same double as `Number(text)`; NaN when empty, no number, or beyond the double range. */
export function parseNumber(text: string, decimal: '.' | ','): number {
  const shape = numberShape(text);
  if (shape === SHAPE.integer) return finite(Number(text));
  if (shape === SHAPE.point) return decimal === '.' ? finite(Number(text)) : NaN;
  if (shape === SHAPE.comma) return decimal === ',' ? finite(Number(text.replace(',', '.'))) : NaN;
  return NaN;
}

function finite(value: number): number {
  return Number.isFinite(value) ? value : NaN;
}

const NO_SAMPLE = new Set([
  'nan',
  '-nan',
  'nan(ind)',
  '-nan(ind)',
  'null',
  'nil',
  '(null)',
  '-',
  '--',
  '---',
  '----',
  '-----',
  '–',
  '—',
  'n/a',
  'na',
  '#n/a',
  'n.a.',
  'n.a',
  '?',
  'no data',
  'nodata',
  'undefined',
  '.',
]);

/** Cells that say "no sample" in words or signs. `inf` is counted as rejected, not as absent. */
export function isNoSample(trimmed: string): boolean {
  // None of them begins with a digit, and nearly every cell does.
  if (isDigit(trimmed.charCodeAt(0))) return false;
  return trimmed.length <= 10 && NO_SAMPLE.has(trimmed.toLowerCase());
}

const INFINITE = new Set([
  'inf',
  '+inf',
  '-inf',
  'infinity',
  '+infinity',
  '-infinity',
  '∞',
  '-∞',
  '1.#inf',
  '-1.#inf',
  '1.#qnan',
  '-1.#ind',
]);

export function isInfinite(trimmed: string): boolean {
  return trimmed.length <= 9 && INFINITE.has(trimmed.toLowerCase());
}

/** Mantissa of up to 15 digits, a decimal sign between them passed over. */
export function longMantissa(bytes: Uint8Array, from: number, to: number): number {
  let mantissa = 0;
  for (let p = from; p < to; p++) {
    const byte = bytes[p]!;
    if (isDigit(byte)) mantissa = mantissa * 10 + (byte - 48);
  }
  return mantissa;
}
