import { columnsDocument, explainColumns, redact, renderMarkdown, renderText, toJson } from '@telltale/core';
import { EXIT } from '../exit-code.js';
import { openInput } from '../files.js';
import { loadMap, loadVehicle } from '../side-files.js';
import { oneLine, type Terminal } from '../terminal/output.js';
import { paintFor } from '../terminal/paint.js';

export interface ColumnsFlags {
  readonly vehicle?: string | undefined;
  readonly map?: string | undefined;
  readonly rate?: number | undefined;
  readonly json?: boolean | undefined;
  readonly markdown?: boolean | undefined;
  readonly quiet?: boolean | undefined;
  readonly redact?: boolean | undefined;
}

/** `telltale columns FILE`: how each column was understood. @returns the exit code. */
export async function columnsCommand(file: string, flags: ColumnsFlags, terminal: Terminal): Promise<number> {
  const vehicle = await loadVehicle(flags.vehicle);
  const map = await loadMap(flags.map);
  const found = await explainColumns(await openInput(file), {
    ...(vehicle === undefined ? {} : { vehicle }),
    ...(map === undefined ? {} : { map }),
    ...(flags.rate === undefined ? {} : { rate: flags.rate }),
  });
  const report = flags.redact ? redact(found) : found;
  const { error } = report.input;
  if (error !== undefined && !flags.quiet) terminal.err(`telltale: ${error.code}: ${oneLine(error.message)}\n`);
  if (flags.json) terminal.out(toJson(report));
  else if (flags.markdown) terminal.out(renderMarkdown(columnsDocument(report)));
  else terminal.out(renderText(columnsDocument(report), { width: terminal.width, paint: paintFor(terminal.color) }));
  return error === undefined ? EXIT.done : EXIT.input;
}
