import type { Problem } from '../recording/problem.js';
import type { IngestCode } from './code.js';

/** Counts what was met many times and reports it once, with the first place. */
export class Tally {
  private readonly entries = new Map<
    string,
    { count: number; line: number; column: number; message: (count: number) => string }
  >();

  /** `column` counted from 1, 0 = the whole row. */
  add(code: IngestCode, line: number, column: number, message: (count: number) => string, many = 1): void {
    const entry = this.entries.get(code);
    if (entry === undefined) this.entries.set(code, { count: many, line, column, message });
    else entry.count += many;
  }

  problems(): Problem[] {
    return [...this.entries].map(([code, entry]) => ({
      code,
      message: entry.message(entry.count),
      line: entry.line,
      ...(entry.column > 0 ? { column: entry.column } : {}),
      count: entry.count,
    }));
  }
}
