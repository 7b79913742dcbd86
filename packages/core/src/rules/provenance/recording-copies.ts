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
/** Of the rolling hash. */
const FACTOR = 1_000_003;

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
  const rolled = rolledOver(hash, window);
  const seen = new Map<number, number>();
  const sieve = new Uint8Array(SIEVE + 1);
  const found: Copy[] = [];
  let done = 0;
  const next = (from: number): number => nextPlace(rolled, changes, sieve, window, stride, from, done);
  for (let start = next(0); start + window <= n; start = next(start + 1)) {
    const end = start + window - 1;
    const key = (rolled[end]! >>> 0) * 2_097_152 + ((hash[end]! >>> 0) & 2_097_151);
    const twin = start >= done ? seen.get(key) : undefined;
    if (twin !== undefined && start - twin >= window && same(columns, twin, start, window)) {
      const copy = extended(columns, lively, changes, time, twin, start, window, done);
      if (copy !== undefined) {
        found.push(copy.copy);
        done = copy.end;
      }
    }
    if (start % stride === 0 && !seen.has(key)) {
      seen.set(key, start);
      sieve[placeOf(rolled[end]!)] = 1;
    }
  }
  return found;
}

/**
 * First row from `from` at which a window with changes enough begins that is to be noted, or is like a noted one: most are
 * neither, and the sieve tells so without asking the map. Past the end when there is none.
 */
function nextPlace(
  rolled: Int32Array,
  changes: Int32Array,
  sieve: Uint8Array,
  window: number,
  stride: number,
  from: number,
  done: number,
): number {
  let start = from;
  for (; start + window <= rolled.length; start++) {
    const end = start + window - 1;
    if (changes[end + 1]! - changes[start + 1]! < CHANGES / 4) continue;
    if (start % stride === 0 || (start >= done && sieve[placeOf(rolled[end]!)] === 1)) break;
  }
  return start;
}

/** Place of a hash in the sieve. */
function placeOf(hash: number): number {
  return (hash ^ (hash >>> 15)) & SIEVE;
}

/** Hash of the window that ends at each row. */
function rolledOver(hash: Int32Array, window: number): Int32Array {
  const rolled = new Int32Array(hash.length);
  let power = 1;
  for (let k = 0; k < window; k++) power = Math.imul(power, FACTOR);
  let rolling = 0;
  for (let i = 0; i < hash.length; i++) {
    const leaving = i >= window ? hash[i - window]! : 0;
    rolling = (Math.imul(rolling, FACTOR) + hash[i]! - Math.imul(leaving, power)) | 0;
    rolled[i] = rolling;
  }
  return rolled;
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
  const looked = Math.ceil((values.length - 1) / stride);
  return looked > 0 ? changesEvery(values, stride) / looked : 0;
}

function changesEvery(values: Float64Array, stride: number): number {
  let changed = 0;
  for (let i = 1; i < values.length; i += stride)
    if (values[i]! !== values[i - 1]! && !Number.isNaN(values[i]!)) changed++;
  return changed;
}

/** Hash of each row, and changes before each row (prefix sum). */
function rowsOf(columns: readonly Float64Array[], n: number): { hash: Int32Array; changes: Int32Array } {
  const hash = new Int32Array(n);
  const changes = new Int32Array(n + 1);
  for (const values of columns) addColumn(values, hash, changes);
  for (let i = 1; i <= n; i++) changes[i] = changes[i]! + changes[i - 1]!;
  return { hash, changes };
}

function addColumn(values: Float64Array, hash: Int32Array, changes: Int32Array): void {
  const words = new Int32Array(values.buffer, values.byteOffset, 2 * values.length);
  let last = Number.NaN;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    let h = Number.isNaN(x) ? 1 : words[2 * i]! ^ Math.imul(words[2 * i + 1]!, 0x9e3779b1);
    h = Math.imul(h ^ (h >>> 15), 0x85ebca6b);
    hash[i] = Math.imul(hash[i]! ^ (h ^ (h >>> 13)), 0x27d4eb2d);
    if (Number.isNaN(x)) continue;
    changes[i + 1] = changes[i + 1]! + (x === last ? 0 : 1);
    last = x;
  }
}

/** First row of `from..to` that does not repeat the one `shift` before it; `to` when all do. */
function repeatsTo(values: Float64Array, shift: number, from: number, to: number): number {
  let i = from;
  while (i < to && alike(values[i]!, values[i - shift]!)) i++;
  return i;
}

/** First row from which on the rows to `to` repeat those `shift` before them; none before `from` is looked at. */
function repeatsFrom(values: Float64Array, shift: number, from: number, to: number): number {
  let i = to;
  while (i > from && alike(values[i - 1]!, values[i - 1 - shift]!)) i--;
  return i;
}

function alike(x: number, y: number): boolean {
  return x === y || (Number.isNaN(x) && Number.isNaN(y));
}

function same(columns: readonly Float64Array[], i: number, j: number, rows: number): boolean {
  return columns.every((values) => repeatsTo(values, j - i, j, j + rows) === j + rows);
}

/** Whether rows `from..to` hold at least `DIFFERENT` different values, no sample being one of them. */
function holdsSeveral(values: Float64Array, from: number, to: number): boolean {
  const found = new Set<number>();
  for (let k = from; k < to && found.size < DIFFERENT; k++) found.add(values[k]!);
  return found.size >= DIFFERENT;
}

/** Changes of values after row `from`, as far as row `to`. */
function changesIn(values: Float64Array, from: number, to: number): number {
  let count = 0;
  for (let k = from + 1; k < to; k++) if (values[k]! !== values[k - 1]! && !Number.isNaN(values[k]!)) count++;
  return count;
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
  const shift = start - twin;
  let b = Math.max(least, twin + 1, shift);
  for (const values of columns) b = repeatsFrom(values, shift, b, start);
  // A copy ends where its twin would run into it.
  let end = Math.min(time.length, b + shift);
  for (const values of columns) end = repeatsTo(values, shift, start + window, end);
  const total = changes[end]! - changes[b + 1]!;
  if (time[end - 1]! - time[b]! < SHORTEST || total < CHANGES) return undefined;
  const moving = columns.filter((values) => changesIn(values, b, end) >= EACH && holdsSeveral(values, b, end));
  if (moving.length < LEAST) return undefined;
  return {
    end,
    copy: {
      from: time[b]!,
      to: time[end - 1]!,
      twin: time[b - shift]!,
      rows: end - b,
      changes: total,
      channels: lively.filter(({ values }) => moving.includes(values)).map(({ id }) => id),
    },
  };
}
