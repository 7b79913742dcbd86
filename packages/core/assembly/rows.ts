// Rows of plain numbers, from bytes to a block of doubles. AssemblyScript; compiled by `npm run generate`.
//
// A cell of up to 15 bytes is read without a loop: its end is the first delimiter or line feed among 16 bytes, the bytes
// before that end are loaded once more so that the last digit is the last byte, the decimal sign is shuffled out, and eight
// digits become a number in three multiplications (D. Lemire, "Number parsing at a gigabyte per second", Software: Practice
// and Experience 51 (2021) 1700, section 3). The mantissa is divided by an exact power of ten, as the scanner does.
// Everything else is read byte by byte, or left.

const LF: u32 = 10;
const CR: u32 = 13;
const SPACE: u32 = 32;
const QUOTE: u32 = 34;
const PLUS: u32 = 43;
const MINUS: u32 = 45;
const ZERO: u32 = 48;
const ZEROS: u64 = 0x3030303030303030;
const MOST_DIGITS = 15;

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
  const value = <f64>whole / load<f64>(POWERS + (<usize>fraction << 3));
  return negative ? -value : value;
}

/**
 * Reads up to `most` rows of `width` cells from `start` into `block`: column after column, `stride` bytes each. `limit` is
 * the last line end; 16 bytes before `start` and behind `limit` must be there. `gaps`: a byte a column, set where a cell is
 * empty. `skipped`: a byte a column, set where its cells are passed over; one that begins as a number does is not read, and
 * noted in `seen`. A row with another width, a cell that is no number, or no number at `timeColumn` is left.
 * @returns where the first row begins that was not taken
 */
export function rows(
  start: usize,
  limit: usize,
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
  const delimiters = i8x16.splat(<i8>delimiter);
  const feeds = i8x16.splat(<i8>LF);
  const marks = i8x16.splat(<i8>decimal);
  const zeros = i8x16.splat(<i8>ZERO);
  const nines = i8x16.splat(9);
  const last = width - 1;
  let row = 0;
  let at = start;
  let place = block;
  while (row < most && at <= limit) {
    let p = at;
    let to = place;
    let column = 0;
    let regular = false;
    for (; column < width; column++) {
      let next: usize;
      const bytes = v128.load(p);
      const hits = i8x16.bitmask(v128.or(i8x16.eq(bytes, delimiters), i8x16.eq(bytes, feeds)));
      const length = ctz(hits);
      let first: u32 = load<u8>(p);
      if (load<u8>(skipped + column) && hits != 0 && ((first ^ ZERO) <= 9 || first == MINUS)) {
        store<u8>(seen + column, 1);
        p += length + 1;
        if (<u32>load<u8>(p - 1) != delimiter) {
          regular = column == last;
          break;
        }
        to += stride;
        continue;
      }
      // In quotes: what stands between them.
      let quotes = 0;
      if (first == QUOTE && length > 2 && load<u8>(p + length - 1) == QUOTE) {
        quotes = 1;
        first = load<u8>(p + 1);
      }
      const negative = <i32>(first == MINUS);
      const span = length - 2 * quotes - negative;
      const cell = v128.bitselect(
        v128.load(p + length - quotes - 16),
        zeros,
        v128.load(MASKS + span),
      );
      const mark = ctz(i8x16.bitmask(i8x16.eq(cell, marks)) | 0x10000);
      const digits = i8x16.sub(i8x16.swizzle(cell, v128.load(SHUFFLES + (<usize>mark << 4))), zeros);
      const count = span - <i32>(mark < 16);
      if (<u32>(count - 1) < 8 && !v128.any_true(i8x16.gt_u(digits, nines)) && hits != 0) {
        let d = <u64>i64x2.extract_lane(digits, 1);
        d = d * 10 + (d >> 8);
        d = ((d & 0x000000ff000000ff) * 0x000f424000000064 + ((d >> 16) & 0x000000ff000000ff) * 0x0000271000000001) >> 32;
        const value = <f64>(<i32>d) / load<f64>(SCALES + (<usize>mark << 3));
        store<u64>(to, reinterpret<u64>(value) | (<u64>negative << 63));
        next = p + length;
      } else {
        const value = slowCell(p, delimiter, decimal, blank);
        if (kind != NUMBER) {
          if (kind == OTHER || column == timeColumn) break;
          store<u8>(gaps + column, 1);
        }
        if (kind == NUMBER && load<u8>(skipped + column)) store<u8>(seen + column, 1);
        store<f64>(to, value);
        next = cellEnd;
      }
      const end: u32 = load<u8>(next);
      p = next + 1;
      if (end != delimiter) {
        regular = column == last;
        if (end == CR && load<u8>(p) == LF) p++;
        break;
      }
      to += stride;
    }
    if (!regular) break;
    at = p;
    place += 8;
    row++;
  }
  done = row;
  return at;
}
