const SMALL = 1024;

/** ASCII text that grows as bytes: a drive is millions of short numbers, and strings of them cost more than the drive. */
export class ByteText {
  private bytes = new Uint8Array(1 << 20);
  private end = 0;

  get length(): number {
    return this.end;
  }

  /** A view of what was written; valid until the next write. */
  view(): Uint8Array {
    return this.bytes.subarray(0, this.end);
  }

  /** ASCII only. */
  text(text: string): void {
    this.room(text.length);
    for (let i = 0; i < text.length; i++) this.bytes[this.end++] = text.charCodeAt(i);
  }

  /** Like `value.toFixed(digits)` (ties go up, no minus before a zero), with `mark` (a character code) as decimal sign. */
  fixed(value: number, digits: number, mark: number): void {
    const scaled = Math.round(Math.abs(value) * 10 ** digits);
    if (!(scaled < 2 ** 53)) {
      this.text(value.toFixed(digits).replace('.', String.fromCharCode(mark)));
      return;
    }
    this.room(SMALL);
    const { bytes } = this;
    if (value < 0 && scaled > 0) bytes[this.end++] = 45;
    let width = digits + 1;
    for (let power = 10 ** width; power <= scaled; power *= 10) width++;
    let rest = scaled;
    let at = this.end + width + (digits > 0 ? 1 : 0);
    this.end = at;
    for (let i = 0; i < width; i++) {
      if (i === digits && digits > 0) bytes[--at] = mark;
      const tenth = Math.floor(rest / 10);
      bytes[--at] = 48 + rest - tenth * 10;
      rest = tenth;
    }
  }

  cut(length: number): void {
    this.end = length;
  }

  private room(count: number): void {
    if (this.end + count <= this.bytes.length) return;
    const wider = new Uint8Array(2 * this.bytes.length + count);
    wider.set(this.view());
    this.bytes = wider;
  }
}
