import { realpath, writeFile } from 'node:fs/promises';
import { extname } from 'node:path';
import { load, type Recording } from '@telltale/core';
import { EXIT, UserError } from '../exit-code.js';
import { exportColumns } from '../export/columns.js';
import { csvPieces } from '../export/csv.js';
import { writeWhole } from '../export/output-file.js';
import { openInput, userPath } from '../files.js';
import { loadMap, loadVehicle } from '../side-files.js';
import { oneLine, type Terminal } from '../terminal/output.js';

export interface ExportFlags {
  readonly out: string;
  readonly vehicle?: string | undefined;
  readonly map?: string | undefined;
  readonly rate?: number | undefined;
  readonly quiet?: boolean | undefined;
}

/** `telltale export FILE --out F`: the normalised channels as CSV or Parquet, by the extension. @returns the exit code. */
export async function exportCommand(file: string, flags: ExportFlags, terminal: Terminal): Promise<number> {
  const out = userPath(flags.out);
  const form = extname(out).toLowerCase();
  if (form !== '.csv' && form !== '.parquet')
    throw new UserError('usage', `found --out ${oneLine(flags.out)}, expected a name that ends in .csv or .parquet`);
  const vehicle = await loadVehicle(flags.vehicle);
  const map = await loadMap(flags.map);
  if (await same(userPath(file), out))
    throw new UserError('usage', 'found the recording itself as --out, expected another file; choose another name');
  const { report, recording } = await load(await openInput(file), {
    ...(vehicle === undefined ? {} : { vehicle }),
    ...(map === undefined ? {} : { map }),
    ...(flags.rate === undefined ? {} : { rate: flags.rate }),
  });
  if (recording === undefined) {
    const error = report.error ?? { code: 'not-a-recording', message: `${report.file}: found no recording` };
    if (!flags.quiet) terminal.err(`telltale: ${error.code}: ${oneLine(error.message)}\n`);
    return EXIT.input;
  }
  await writeWhole(out, (partial) => write(partial, form, recording));
  if (!flags.quiet) terminal.err(`${recording.rows} rows of ${recording.channels.size} channels written\n`);
  return EXIT.done;
}

async function same(a: string, b: string): Promise<boolean> {
  const real = (path: string) => realpath(path).catch(() => path);
  return (await real(a)) === (await real(b));
}

async function write(path: string, form: string, recording: Recording): Promise<void> {
  const columns = exportColumns(recording);
  if (form === '.csv') return writeFile(path, csvPieces(columns));
  const { writeParquet } = await import('../export/parquet.js');
  const channels = [...recording.channels.values()].map(({ id, unit, source, sourceUnit, certainty }) => {
    return { id, unit, source, sourceUnit, certainty };
  });
  return writeParquet(path, columns, { 'telltale.channels': JSON.stringify(channels) });
}
