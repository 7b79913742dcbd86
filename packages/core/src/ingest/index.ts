export { type ChunkFlags, type ChunkJob, type Fill, readChunks } from './chunk-reader.js';
export type { ReadingHelper } from './chunked-body.js';
export { INGEST_CODES, type IngestCode } from './code.js';
export type { InputKind } from './kind.js';
export type { Limits } from './limits.js';
export type { BlobSource, ByteSource, Gunzipper, Hasher } from './source.js';
export { type ColumnSummary, type SummaryResult, summariseTable } from './summary.js';
export { type ReadOptions, readTable, type TableResult } from './table.js';
