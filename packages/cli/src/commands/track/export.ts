import { writeParquetFolder } from '../../book/parquet-folder.js';
import { EXIT } from '../../exit-code.js';
import { userPath } from '../../files.js';
import type { Terminal } from '../../terminal/output.js';
import { opened } from './opened.js';

export interface ExportBookFlags {
  readonly book?: string | undefined;
  readonly parquet: string;
  readonly quiet?: boolean | undefined;
}

/** `telltale track export --parquet DIR`: the book for other engines. */
export async function exportBookCommand(flags: ExportBookFlags, terminal: Terminal): Promise<number> {
  const book = await opened(flags, 'read', terminal);
  try {
    const rows = await writeParquetFolder(book, userPath(flags.parquet));
    if (!flags.quiet) terminal.out(`${rows.drive} drives, ${rows.measure} measures and ${rows.note} notes written\n`);
  } finally {
    await book.close();
  }
  return EXIT.done;
}
