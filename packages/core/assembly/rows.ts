// Rows of plain numbers, from bytes to columns of doubles, and runs of equal values in them. AssemblyScript; compiled by
// `npm run generate`.
//
// First the ends of all cells of a window are listed; then column after column is read, so that no cell waits for the one
// before it and the engine has little to keep in mind. A cell of up to 16 bytes is read without a loop: the 16 bytes before its end are loaded, so that the last digit is the last byte, the decimal
// sign is shuffled out, and eight digits become a number in three multiplications (D. Lemire, "Number parsing at a gigabyte
// per second", Software: Practice and Experience 51 (2021) 1700, section 3). The mantissa is divided by an exact power of
// ten, as the scanner does. Everything else is read byte by byte, or left.

const LF: u32 = 10;
const CR: u32 = 13;
const SPACE: u32 = 32;
const QUOTE: u32 = 34;
const PLUS: u32 = 43;
const MINUS: u32 = 45;
const ZERO: u32 = 48;
const ZEROS: u64 = 0x3030303030303030;
const MOST_DIGITS = 15;

/**
 * Where this instance keeps what follows: threads that share a memory need a place each. Everything that `memory.data` gives
 * is an address behind `base`.
 */
let base: usize = 0;
/** Bytes that it takes. */
const OWN: usize = 4096;

/**
 * Moves to `at`, where there is room for {@link OWN} bytes. To be called before anything else, if at all. Each new instance
 * writes the first bytes of the memory again: no other may stand between its making and this call meanwhile. Of two threads the
 * second opens its reader after the first has opened all of its own, or takes no part; `runs` and `rise` use nothing there.
 */
export function place(at: usize): void {
  memory.copy(at, 0, OWN);
  base = at;
}

/** 10^k. */
const POWERS = memory.data<f64>([1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15]);
/** Of a decimal sign at byte k of 16: the power of ten of what stands behind it; 1 at 16, where there is none. */
const SCALES = memory.data<f64>([
  1e15, 1e14, 1e13, 1e12, 1e11, 1e10, 1e9, 1e8, 1e7, 1e6, 1e5, 1e4, 1e3, 1e2, 1e1, 1, 1,
]);
/** 16 bytes of 0, then 16 of 255: loaded from byte n, the last n are 255. */
const MASKS = memory.data(32, 16);
/** Of a decimal sign at byte k: which byte goes where, so that what stands before it moves up by one. */
const SHUFFLES = memory.data(17 * 16, 16);

for (let i = 0; i < 16; i++) store<u8>(MASKS + 16 + i, 255);
for (let k = 0; k <= 16; k++)
  for (let i = 0; i < 16; i++) store<u8>(SHUFFLES + 16 * k + i, k < 16 && i <= k ? (i > 0 ? i - 1 : 0) : i);

/** Rows taken by the last call of `rows`. */
let done: i32 = 0;
export function rowsDone(): i32 {
  return done;
}

const NUMBER = 0;
const EMPTY = 1;
const OTHER = 2;
/** What `slowCell` read: one of these, and the byte behind it. */
let kind: i32 = 0;
let cellEnd: usize = 0;

/** A cell with blanks, quotes, a sign or many digits, byte by byte; the rules are those of the scanner. */
function slowCell(start: usize, delimiter: u32, decimal: u32, blank: u32): f64 {
  kind = OTHER;
  let p = start;
  let byte: u32 = load<u8>(p);
  let quoted = false;
  let negative = false;
  let said = false;
  while (byte == SPACE || byte == blank) byte = load<u8>(++p);
  if (byte == QUOTE) {
    quoted = true;
    byte = load<u8>(++p);
  }
  if (byte == MINUS || byte == PLUS) {
    said = true;
    negative = byte == MINUS;
    byte = load<u8>(++p);
  }
  let whole: u64 = 0;
  let digits = 0;
  let fraction = 0;
  while ((byte ^ ZERO) <= 9) {
    whole = whole * 10 + (byte ^ ZERO);
    if (++digits > MOST_DIGITS) return 0;
    byte = load<u8>(++p);
  }
  if (byte == decimal) {
    byte = load<u8>(++p);
    while ((byte ^ ZERO) <= 9) {
      whole = whole * 10 + (byte ^ ZERO);
      fraction++;
      if (++digits > MOST_DIGITS) return 0;
      byte = load<u8>(++p);
    }
    // A sign alone is no empty cell.
    if (digits == 0) said = true;
  }
  if (quoted) {
    if (byte != QUOTE) return 0;
    byte = load<u8>(++p);
  }
  while (byte == SPACE || byte == blank) byte = load<u8>(++p);
  if (byte != delimiter && byte != LF && byte != CR) return 0;
  cellEnd = p;
  if (digits == 0) {
    kind = said ? OTHER : EMPTY;
    return NaN;
  }
  kind = NUMBER;
  const value = <f64>whole / load<f64>(base + POWERS + (<usize>fraction << 3));
  return negative ? -value : value;
}

/** Vectors that stay in memory: the engine would make them anew for each cell. */
const ALL_ZEROS = memory.data<u64>([ZEROS, ZEROS], 16);
/** What is above 9 has its highest bit set with this added. */
const BEYOND = memory.data<u64>([0x7676767676767676, 0x7676767676767676], 16);
/** The decimal sign of the table as a digit would be. */
const MARKS = memory.data(16, 16);

/** Where cells end in the window: the last position listed is before this place. */
let endsEnd: usize = 0;
/** The first of them that is not behind the rows taken so far. */
let cursor: usize = 0;
/** The first of all, and whether every row of the window has the width of the table. */
let endsFrom: usize = 0;
let tidy: bool = false;
/** Line feeds in the window. */
let feeds: i32 = 0;
/** Rows that are tried at a time: fewer where rows are left. */
let pace: i32 = 256;
const MOST_PACE = 256;

/** The bits of 64 bytes that equal `value`. */
// @ts-ignore: decorator
@inline
function bitsOf(a: v128, b: v128, c: v128, d: v128, value: v128): u64 {
  const low = <u32>i8x16.bitmask(i8x16.eq(a, value)) | (<u32>i8x16.bitmask(i8x16.eq(b, value)) << 16);
  const high = <u32>i8x16.bitmask(i8x16.eq(c, value)) | (<u32>i8x16.bitmask(i8x16.eq(d, value)) << 16);
  return <u64>low | (<u64>high << 32);
}

/**
 * Lists the delimiters and line feeds from `start` to `limit`, which is a line feed, as 32-bit positions from `to` on: four
 * bytes of room for each byte, 4 before and 64 behind. 64 bytes behind `limit` must be there. (G. Langdale & D. Lemire,
 * "Parsing gigabytes of JSON per second", The VLDB Journal 28 (2019) 941, section 3.1: bits of 64 bytes, taken off by eights.)
 */
export function index(start: usize, limit: usize, to: usize, delimiter: u32, width: i32): void {
  const delimiters = i8x16.splat(<i8>delimiter);
  const lineFeeds = i8x16.splat(<i8>LF);
  let place = to;
  let count = 0;
  for (let p = start; p <= limit; p += 64) {
    const a = v128.load(p);
    const b = v128.load(p, 16);
    const c = v128.load(p, 32);
    const d = v128.load(p, 48);
    let ends = bitsOf(a, b, c, d, lineFeeds);
    let bits = bitsOf(a, b, c, d, delimiters) | ends;
    if (limit - p < 63) {
      // Behind the limit there may be anything.
      const within = (<u64>2 << (limit - p)) - 1;
      bits &= within;
      ends &= within;
    }
    count += <i32>popcnt(ends);
    const next = place + (<usize>popcnt(bits) << 2);
    // Eight at a time, wanted or not: what is too many is written over.
    do {
      store<u32>(place, <u32>p + <u32>ctz(bits));
      bits &= bits - 1;
      store<u32>(place, <u32>p + <u32>ctz(bits), 4);
      bits &= bits - 1;
      store<u32>(place, <u32>p + <u32>ctz(bits), 8);
      bits &= bits - 1;
      store<u32>(place, <u32>p + <u32>ctz(bits), 12);
      bits &= bits - 1;
      store<u32>(place, <u32>p + <u32>ctz(bits), 16);
      bits &= bits - 1;
      store<u32>(place, <u32>p + <u32>ctz(bits), 20);
      bits &= bits - 1;
      store<u32>(place, <u32>p + <u32>ctz(bits), 24);
      bits &= bits - 1;
      store<u32>(place, <u32>p + <u32>ctz(bits), 28);
      bits &= bits - 1;
      place += 32;
    } while (place < next);
    place = next;
  }
  endsFrom = to;
  endsEnd = place;
  cursor = to;
  // As many line feeds as rows, each where a row ends: none is out of place.
  tidy = <usize>count * (<usize>width << 2) == place - to;
  for (let row = 1; row <= count && tidy; row++)
    tidy = <u32>load<u8>(load<u32>(to + ((<usize>row * <usize>width - 1) << 2))) == LF;
  feeds = count;
}

/** Lines of the window that was given to `index`; -1 when one of them is no row of the width of the table. */
export function lines(): i32 {
  return tidy ? feeds : -1;
}

/** How many of `count` rows from `from` on have `width` cells: a line feed behind the last of them and behind no other. */
function regularRows(from: usize, count: i32, width: i32): i32 {
  let at = from;
  for (let row = 0; row < count; row++) {
    for (let column = 1; column < width; column++) {
      if (<u32>load<u8>(load<u32>(at)) == LF) return row;
      at += 4;
    }
    if (<u32>load<u8>(load<u32>(at)) != LF) return row;
    at += 4;
  }
  return count;
}

/** The number in the bytes from `from` to `stop` into `to`; false when it is not one of up to eight digits. */
// @ts-ignore: decorator
@inline
function plainCell(from: usize, stop: usize, to: usize, own: usize): bool {
  const negative = <usize>(<u32>load<u8>(from) == MINUS);
  const span = stop - from - negative;
  // A span that is too long loads anything, and is found out below.
  const cell = v128.and(v128.xor(v128.load(stop - 16), v128.load(own + ALL_ZEROS)), v128.load(own + MASKS + span));
  const mark = <usize>ctz(i8x16.bitmask(i8x16.eq(cell, v128.load(own + MARKS))) | 0x10000);
  const digits = i8x16.swizzle(cell, v128.load(own + SHUFFLES + (mark << 4)));
  // Digits less one: 8 and more also for none.
  const count = span + (mark >> 4) - 2;
  if ((count >> 3) | <usize>i8x16.bitmask(i8x16.add_sat_u(digits, v128.load(own + BEYOND)))) return false;
  let d = <u64>i64x2.extract_lane(digits, 1);
  d = d * 10 + (d >> 8);
  d = ((d & 0x000000ff000000ff) * 0x000f424000000064 + ((d >> 16) & 0x000000ff000000ff) * 0x0000271000000001) >> 32;
  const value = <f64>(<i32>d) / load<f64>(own + SCALES + (mark << 3));
  store<u64>(to, reinterpret<u64>(value) | (<u64>negative << 63));
  return true;
}

/** How the numbers of a column are written, as far as their decimals go: see `settle`. */
const EXPECTED = memory.data(16, 16);
const ALLOWED = memory.data(16, 16);
const TO_LOW = memory.data(16, 16);
const TO_HIGH = memory.data(16, 16);
/** The power of ten, and the same below 0. */
const SCALE = memory.data<f64>([1, -1]);
let least: usize = 0;
let spread: usize = 0;
/** What that was made for: decimals, and the sign before them. */
let settledDecimals: i32 = -1;
let settledSign: u32 = 0;

/** Settles on the decimals of the cell from `from` to `stop`; false when it has none that can be counted on. */
function settle(from: usize, stop: usize, decimal: u32): bool {
  let at = stop;
  while (at > from && (<u32>load<u8>(at - 1) ^ ZERO) <= 9) at--;
  const decimals = at > from && <u32>load<u8>(at - 1) == decimal ? <i32>(stop - at) : 0;
  if (decimals > 8 || (at > from && decimals == 0 && <u32>load<u8>(at - 1) != MINUS)) return false;
  if (decimals == settledDecimals && decimal == settledSign) return true;
  settledDecimals = decimals;
  settledSign = decimal;
  const own = base;
  const mark = decimals > 0 ? 15 - decimals : -1;
  v128.store(own + EXPECTED, i8x16.splat(<i8>ZERO));
  v128.store(own + ALLOWED, v128.load(own + BEYOND));
  if (mark >= 0) {
    store<u8>(own + EXPECTED + mark, decimal);
    store<u8>(own + ALLOWED + mark, 127);
  }
  v128.store(own + TO_LOW, i8x16.splat(-1));
  v128.store(own + TO_HIGH, i8x16.splat(-1));
  for (let k = 0; k < 8; k++) {
    const source = k + 8 > mark ? k + 8 : k + 7;
    store<u8>(own + TO_LOW + k, source);
    store<u8>(own + TO_HIGH + 8 + k, source);
  }
  const power = load<f64>(own + POWERS + (<usize>decimals << 3));
  store<f64>(own + SCALE, power);
  store<f64>(own + SCALE + 8, -power);
  least = decimals + 1;
  spread = 8 - decimals - <usize>(decimals == 0);
  return true;
}

/**
 * The cells of one column, whose ends are listed at `k` and each `step` on before `kEnd`, into `to`: two at a time, as long
 * as they have the decimals that were settled on. `trail` = bytes before each end that do not count, of which the last is a
 * quote when there is one before each. @returns the end of the first that is not taken
 */
// @ts-ignore: decorator
@inline
function fixedCells(k: usize, kEnd: usize, step: usize, to: usize, trail: usize, quoted: bool): usize {
  const own = base;
  const masks = own + MASKS;
  const signed = own + SCALE;
  const expected = v128.load(own + EXPECTED);
  const allowed = v128.load(own + ALLOWED);
  const low = v128.load(own + TO_LOW);
  const high = v128.load(own + TO_HIGH);
  const tens = i16x8.splat(2561);
  const hundreds = i32x4.splat(0x00010064);
  const myriads = i32x4.splat(0x00012710);
  const fewest = least;
  const range = spread;
  while (k + step < kEnd) {
    const p: usize = <usize>load<u32>(k - 4) + 1 + <usize>quoted;
    const q: usize = <usize>load<u32>(k + step - 4) + 1 + <usize>quoted;
    const pEnd: usize = <usize>load<u32>(k) - trail;
    const qEnd: usize = <usize>load<u32>(k + step) - trail;
    const pMinus = <usize>(<u32>load<u8>(p) == MINUS);
    const qMinus = <usize>(<u32>load<u8>(q) == MINUS);
    const pSpan = pEnd - p - pMinus;
    const qSpan = qEnd - q - qMinus;
    if (pSpan - fewest > range || qSpan - fewest > range) break;
    if (quoted) {
      const marks =
        (<u32>load<u8>(p - 1) ^ QUOTE) |
        (<u32>load<u8>(q - 1) ^ QUOTE) |
        (<u32>load<u8>(pEnd) ^ QUOTE) |
        (<u32>load<u8>(qEnd) ^ QUOTE);
      if (marks) break;
    }
    const a = v128.and(v128.xor(v128.load(pEnd - 16), expected), v128.load(masks + pSpan));
    const b = v128.and(v128.xor(v128.load(qEnd - 16), expected), v128.load(masks + qSpan));
    if (i8x16.bitmask(i8x16.add_sat_u(i8x16.max_u(a, b), allowed))) break;
    const digits = v128.or(i8x16.swizzle(a, low), i8x16.swizzle(b, high));
    const pairs = i16x8.shr_u(i16x8.mul(digits, tens), 8);
    const fours = i32x4.dot_i16x8_s(pairs, hundreds);
    const eights = i32x4.dot_i16x8_s(i16x8.narrow_i32x4_s(fours, fours), myriads);
    const scales = v128.load_lane<f64>(signed + (qMinus << 3), v128.load_zero<f64>(signed + (pMinus << 3)), 1);
    v128.store(to, f64x2.div(f64x2.convert_low_i32x4_s(eights), scales));
    k += step << 1;
    to += 16;
  }
  return k;
}

function fixedColumn(k: usize, kEnd: usize, step: usize, to: usize, trail: usize): usize {
  return fixedCells(k, kEnd, step, to, trail, false);
}

function fixedQuotedColumn(k: usize, kEnd: usize, step: usize, to: usize, trail: usize): usize {
  return fixedCells(k, kEnd, step, to, trail, true);
}

/** One cell after the other, each with decimals of its own. */
function plainColumn(k: usize, kEnd: usize, step: usize, to: usize, trail: usize, quoted: usize): usize {
  const own = base;
  while (k < kEnd) {
    const from: usize = <usize>load<u32>(k - 4) + 1 + quoted;
    const stop: usize = <usize>load<u32>(k) - trail;
    if (quoted) {
      if (stop <= from || (<u32>load<u8>(from - 1) ^ QUOTE) | (<u32>load<u8>(stop) ^ QUOTE)) break;
    }
    if (!plainCell(from, stop, to, own)) break;
    k += step;
    to += 8;
  }
  return k;
}

// @ts-ignore: decorator
@inline
function endsInReturn(k: usize): bool {
  return <u32>load<u8>(load<u32>(k) - 1) == CR;
}

/** Cells of which a column must have settled decimals for it to be worth while. */
const WORTH = 8;

/** Numbers, with or without quotes. @returns the end of the first cell that is none of up to eight digits */
function numberColumn(k: usize, kEnd: usize, step: usize, to: usize, trail: usize, decimal: u32): usize {
  while (k < kEnd) {
    const from: usize = <usize>load<u32>(k - 4) + 1;
    const quoted = <usize>(<u32>load<u8>(from) == QUOTE);
    const stop = <usize>load<u32>(k) - trail - quoted;
    const before = k;
    if (stop > from + quoted && settle(from + quoted, stop, decimal))
      k = quoted
        ? fixedQuotedColumn(k, kEnd, step, to, trail + 1)
        : fixedColumn(k, kEnd, step, to, trail);
    if (k >= kEnd) break;
    to += ((k - before) / step) << 3;
    // Other decimals here: this cell and the next as they are, or all of them where decimals change often.
    const single = k;
    const singleEnd = k - before < <usize>WORTH * step ? kEnd : min(kEnd, k + 2 * step);
    k = plainColumn(k, singleEnd, step, to, trail + quoted, quoted);
    if (k < singleEnd) break;
    to += ((k - single) / step) << 3;
  }
  return k;
}

/** Of a column that nobody needs: it held something in a row that is not taken yet. */
const PERHAPS: u8 = 2;

/** Settles what is perhaps. @returns whether something was, of a column that held nothing before, in rows that are not taken */
function confirm(seen: usize, width: i32, taken: bool): bool {
  let lost = false;
  for (let at = seen, end = seen + <usize>width; at < end; at++) {
    const before = load<u8>(at);
    if (!(before & PERHAPS)) continue;
    store<u8>(at, taken ? 1 : before & 1);
    if (!(before & 1)) lost = true;
  }
  return lost && !taken;
}

/** Whether a carriage return, which may end a line, stands in the bytes from `from` to `stop`. 16 bytes before `stop` must be there. */
// @ts-ignore: decorator
@inline
function holdsReturn(from: usize, stop: usize): bool {
  const span = stop - from;
  if (span <= 16) return <usize>i8x16.bitmask(i8x16.eq(v128.load(stop - 16), i8x16.splat(<i8>CR))) >> (16 - span) != 0;
  for (let p = from; p < stop; p++) if (<u32>load<u8>(p) == CR) return true;
  return false;
}

/** Cells that nobody needs: they are only looked at whether they begin as numbers do, and are of one line. */
function unreadColumn(k: usize, kEnd: usize, step: usize, trail: usize, seen: usize): usize {
  const from = k;
  while (k < kEnd) {
    const start: usize = <usize>load<u32>(k - 4) + 1;
    const first: u32 = load<u8>(start);
    // A minus alone is no number.
    if ((first ^ ZERO) > 9 && (first != MINUS || (<u32>load<u8>(start + 1) ^ ZERO) > 9)) break;
    if (holdsReturn(start, <usize>load<u32>(k) - trail)) break;
    k += step;
  }
  if (k > from) store<u8>(seen, load<u8>(seen) | PERHAPS);
  return k;
}

/** `count` rows, of which the first cell ends at what is listed at `next`; see `rows`. @returns how many of them were taken */
function readRows(
  next: usize,
  count: i32,
  block: usize,
  stride: usize,
  width: i32,
  delimiter: u32,
  decimal: u32,
  blank: u32,
  timeColumn: i32,
  gaps: usize,
  skipped: usize,
  seen: usize,
): i32 {
  const step = <usize>width << 2;
  for (let column = 0; column < width && count > 0; column++) {
    const first = next + (<usize>column << 2);
    const kEnd = first + <usize>count * step;
    let k = first;
    let to = block + <usize>column * stride;
    while (k < kEnd) {
      // In a log of several rates most cells of a column may be empty.
      if (column != timeColumn) {
        const before = k;
        while (k < kEnd && load<u32>(k - 4) + 1 == load<u32>(k)) {
          // The memory of a column that nobody needs is never touched.
          if (!load<u8>(skipped + column)) store<f64>(to, NaN);
          to += 8;
          k += step;
        }
        if (k > before) {
          store<u8>(gaps + column, 1);
          continue;
        }
      }
      // Before a line feed there may be a carriage return: cells with and without are read apart.
      let trail: usize = 0;
      let upTo = kEnd;
      if (column == width - 1 && endsInReturn(k)) {
        trail = 1;
        upTo = k + step;
        while (upTo < kEnd && endsInReturn(upTo)) upTo += step;
      }
      const before = k;
      if (load<u8>(skipped + column)) k = unreadColumn(k, upTo, step, trail, seen + column);
      else k = numberColumn(k, upTo, step, to, trail, decimal);
      if (k > before) {
        to += ((k - before) / step) << 3;
        continue;
      }
      const value = slowCell(load<u32>(k - 4) + 1, delimiter, decimal, blank);
      const end: usize = load<u32>(k);
      const whole = cellEnd == end || (column == width - 1 && <u32>load<u8>(cellEnd) == CR && cellEnd + 1 == end);
      if (kind == OTHER || !whole || (kind == EMPTY && column == timeColumn)) {
        count = <i32>((k - first) / step);
        break;
      }
      if (kind == EMPTY) store<u8>(gaps + column, 1);
      else if (load<u8>(skipped + column)) store<u8>(seen + column, load<u8>(seen + column) | PERHAPS);
      if (!load<u8>(skipped + column)) store<f64>(to, value);
      to += 8;
      k += step;
    }
  }
  return count;
}

/**
 * Reads up to `most` rows of `width` cells from `start` to `block`: column after column, `stride` bytes from one to the next. `start` lies
 * in the window that was given to `index`; 16 bytes before it must be there. `gaps`: a byte a column, set where a cell is
 * empty. `skipped`: a byte a column, set where nobody needs the values; a cell there that begins as a number does is passed
 * over, and noted in `seen`. A row with another width, a cell that is no number, or no number at `timeColumn` is left.
 * @returns where the first row begins that was not taken
 */
export function rows(
  start: usize,
  most: i32,
  block: usize,
  stride: usize,
  width: i32,
  delimiter: u32,
  decimal: u32,
  blank: u32,
  timeColumn: i32,
  gaps: usize,
  skipped: usize,
  seen: usize,
): usize {
  v128.store(base + MARKS, i8x16.splat(<i8>(decimal ^ ZERO)));
  const step = <usize>width << 2;
  let next = cursor;
  while (next < endsEnd && load<u32>(next) < <u32>start) next += 4;
  const listed = <i32>((endsEnd - next) / step);
  let count = min(min(most, pace), listed);
  const tried = count;
  if (!tidy || (next - endsFrom) % step != 0) count = regularRows(next, count, width);
  // Where the cell before the first one would end.
  if (count > 0) store<u32>(next - 4, <u32>start - 1);
  const whole = count;
  count = readRows(next, whole, block, stride, width, delimiter, decimal, blank, timeColumn, gaps, skipped, seen);
  if (count == whole) confirm(seen, width, true);
  else if (confirm(seen, width, false) && count > 0) {
    // Of the rows that were taken once more, since rows behind them were looked at as well.
    readRows(next, count, block, stride, width, delimiter, decimal, blank, timeColumn, gaps, skipped, seen);
    confirm(seen, width, true);
  }
  pace = count < tried ? max(1, count) : min(MOST_PACE, pace << 1);
  done = count;
  if (count == 0) return start;
  cursor = next + <usize>count * step;
  return <usize>load<u32>(cursor - 4) + 1;
}

/** Differences below this share of the value are rounding of a decimal print, not steps of the channel: see `scanRuns`. */
const ROUNDING: f64 = 1e-9;

/** Bytes that are fetched ahead of a loop over a column: one load a line of the cache, many under way at once. */
const AHEAD: usize = 4096;
/** What was fetched, so that it is. */
let touched: u64 = 0;

/**
 * Runs of equal values among `rows` doubles from `values` on, as `scanRuns` finds them; NaN is no sample. The rows at which they
 * begin go to `starts` (four bytes of room for each row, and 8 behind), what else was seen to `out`: least and greatest value,
 * least and greatest step between runs, samples. Two rows at a time, as long as each holds a sample and no step is rounding.
 * @returns how many runs
 */
export function runs(values: usize, rows: i32, starts: usize, out: usize): i32 {
  let to = starts;
  let samples = 0;
  let last: f64 = NaN;
  let least = f64x2.splat(Infinity);
  let greatest = f64x2.splat(-Infinity);
  let low = f64x2.splat(Infinity);
  let high = f64x2.splat(0);
  const never = f64x2.splat(Infinity);
  const rounding = f64x2.splat(ROUNDING);
  const end = values + (<usize>rows << 3);
  let p = values;
  while (p < end) {
    // The value before is the last one: it was a sample, and not taken for rounding.
    if (p > values && load<f64>(p - 8) == last) {
      let row = <i32>((p - values) >> 3);
      while (p + 8 < end) {
        // A column is far larger than the caches, and this loop would wait for each line of it (3.4 times as long, measured).
        if ((p & (AHEAD - 1)) < 16)
          for (let q = p + AHEAD, stop = min(end, q + AHEAD); q < stop; q += 64) touched ^= load<u64>(q);
        const here = v128.load(p);
        const before = v128.load(p - 8);
        const step = f64x2.abs(f64x2.sub(here, before));
        const changed = f64x2.ne(here, before);
        const near = f64x2.le(step, f64x2.mul(rounding, f64x2.add(f64x2.abs(here), f64x2.abs(before))));
        if (v128.any_true(v128.or(v128.and(near, changed), f64x2.ne(here, here)))) break;
        least = f64x2.pmin(least, here);
        greatest = f64x2.pmax(greatest, here);
        low = f64x2.pmin(low, v128.bitselect(step, never, changed));
        high = f64x2.pmax(high, step);
        const bits = i64x2.bitmask(changed);
        store<i32>(to, row);
        to += (bits & 1) << 2;
        store<i32>(to, row + 1);
        to += (bits >> 1) << 2;
        samples += 2;
        row += 2;
        p += 16;
      }
      last = load<f64>(p - 8);
      if (p >= end) break;
    }
    // One value by itself, then the loop above may go on.
    const x = load<f64>(p);
    if (x == x) {
      samples++;
      const both = f64x2.splat(x);
      least = f64x2.pmin(least, both);
      greatest = f64x2.pmax(greatest, both);
      if (x != last) {
        const step = abs<f64>(x - last);
        if (to == starts || !(step <= ROUNDING * (abs<f64>(x) + abs<f64>(last)))) {
          if (to > starts) {
            low = f64x2.pmin(low, f64x2.splat(step));
            high = f64x2.pmax(high, f64x2.splat(step));
          }
          store<i32>(to, <i32>((p - values) >> 3));
          to += 4;
          last = x;
        }
      }
    }
    p += 8;
  }
  store<f64>(out, min<f64>(f64x2.extract_lane(least, 0), f64x2.extract_lane(least, 1)));
  store<f64>(out, max<f64>(f64x2.extract_lane(greatest, 0), f64x2.extract_lane(greatest, 1)), 8);
  store<f64>(out, min<f64>(f64x2.extract_lane(low, 0), f64x2.extract_lane(low, 1)), 16);
  store<f64>(out, max<f64>(f64x2.extract_lane(high, 0), f64x2.extract_lane(high, 1)), 24);
  store<f64>(out, <f64>samples, 32);
  return <i32>((to - starts) >> 2);
}

/** The longest step between the `rows` doubles from `values` on when each is above the one before; else 0. NaN is no number. */
export function rise(values: usize, rows: i32): f64 {
  const end = values + (<usize>rows << 3);
  let most = f64x2.splat(0);
  let p = values + 8;
  while (p + 8 < end) {
    // As in `runs`.
    if ((p & (AHEAD - 1)) < 16)
      for (let q = p + AHEAD, stop = min(end, q + AHEAD); q < stop; q += 64) touched ^= load<u64>(q);
    const step = f64x2.sub(v128.load(p), v128.load(p - 8));
    if (!i64x2.all_true(f64x2.gt(step, f64x2.splat(0)))) return 0;
    most = f64x2.pmax(most, step);
    p += 16;
  }
  let longest = max<f64>(f64x2.extract_lane(most, 0), f64x2.extract_lane(most, 1));
  if (p < end) {
    const step = load<f64>(p) - load<f64>(p - 8);
    if (!(step > 0)) return 0;
    longest = max<f64>(longest, step);
  }
  return longest;
}
