/** The physical line of each row, kept as runs: in most files there is one. */
export class RowLines {
  private readonly rows: number[] = [];
  private readonly lines: number[] = [];

  /** Row `row` stands in line `line`, and those behind it in the next lines. What was said of it and them is forgotten. */
  note(row: number, line: number): void {
    const { rows, lines } = this;
    let last = rows.length - 1;
    while (last >= 0 && rows[last]! >= row) {
      rows.pop();
      lines.pop();
      last--;
    }
    if (last >= 0 && lines[last]! - rows[last]! === line - row) return;
    rows.push(row);
    lines.push(line);
  }

  /** Line of a row, NaN before the first one noted. */
  at(row: number): number {
    const { rows, lines } = this;
    let low = 0;
    let high = rows.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (rows[middle]! <= row) low = middle + 1;
      else high = middle;
    }
    return low === 0 ? Number.NaN : lines[low - 1]! + row - rows[low - 1]!;
  }
}
