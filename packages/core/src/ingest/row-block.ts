import { blockRowsOf, type FastRows } from './fast-rows.js';

/** Rows that are copied value by value: less than to call for each column. */
const FEW = 4;

/** The columns that the rows of a block go to. */
export interface BlockTarget {
  readonly values: readonly Float64Array[];
  /** 1 = the column is passed over. */
  readonly skipped: Uint8Array;
}

/** Rows that stay in the first caches while they are read: one run of {@link rows} values a column. */
export class RowBlock {
  readonly values: Float64Array;
  readonly rows: number;
  /** Doubles from one column to the next. */
  readonly stride: number;
  private readonly runs: readonly Float64Array[];

  /** @param fast compiled code, whose block this is then */
  constructor(width: number, fast: FastRows | undefined) {
    this.rows = blockRowsOf(width);
    this.stride = fast?.stride ?? this.rows;
    this.values = fast?.block ?? new Float64Array(this.rows * width);
    this.runs = Array.from({ length: width }, (_, k) =>
      this.values.subarray(k * this.stride, k * this.stride + this.rows),
    );
  }

  /** Copies the first `count` rows to the rows of the columns from `to` on. */
  copy(count: number, { values, skipped }: BlockTarget, to: number): void {
    for (let column = 0; column < values.length; column++) {
      if (skipped[column] === 1) continue;
      const run = this.runs[column]!;
      const into = values[column]!;
      if (count > FEW) into.set(count === this.rows ? run : run.subarray(0, count), to);
      else for (let k = 0; k < count; k++) into[to + k] = run[k]!;
    }
  }
}
