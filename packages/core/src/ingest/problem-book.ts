import type { Problem } from '../recording/problem.js';
import type { IngestCode } from './code.js';
import { shown } from './list-record.js';

/** Problems of one kind beyond this many are told by their number. */
const EACH = 20;

/** Gathers what could not be read of a list: each with its line, a flood of one kind cut short. */
export class ProblemBook {
  private readonly found: Problem[] = [];
  private readonly counts = new Map<string, number>();
  private left: { line: number; count: number } | undefined;

  add(code: IngestCode, line: number | undefined, message: string): void {
    const count = (this.counts.get(code) ?? 0) + 1;
    this.counts.set(code, count);
    if (count <= EACH) this.found.push({ code, message, ...(line === undefined ? {} : { line }) });
  }

  unreadable(line: number, text: string): void {
    this.add(
      'code-unreadable',
      line,
      `"${shown(text)}" is no trouble code; expected P, C, B or U, a digit 0 to 3 and three hexadecimal digits, such as P0301; left out`,
    );
  }

  /** A line that holds nothing that is looked for. */
  skipped(line: number): void {
    if (this.left === undefined) this.left = { line, count: 1 };
    else this.left.count++;
  }

  get items(): readonly Problem[] {
    const flooded = [...this.counts]
      .filter(([, count]) => count > EACH)
      .map(([code, count]) => ({ code, count: count - EACH, message: `${count - EACH} more of the same kind` }));
    const left =
      this.left === undefined
        ? []
        : [
            {
              code: 'list-line-skipped',
              line: this.left.line,
              count: this.left.count,
              message: `${this.left.count} ${this.left.count === 1 ? 'line holds' : 'lines hold'} neither a code nor a value; left out`,
            },
          ];
    return [...this.found, ...flooded, ...left];
  }
}
