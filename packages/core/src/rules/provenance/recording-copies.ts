import type { Channel } from '../../recording/recording.js';

/** The same rows twice. */
export interface Copy {
  /** Seconds of recording time. */
  readonly from: number;
  readonly to: number;
  /** Seconds at which its twin begins, before it. */
  readonly twin: number;
  readonly rows: number;
  /** Changes of values within it, over all channels compared. */
  readonly changes: number;
  readonly channels: readonly string[];
}

/** Channels that are compared: the liveliest. */
const MOST = 6;
const LEAST = 3;
/** Rows and seconds of one window of the search, and s of a copy. */
const ROWS = 24;
const WINDOW = 5;
const SHORTEST = 10;
/**
 * Changes within a copy, and changes of each of three channels. A change that agrees in row, direction and size holds well
 * over one bit, so 80 of them agree by chance once in 2^80 pairs of places. Derived: 1e6 rows have 5e11 = 2^39 pairs.
 */
const CHANGES = 80;
const EACH = 8;
/** Different values of each of them: what only swings to and fro between two steps repeats by itself. */
const DIFFERENT = 6;
/** Places of the sieve before the map of hashes, less one. */
const SIEVE = (1 << 18) - 1;

/**
 * NaN counts as a value of its own. Stretches of at least ten seconds in which the liveliest channels repeat an earlier
 * stretch row by row. A rolling hash of windows (Karp and Rabin 1987, IBM J. Res. Dev. 31, 249, from memory) makes the
 * search linear in the rows; each hit is compared value by value. Rows in which nothing changes (held values,
 * standstill) carry no evidence and count for none.
 */
export function copiesOf(channels: readonly Channel[], time: Float64Array): readonly Copy[] {
  const n = time.length;
  const lively = liveliest(channels);
  if (lively.length < LEAST || n < 3 * ROWS) return [];
  const columns = lively.map(({ values }) => values);
  const span = time[n - 1]! - time[0]!;
  const window = Math.max(ROWS, Math.ceil((WINDOW * n) / Math.max(span, 1)));
  const stride = Math.max(1, window >> 1);
  if (n < 2 * window + stride) return [];
  const { hash, changes } = rowsOf(columns, n);
  let power = 1;
  for (let k = 0; k < window; k++) power = Math.imul(power, 1_000_003);
  const seen = new Map<number, number>();
  const sieve = new Uint8Array(SIEVE + 1);
  const found: Copy[] = [];
  let rolling = 0;
  let done = 0;
  for (let i = 0; i < n; i++) {
    rolling = (Math.imul(rolling, 1_000_003) + hash[i]!) | 0;
    if (i >= window) rolling = (rolling - Math.imul(hash[i - window]!, power)) | 0;
    const start = i - window + 1;
    if (start < 0 || changes[i + 1]! - changes[start + 1]! < CHANGES / 4) continue;
    // Most places are neither noted nor like a noted one: the sieve tells so without asking the map.
    const place = (rolling ^ (rolling >>> 15)) & SIEVE;
    const noted = start >= done && sieve[place] === 1;
    if (!noted && start % stride !== 0) continue;
    const key = (rolling >>> 0) * 2_097_152 + ((hash[i]! >>> 0) & 2_097_151);
    const twin = noted ? seen.get(key) : undefined;
    if (twin !== undefined && start - twin >= window && same(columns, twin, start, window)) {
      const copy = extended(columns, lively, changes, time, twin, start, window, done);
      if (copy !== undefined) {
        found.push(copy.copy);
        done = copy.end;
      }
    }
    if (start % stride === 0 && !seen.has(key)) {
      seen.set(key, start);
      sieve[place] = 1;
    }
  }
  return found;
}

function liveliest(channels: readonly Channel[]): readonly Channel[] {
  return channels
    .filter(({ quality }) => !quality.constant)
    .map((channel) => ({ channel, share: changeShare(channel.values) }))
    .filter(({ share }) => share > 0.005)
    .sort((a, b) => b.share - a.share)
    .slice(0, MOST)
    .map(({ channel }) => channel);
}

/** Share of rows with another value than the row before; at most about 20 000 rows are looked at. */
function changeShare(values: Float64Array): number {
  const stride = Math.max(1, Math.floor(values.length / 20_000));
  let changed = 0;
  let looked = 0;
  for (let i = 1; i < values.length; i += stride, looked++)
    if (values[i]! !== values[i - 1]! && !Number.isNaN(values[i]!)) changed++;
  return looked > 0 ? changed / looked : 0;
}

/** Hash of each row, and changes before each row (prefix sum). */
function rowsOf(columns: readonly Float64Array[], n: number): { hash: Int32Array; changes: Int32Array } {
  const hash = new Int32Array(n);
  const changes = new Int32Array(n + 1);
  const cell = new Float64Array(1);
  const words = new Int32Array(cell.buffer);
  for (const values of columns) {
    let last = Number.NaN;
    for (let i = 0; i < n; i++) {
      const x = values[i]!;
      cell[0] = x;
      let h = Number.isNaN(x) ? 1 : words[0]! ^ Math.imul(words[1]!, 0x9e3779b1);
      h = Math.imul(h ^ (h >>> 15), 0x85ebca6b);
      hash[i] = Math.imul(hash[i]! ^ (h ^ (h >>> 13)), 0x27d4eb2d);
      if (Number.isNaN(x)) continue;
      if (x !== last) changes[i + 1] = changes[i + 1]! + 1;
      last = x;
    }
  }
  for (let i = 1; i <= n; i++) changes[i] = changes[i]! + changes[i - 1]!;
  return { hash, changes };
}

function equal(columns: readonly Float64Array[], i: number, j: number): boolean {
  for (const values of columns) {
    const x = values[i]!;
    const y = values[j]!;
    if (x !== y && !(Number.isNaN(x) && Number.isNaN(y))) return false;
  }
  return true;
}

function same(columns: readonly Float64Array[], i: number, j: number, rows: number): boolean {
  for (let k = 0; k < rows; k++) if (!equal(columns, i + k, j + k)) return false;
  return true;
}

/** Whether rows `from..to` hold at least `DIFFERENT` different values, no sample being one of them. */
function holdsSeveral(values: Float64Array, from: number, to: number): boolean {
  const found = new Set<number>();
  for (let k = from; k < to && found.size < DIFFERENT; k++) found.add(values[k]!);
  return found.size >= DIFFERENT;
}

function extended(
  columns: readonly Float64Array[],
  lively: readonly Channel[],
  changes: Int32Array,
  time: Float64Array,
  twin: number,
  start: number,
  window: number,
  least: number,
): { readonly copy: Copy; readonly end: number } | undefined {
  let [a, b, end] = [twin, start, start + window];
  while (a > 0 && b > least && b - 1 > twin && equal(columns, a - 1, b - 1)) {
    a--;
    b--;
  }
  while (end < time.length && end - b + a < b && equal(columns, end - b + a, end)) end++;
  const total = changes[end]! - changes[b + 1]!;
  if (time[end - 1]! - time[b]! < SHORTEST || total < CHANGES) return undefined;
  const moving = columns.filter((values) => {
    let count = 0;
    for (let k = b + 1; k < end; k++) if (values[k]! !== values[k - 1]! && !Number.isNaN(values[k]!)) count++;
    return count >= EACH && holdsSeveral(values, b, end);
  });
  if (moving.length < LEAST) return undefined;
  return {
    end,
    copy: {
      from: time[b]!,
      to: time[end - 1]!,
      twin: time[a]!,
      rows: end - b,
      changes: total,
      channels: lively.filter(({ values }) => moving.includes(values)).map(({ id }) => id),
    },
  };
}
