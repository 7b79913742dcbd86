import Papa from 'papaparse';

/** A row of a side file as CSV: the line that it begins on, from 1, and its cells without outer blanks. */
export interface CsvRow {
  readonly line: number;
  readonly cells: readonly string[];
}

/**
 * Rows of a CSV side file; empty rows and comments (`#`) are left out and count as lines, as do the lines of a quoted cell.
 * @param comments false where a cell may begin with `#`
 */
export function csvRows(text: string, comments = true): readonly CsvRow[] {
  const { data } = Papa.parse<string[]>(text.replace(/^\uFEFF/, ''));
  const rows: CsvRow[] = [];
  let line = 1;
  for (const row of data) {
    const cells = row.map((cell) => cell.trim());
    if (cells.some((cell) => cell !== '') && !(comments && cells[0]!.startsWith('#'))) rows.push({ line, cells });
    line += 1 + row.reduce((sum, cell) => sum + (cell.match(/\r\n|\r|\n/g)?.length ?? 0), 0);
  }
  return rows;
}
