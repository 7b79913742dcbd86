import { isNoSample, numberShape, parseNumber, SHAPE } from './number-text.js';
import { numberWithUnit } from './unit-words.js';

export interface CellNumber {
  /** NaN when the cell is no number, or can be read in two ways. */
  readonly value: number;
  /** Unit that stands after the number, '' when there is none. */
  readonly unit: string;
  /** Digits grouped in threes or decimals: the file does not tell. */
  readonly doubtful: boolean;
}

/**
 * Decimal sign of the cells of a list: the comma when at least one cell needs it (not three digits after it) and none
 * needs the point. Undefined when nothing tells.
 */
export function decimalOf(cells: Iterable<string>): '.' | ',' | undefined {
  let points = 0;
  let commas = 0;
  for (const cell of cells) {
    const text = numberWithUnit(cell)?.number ?? cell;
    const shape = numberShape(text);
    if (shape !== SHAPE.point && shape !== SHAPE.comma) continue;
    if (/^[+-]?[1-9]\d{0,2}[.,]\d{3}$/.test(text)) continue;
    if (shape === SHAPE.point) points++;
    else commas++;
  }
  return points === commas ? undefined : points > commas ? '.' : ',';
}

/**
 * Number of one cell of a list, with the unit written behind it. `42.000` and `42,000` are forty-two thousand where the
 * other sign is the file's decimal sign; without that knowledge the comma is doubtful and the point a decimal point.
 */
export function cellNumber(cell: string, decimal: '.' | ',' | undefined): CellNumber {
  const none = { value: Number.NaN, unit: '', doubtful: false };
  if (cell === '' || isNoSample(cell)) return none;
  const split = numberWithUnit(cell.replace(/(\d)[ \u00a0\u202f](?=\d{3}(\D|$))/g, '$1'));
  const text = split?.number ?? cell.replace(/(\d)[ \u00a0\u202f'](?=\d{3}(\D|$))/g, '$1');
  const unit = split?.unit ?? '';
  const shape = numberShape(text);
  if (shape === SHAPE.none) return none;
  const grouped = /^[+-]?[1-9]\d{0,2}([.,])\d{3}$/.exec(text);
  if (grouped !== null) {
    const sign = grouped[1]!;
    if (decimal !== undefined && decimal !== sign)
      return { value: Number(text.replace(sign, '')), unit, doubtful: false };
    if (decimal === undefined && sign === ',') return { value: Number.NaN, unit, doubtful: true };
  }
  if (shape === SHAPE.thousands) {
    const last = Math.max(text.lastIndexOf('.'), text.lastIndexOf(','));
    const sign = text[last];
    const one = sign !== undefined && text.indexOf(sign) === last;
    const mixed = text.includes('.') && text.includes(',');
    // The last of two different signs is the decimal sign; a sign that comes twice groups digits.
    const plain = text.replace(/[.,]/g, (_, at: number) => (mixed && one && at === last ? '.' : ''));
    return { value: Number(plain.replace(/\s/g, '')), unit, doubtful: false };
  }
  const value = parseNumber(text, shape === SHAPE.comma ? ',' : '.');
  return { value, unit, doubtful: false };
}
