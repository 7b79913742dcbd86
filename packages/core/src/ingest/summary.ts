import type { InputFault } from '../recording/problem.js';
import type { Dialect } from '../recording/raw.js';
import { BodyReader } from './body.js';
import { TableBuilder } from './builder.js';
import { Fault } from './fault.js';
import type { InputKind } from './kind.js';
import { dialectOf, type Layout } from './layout.js';
import { LIMITS, type Limits } from './limits.js';
import { type ByteSource, defaultHasher, HashedSource } from './source.js';
import { type Context, openText, type ReadOptions } from './table.js';

/** Rows that are held at a time. */
const HELD = 4096;

/** What one column of a table holds. */
export interface ColumnSummary {
  readonly label: string;
  /** Text of the unit row, '' when there is none. */
  readonly unitCell: string;
  /** Cells with a number, as written (before units). */
  readonly numbers: number;
  /** Of these; NaN when there are none. */
  readonly min: number;
  readonly max: number;
  readonly mean: number;
}

export type SummaryResult = { readonly sha256: string; readonly kind: InputKind } & (
  | { readonly ok: true; readonly rows: number; readonly dialect: Dialect; readonly columns: readonly ColumnSummary[] }
  | { readonly ok: false; readonly fault: InputFault }
);

/**
 * One pass over a table of any size in memory that does not grow with it: rows, and count, range and mean of each column.
 * The time axis is not settled, so rows without a time count as well. Time stamps are no numbers. Never throws for bad
 * data; rejects only when the source fails.
 */
export async function summariseTable(source: ByteSource, options: ReadOptions): Promise<SummaryResult> {
  const limits: Limits = { ...LIMITS, ...options.limits };
  const hashed = new HashedSource(source, options.hasher === undefined ? defaultHasher() : options.hasher);
  const context: Context = { kind: 'recording' };
  try {
    const { text, layout, gzip } = await openText(hashed, options, limits, 0, context);
    const folding = new FoldingBuilder(layout, limits);
    const body = new BodyReader(layout, text.decode, limits, folding, options.tolerant);
    await text.body(layout.offset, (piece) => body.push(piece));
    body.end(gzip.damaged);
    const columns = folding.summaries();
    const dialect = dialectOf(layout, text.encoding, text.confidence);
    return { ok: true, rows: folding.total, dialect, columns, sha256: await hashed.digest(), kind: context.kind };
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    return { ok: false, fault: error.fault, sha256: await hashed.digest(), kind: context.kind };
  }
}

/** Instead of growing, takes the rows into the sums and begins again at its first row. */
class FoldingBuilder extends TableBuilder {
  private folded = 0;
  private readonly counts: Float64Array;
  private readonly sums: Float64Array;
  private readonly lows: Float64Array;
  private readonly highs: Float64Array;

  constructor(layout: Layout, limits: Limits) {
    super(layout, limits, HELD);
    this.counts = new Float64Array(this.width);
    this.sums = new Float64Array(this.width);
    this.lows = new Float64Array(this.width).fill(Number.POSITIVE_INFINITY);
    this.highs = new Float64Array(this.width).fill(Number.NEGATIVE_INFINITY);
  }

  get total(): number {
    return this.folded + this.rows;
  }

  override ensure(): boolean {
    if (this.rows >= this.capacity) this.fold();
    return true;
  }

  summaries(): ColumnSummary[] {
    this.fold();
    return this.layout.labels.map((label, i) => ({
      label,
      unitCell: this.layout.unitCells[i]!,
      numbers: this.counts[i]!,
      min: this.counts[i] === 0 ? Number.NaN : this.lows[i]!,
      max: this.counts[i] === 0 ? Number.NaN : this.highs[i]!,
      mean: this.sums[i]! / this.counts[i]!,
    }));
  }

  private fold(): void {
    for (let column = 0; column < this.width; column++) {
      const values = this.values[column]!;
      let count = 0;
      let sum = 0;
      let low = this.lows[column]!;
      let high = this.highs[column]!;
      for (let i = 0; i < this.rows; i++) {
        const x = values[i]!;
        if (Number.isNaN(x)) continue;
        count++;
        sum += x;
        if (x < low) low = x;
        if (x > high) high = x;
      }
      this.counts[column]! += count;
      this.sums[column]! += sum;
      this.lows[column] = low;
      this.highs[column] = high;
    }
    this.folded += this.rows;
    this.rows = 0;
  }
}
