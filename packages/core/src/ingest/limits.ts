/** Bounds of what is read; each refusal names its bound. All can be changed by the caller. */
export interface Limits {
  /** Bytes of one line (record), after decompression. */
  readonly lineBytes: number;
  /** Columns of the table. */
  readonly columns: number;
  /** Bytes of the text, after decompression. */
  readonly textBytes: number;
  /** Decompressed bytes from which the compression ratio is judged, and the ratio that is refused. */
  readonly bombBytes: number;
  readonly bombRatio: number;
  /** Decoded cells (8 bytes each). */
  readonly cells: number;
  /** Bytes in which the table has to begin. */
  readonly headBytes: number;
  /** Refuses nothing: bytes of columns from which compiled code writes them in place (4 MB: its own room is 0.7 MB, measured). */
  readonly inPlaceBytes: number;
  /** Refuses nothing: bytes that each of two threads reads at a time (128 KB with its last line: they stay in its cache). */
  readonly chunkBytes: number;
}

export const LIMITS: Limits = Object.freeze({
  lineBytes: 1 << 20,
  columns: 4096,
  textBytes: 16 * 2 ** 30,
  bombBytes: 64 << 20,
  bombRatio: 200,
  cells: 2 ** 29,
  headBytes: 4 << 20,
  inPlaceBytes: 4e6,
  chunkBytes: 128 << 10,
});

/** Bytes looked at to tell the encoding. */
export const SNIFF_BYTES = 128 << 10;

/** Bytes looked at first to settle the layout; grown up to `headBytes` when no table begins in them. */
export const FIRST_HEAD_BYTES = 64 << 10;
