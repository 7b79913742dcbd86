export { INGEST_CODES, type IngestCode } from './code.js';
export type { InputKind } from './kind.js';
export type { Limits } from './limits.js';
export { type RegionFile, type RegionHelper, type RegionJob, type RegionResult, scanRegion } from './region.js';
export type { BlobSource, ByteSource, Gunzipper, Hasher } from './source.js';
export { type ColumnSummary, type SummaryResult, summariseTable } from './summary.js';
export { type ReadOptions, readTable, type TableResult } from './table.js';
