import type { InputFault, Problem } from '../recording/problem.js';
import type { ColumnMap, HeadColumn, RawColumn, RawResult, RawTable } from '../recording/raw.js';
import type { RawReadOut } from '../recording/raw-read-out.js';
import { settleAxis } from './axis.js';
import { BodyReader } from './body.js';
import { TableBuilder } from './builder.js';
import { ChunkedBody, type ReadingHelper } from './chunked-body.js';
import { readCodeList } from './code-list.js';
import { Fault } from './fault.js';
import { headRecords } from './head-record.js';
import { type InputKind, recogniseKind } from './kind.js';
import { dialectOf, type Head, type Layout, type LayoutOptions, settleLayout, tooFewRows } from './layout.js';
import { LIMITS, type Limits } from './limits.js';
import {
  type ByteSource,
  defaultHasher,
  type Gunzipper,
  type GunzipState,
  gunzipped,
  HashedSource,
  type Hasher,
  join,
} from './source.js';
import { readStoredValues } from './stored-values.js';
import { Text } from './text.js';
import { startOf, timeValues } from './time-values.js';

export interface ReadOptions {
  /** Name shown for the input (no path). */
  readonly name: string;
  readonly map?: ColumnMap;
  /** Rows per second (Hz) of a table without a time column. */
  readonly rate?: number;
  readonly limits?: Partial<Limits>;
  /** A faster SHA-256 of the platform; null = not wanted: `sha256` is '', and bytes that nothing else needs stay unread. */
  readonly hasher?: Hasher | null;
  /** A faster gunzip of the platform. */
  readonly gunzip?: Gunzipper;
  /** A second thread of the platform, for large files; the table is the same with and without it. */
  readonly helper?: ReadingHelper;
  /** Which columns are needed (1 each), told by the heads of all: the others come back without values. Default: all. */
  readonly needed?: (columns: readonly HeadColumn[]) => Uint8Array;
  /** Reads every row the tolerant way; for tests, which show that both ways agree. */
  readonly tolerant?: boolean;
  /** Bytes of the input when known: saves growing the columns. */
  readonly size?: number;
}

export type TableResult = RawResult & {
  /** SHA-256 of the bytes as given, lower-case hexadecimal. */
  readonly sha256: string;
  readonly kind: InputKind;
  /** What the file holds when it is no recording but a read-out of control-unit memory. */
  readonly readOut?: RawReadOut;
};

/**
 * Bytes to a table of raw columns with a settled time axis. Never throws for bad data: what stops the reading is the
 * result's fault, what does not is a problem of the table. Rejects only when the source itself fails.
 */
export async function readTable(source: ByteSource, options: ReadOptions): Promise<TableResult> {
  const limits: Limits = { ...LIMITS, ...options.limits };
  const hashed = new HashedSource(source, options.hasher === undefined ? defaultHasher() : options.hasher);
  const size = options.size ?? sizeOf(source);
  const context: Context = { kind: 'recording' };
  try {
    const table = await readText(hashed, options, limits, size, context);
    return { ok: true, table, sha256: await hashed.digest(), kind: context.kind };
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    const fault: InputFault = error.fault;
    const { kind, readOut } = context;
    return { ok: false, fault, sha256: await hashed.digest(), kind, ...(readOut === undefined ? {} : { readOut }) };
  } finally {
    options.helper?.close();
  }
}

function sizeOf(source: ByteSource): number {
  if (source instanceof Uint8Array) return source.length;
  return 'stream' in source ? source.size : 0;
}

export interface Context {
  kind: InputKind;
  readOut?: RawReadOut;
}

async function readText(
  hashed: HashedSource,
  options: ReadOptions,
  limits: Limits,
  size: number,
  context: Context,
): Promise<RawTable> {
  const { text, layout: whole, gzip, isGzip } = await openText(hashed, options, limits, size, context);
  const layout = withoutUnneeded(whole, options.needed);
  const known = isGzip ? 0 : size;
  const factor = text.encoding === 'utf-16le' || text.encoding === 'utf-16be' ? 0.5 : 1;
  const estimate = known > 0 ? Math.ceil(((known * factor) / layout.rowBytes) * 1.03) + 64 : 4096;
  const helper = helperFor(options, known, factor, limits);
  const lent = options.helper !== undefined && size >= options.helper.minimum;
  const builder = new TableBuilder(layout, limits, estimate, lent);
  const body = new BodyReader(layout, text.decode, limits, builder, options.tolerant);
  const begin = text.mark + layout.offset;
  const chunked = helper === undefined ? undefined : ChunkedBody.open(builder, body, helper, limits, begin, known);
  if (chunked === undefined) await text.body(layout.offset, (piece) => body.push(piece));
  else
    await chunked.read(async () =>
      helper?.bytes === undefined ? Number.POSITIVE_INFINITY : hashed.hashRest((from) => helper.bytes!(from), known),
    );
  body.end(gzip.damaged);
  return finish(builder, layout, text, gzip.damaged);
}

/** Marks what nobody needs. The columns that tell the time always are. */
function withoutUnneeded(layout: Layout, needed: ReadOptions['needed']): Layout {
  if (needed === undefined) return layout;
  const { labels, unitCells, sourceCells, time } = layout;
  const heads = labels.map((label, index) => ({
    index,
    label,
    unitCell: unitCells[index]!,
    sourceCell: sourceCells[index]!,
  }));
  const skipped = needed(heads).map((need) => 1 - need);
  for (const column of [time.column, time.dateColumn]) if (column >= 0) skipped[column] = 0;
  return skipped.includes(1) ? { ...layout, skipped } : layout;
}

export interface OpenedText {
  readonly text: Text;
  readonly layout: Layout;
  readonly gzip: GunzipState;
  readonly isGzip: boolean;
}

/** Reads the head and settles the layout; what follows is left in the text. Throws a {@link Fault} when it is no table. */
export async function openText(
  hashed: HashedSource,
  options: ReadOptions,
  limits: Limits,
  size: number,
  context: Context,
): Promise<OpenedText> {
  if (options.rate !== undefined && !(options.rate > 0 && Number.isFinite(options.rate))) {
    throw new Fault('no-time', `the rate ${options.rate} is no number of rows per second above 0: correct --rate`);
  }
  const gzip: GunzipState = { damaged: false };
  const isGzip = await hashed.isGzip();
  if (!isGzip && options.helper !== undefined && size >= options.helper.minimum) options.helper.warm();
  const raw = isGzip ? gunzipped(hashed, limits, options.gunzip, gzip) : hashed.stream();
  const text = await Text.open(raw, limits, options.map?.encoding, !isGzip && hashed.whole);
  const layoutOptions: LayoutOptions = { map: options.map, rate: options.rate, limits };
  const head = await text.head(layoutOptions);
  context.kind = recogniseKind(head.reading);
  if (context.kind !== 'recording') {
    context.readOut = await readOutOf(text, context.kind, head.reading.delimiter, limits);
    throw otherKind(context.kind);
  }
  refuseNoTable(head, text.wholeHead);
  return { text, layout: settleLayout(head, layoutOptions), gzip, isGzip };
}

/** The whole of a list: small by nature, and refused beyond the bound of a head. */
async function readOutOf(text: Text, kind: InputKind, delimiter: string, limits: Limits): Promise<RawReadOut> {
  const pieces: Uint8Array[] = [];
  let length = 0;
  await text.body(0, (piece) => {
    length += piece.length;
    if (length > limits.headBytes)
      throw new Fault(
        'too-large',
        `the list is larger than ${limits.headBytes} bytes; expected less: check the export`,
      );
    pieces.push(piece.slice());
  });
  const bytes = pieces.reduce((all, piece) => join(all, piece), new Uint8Array(0));
  const records = headRecords(bytes, true, delimiter, text.decode, limits.columns);
  return kind === 'code-list' ? readCodeList(records) : readStoredValues(records);
}

/** A second thread reads large files whose bytes are those of their text; else it is left alone. `size` = 0: of no known size. */
function helperFor(
  { helper, tolerant }: ReadOptions,
  size: number,
  factor: number,
  limits: Limits,
): ReadingHelper | undefined {
  const fits = size > 0 && size <= limits.textBytes && factor === 1;
  return helper !== undefined && tolerant !== true && size >= helper.minimum && fits ? helper : undefined;
}

function finish(builder: TableBuilder, layout: Layout, text: Text, damaged: boolean): RawTable {
  const problems: Problem[] = [...layout.problems];
  if (damaged)
    problems.push({
      code: 'damaged-gzip',
      message: 'the gzip data end early or are damaged; what could be expanded was read: fetch the file again',
    });
  if (builder.rows < 2) throw tooFewRows(builder.rows, layout.line);
  const startedAt = startOf(builder);
  const axis = settleAxis(timeValues(builder, problems));
  if (axis.time.length < 2) throw tooFewRows(axis.time.length, layout.line);
  const columns = builder.finish(axis.keep);
  const { column, dateColumn } = layout.time;
  const timed = ({ index }: RawColumn): boolean => index === column || index === dateColumn;
  if (columns.every((each) => timed(each) || isEmpty(each))) {
    throw new Fault(
      'all-empty',
      'no cell below the header holds a value; expected numbers: check the export',
      layout.line,
    );
  }
  problems.push(...builder.tally.problems(), ...axis.problems);
  return {
    dialect: dialectOf(layout, text.encoding, text.confidence),
    time: axis.time,
    rows: axis.time.length,
    timeColumn: column,
    ...(startedAt === undefined ? {} : { startedAt }),
    columns,
    problems,
  };
}

/** Nothing in it is a value. */
function isEmpty(column: RawColumn): boolean {
  const { values } = column;
  for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i]!)) return false;
  return column.filled === 0;
}

function otherKind(kind: InputKind): Fault {
  return new Fault(
    'not-a-recording',
    kind === 'code-list'
      ? 'the file is a list of trouble codes; expected a recording here'
      : 'the file holds stored values (rows of name, value, unit); expected a recording here',
  );
}

/** A head without any row of values. */
function refuseNoTable(head: Head, complete: boolean): void {
  const { records, rows } = head.reading;
  if (rows > 0) return;
  const said = records.filter((record) => !record.blank);
  if (said.length === 0) throw new Fault('empty-file', 'the file holds no text; expected a table: check the export', 1);
  const wide = said.filter((record) => record.cells.length > 1);
  const header = wide.find((record) => record.said >= 2);
  if (header === undefined)
    throw new Fault(
      'no-header',
      'no row of column names and no values were found; expected a table of cells: check that this is a CSV log',
      said[0]!.line,
    );
  const hollow = records.filter(
    (record) => record.line > header.line && record.cells.length > 1 && record.said === 0,
  ).length;
  if (hollow > 0)
    throw new Fault(
      'all-empty',
      'no cell below the header holds a value; expected numbers: check the export',
      header.line + 1,
    );
  if (!complete || wide.length > 3)
    throw new Fault(
      'no-header',
      'no rows of numbers were found; expected column names above rows of numbers: check that this is a CSV log',
      header.line,
    );
  throw tooFewRows(0, header.line);
}
