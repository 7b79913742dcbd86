import type { ExportColumn } from './columns.js';

/** Rows of a group: what is held as objects at a time. */
const GROUP = 50_000;

/** What is written down beside the columns. */
export type Notes = Readonly<Record<string, string>>;

/** Writes Apache Parquet (columns of doubles and of text, no sample = null, SNAPPY) to an existing or new file. */
export async function writeParquet(path: string, columns: readonly ExportColumn[], notes: Notes): Promise<void> {
  const { fileWriter, ParquetWriter, schemaFromColumnData } = await import('hyparquet-writer');
  const rows = columns[0]!.values.length;
  const typed = (from: number, to: number) =>
    columns.map((column) => ({
      name: column.name,
      data: samples(column, from, to),
      type: column.word === undefined ? ('DOUBLE' as const) : ('STRING' as const),
    }));
  const writer = new ParquetWriter({
    writer: fileWriter(path),
    schema: schemaFromColumnData({ columnData: typed(0, 0) }),
    createdBy: 'telltale',
    kvMetadata: Object.entries(notes).map(([key, value]) => ({ key, value })),
  });
  for (let from = 0; from < rows; from += GROUP) {
    const to = Math.min(rows, from + GROUP);
    await writer.write({ columnData: typed(from, to), rowGroupSize: GROUP });
    // Lets an interruption through.
    await new Promise((resolve) => setImmediate(resolve));
  }
  await writer.finish();
}

function samples({ values, word }: ExportColumn, from: number, to: number): (number | string | null)[] {
  const out: (number | string | null)[] = new Array(to - from);
  for (let row = from; row < to; row++) {
    const value = values[row]!;
    out[row - from] = Number.isNaN(value) ? null : word === undefined ? value : word(value);
  }
  return out;
}
