import { BLOCK, type Runs } from './run.js';

/** Rows that are kept one by one. */
const FIRST = 400;

/** The rows at which a channel changed, a bit each: a thirty-second of what a list of them would take. */
export interface Changes {
  readonly count: number;
  /** The first of them, up to 400. */
  readonly first: Int32Array;
  /** Bit `row % 32` of word `row / 32`. */
  readonly bits: Int32Array;
}

/** The rows at which the runs of a channel of so many rows begin, but the first, which is no change. */
export function changesOf({ starts, count }: Runs, rows: number): Changes {
  const bits = new Int32Array((rows + 31) >> 5);
  for (let from = 1; from < count; from += BLOCK) mark(bits, starts, from, Math.min(count, from + BLOCK));
  return { count: Math.max(0, count - 1), first: starts.slice(1, Math.min(count, FIRST + 1)), bits };
}

function mark(bits: Int32Array, starts: Int32Array, from: number, to: number): void {
  for (let k = from; k < to; k++) {
    const row = starts[k]!;
    bits[row >> 5]! |= 1 << (row & 31);
  }
}

/** Rows at which any of the channels changed. */
export function anyChange(channels: readonly Changes[], rows: number): Int32Array {
  const any = new Int32Array((rows + 31) >> 5);
  for (const { bits } of channels) for (let i = 0; i < any.length; i++) any[i]! |= bits[i]!;
  return any;
}

/** How many rows are marked. */
export function countMarked(bits: Int32Array): number {
  let count = 0;
  for (let i = 0; i < bits.length; i++) count += ones(bits[i]!);
  return count;
}

/** How many rows are marked in both. */
export function countCommon(a: Int32Array, b: Int32Array): number {
  let count = 0;
  for (let i = 0; i < a.length; i++) count += ones(a[i]! & b[i]!);
  return count;
}

/** Bits that are set (H. S. Warren, "Hacker's Delight", 2nd ed. 2012, section 5-1). */
function ones(word: number): number {
  let x = word - ((word >>> 1) & 0x55555555);
  x = (x & 0x33333333) + ((x >>> 2) & 0x33333333);
  return Math.imul((x + (x >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}
