import type { HeadRecord } from './head-record.js';
import { numberShape, SHAPE, type Shape } from './number-text.js';

export interface DecimalGuess {
  readonly decimal: '.' | ',';
  readonly confidence: number;
  /** Why it is doubtful, with the place of the first cell that makes it so. */
  readonly doubt?: { readonly line: number; readonly column: number; readonly kind: 'mixed' | 'maybe-thousands' };
}

/** Decimal sign of the rows of values. Both signs, or commas that could be thousands separators, are a doubt. */
export function guessDecimal(rows: readonly HeadRecord[], delimiter: string): DecimalGuess {
  let points = 0;
  let commas = 0;
  let groupCommas = 0;
  let pointAt: { line: number; column: number } | undefined;
  let commaAt: { line: number; column: number } | undefined;
  for (const row of rows) {
    points += row.points;
    if (row.points > 0) pointAt ??= placeOf(row, SHAPE.point);
    if (row.commas === 0) continue;
    commas += row.commas;
    commaAt ??= placeOf(row, SHAPE.comma);
    for (const cell of row.cells) if (numberShape(cell) === SHAPE.comma && couldBeThousands(cell)) groupCommas++;
  }
  if (commas === 0) return { decimal: '.', confidence: points > 0 ? 1 : 0.9 };
  if (points === 0) {
    if (groupCommas === commas && delimiter === ',') {
      // Quoted "1,234" between commas: whoever writes decimal commas separates cells otherwise.
      return { decimal: '.', confidence: 0.7 };
    }
    if (groupCommas === commas)
      return { decimal: ',', confidence: 0.5, doubt: { ...commaAt!, kind: 'maybe-thousands' } };
    return { decimal: ',', confidence: 1 };
  }
  const decimal = commas > points ? ',' : '.';
  const minority = decimal === ',' ? pointAt! : commaAt!;
  return { decimal, confidence: Math.max(points, commas) / (points + commas), doubt: { ...minority, kind: 'mixed' } };
}

function placeOf(row: HeadRecord, shape: Shape): { line: number; column: number } {
  return { line: row.line, column: row.cells.findIndex((cell) => numberShape(cell) === shape) + 1 };
}

/** `1,234`: one to three digits, not starting with 0, then exactly three. */
function couldBeThousands(cell: string): boolean {
  const at = cell.indexOf(',');
  const start = cell[0] === '-' || cell[0] === '+' ? 1 : 0;
  const lead = at - start;
  return lead >= 1 && lead <= 3 && cell[start] !== '0' && cell.length - at === 4;
}
