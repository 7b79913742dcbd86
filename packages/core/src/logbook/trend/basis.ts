/** Orthonormal columns that span the nuisance: baselines, weather. */
export interface Basis {
  readonly columns: readonly Float64Array[];
  /** Which of the given columns were kept. */
  readonly places: readonly number[];
  /** ln det(Z'Z) of the columns that were kept. */
  readonly logDeterminant: number;
}

/** Share of a column's length that has to be left after the others, else it depends on them. */
const DEPENDENT = 1e-7;

/** No NaN allowed. Modified Gram-Schmidt; columns that depend on earlier ones are left out. */
export function basisOf(columns: readonly Float64Array[]): Basis {
  const kept: Float64Array[] = [];
  const places: number[] = [];
  let logDeterminant = 0;
  for (const [place, column] of columns.entries()) {
    const rest = column.slice();
    const before = dot(rest, rest);
    takeOff(rest, kept);
    const after = dot(rest, rest);
    if (!(after > DEPENDENT * DEPENDENT * before) || before === 0) continue;
    logDeterminant += Math.log(after);
    const length = Math.sqrt(after);
    for (let i = 0; i < rest.length; i++) rest[i]! /= length;
    kept.push(rest);
    places.push(place);
  }
  return { columns: kept, places, logDeterminant };
}

/** What is left of a column beside the basis; changes the column. */
export function takeOff(column: Float64Array, basis: readonly Float64Array[]): void {
  for (const q of basis) {
    const share = dot(q, column);
    for (let i = 0; i < column.length; i++) column[i]! -= share * q[i]!;
  }
}

export function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
}
