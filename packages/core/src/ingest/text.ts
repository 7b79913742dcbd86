import { lineTooLong } from './body.js';
import { type Encoding, type EncodingGuess, guessEncoding, isBinary, textDecoder, utf16AsUtf8 } from './encoding.js';
import { Fault } from './fault.js';
import { refuseForeign } from './foreign-file.js';
import { type Head, type LayoutOptions, readHead } from './layout.js';
import { FIRST_HEAD_BYTES, type Limits, SNIFF_BYTES } from './limits.js';
import { join } from './source.js';

/** The text of the input as bytes in which delimiters and digits are single bytes. */
export class Text {
  private readonly iterator: AsyncIterator<Uint8Array>;
  private ended = false;
  private headBytes: Uint8Array = new Uint8Array(0);

  private constructor(
    source: AsyncIterable<Uint8Array>,
    private readonly limits: Limits,
    readonly encoding: Encoding,
    readonly confidence: number,
    readonly decode: (bytes: Uint8Array) => string,
    private readonly stable: boolean,
    /** Bytes of the byte order mark. */
    readonly mark: number,
  ) {
    this.iterator = source[Symbol.asyncIterator]();
  }

  /** True when the head is the whole text. */
  get wholeHead(): boolean {
    return this.ended;
  }

  /** `stable` = the pieces stay as they are; otherwise a source may use its buffer again and what is kept is copied. */
  static async open(
    raw: AsyncGenerator<Uint8Array>,
    limits: Limits,
    wanted: Encoding | undefined,
    stable: boolean,
  ): Promise<Text> {
    const sample = await gather(raw, SNIFF_BYTES, stable);
    if (sample.bytes.length === 0)
      throw new Fault('empty-file', 'the file is empty; expected a table: check the export', 1);
    refuseForeign(sample.bytes);
    const guess: EncodingGuess = guessEncoding(
      sample.bytes.subarray(0, SNIFF_BYTES),
      !sample.ended || sample.bytes.length > SNIFF_BYTES,
    );
    const encoding = wanted ?? guess.encoding;
    const mark = encoding === guess.encoding ? guess.mark : 0;
    const pieces = bounded(chain(sample.bytes.subarray(mark), raw), limits);
    const wide = encoding === 'utf-16le' || encoding === 'utf-16be';
    if (guess.binary && !wide) throw notText();
    const source = wide ? utf16AsUtf8(pieces, encoding) : pieces;
    return new Text(
      source,
      limits,
      encoding,
      wanted === undefined ? guess.confidence : 1,
      textDecoder(wide ? 'utf-8' : encoding),
      stable || wide,
      mark,
    );
  }

  /** Reads as much as it takes to see the table begin. */
  async head(options: LayoutOptions): Promise<Head> {
    for (let want = FIRST_HEAD_BYTES; ; want *= 4) {
      await this.fill(Math.min(want, this.limits.headBytes));
      // Not more than was asked for: what a source gives beyond it differs with its pieces.
      const view = this.headBytes.subarray(0, Math.min(want, this.limits.headBytes));
      if (isBinary(view.subarray(0, SNIFF_BYTES))) throw notText();
      this.refuseLongLine();
      const complete = this.ended && view.length === this.headBytes.length;
      const head = readHead(view, complete, this.decode, options);
      if (complete || head.reading.rows >= 50 || want >= this.limits.headBytes) return head;
    }
  }

  /** A line that is longer than the bound is refused before anything is parsed. */
  private refuseLongLine(): void {
    const bytes = this.headBytes;
    if (bytes.length <= this.limits.lineBytes) return;
    const window = bytes.subarray(0, this.limits.lineBytes + 1);
    if (window.indexOf(10) < 0 && window.indexOf(13) < 0) throw lineTooLong(1, this.limits);
  }

  private async fill(want: number): Promise<void> {
    const parts: Uint8Array[] = [];
    let length = this.headBytes.length;
    while (!this.ended && length < want) {
      const step = await this.iterator.next();
      if (step.done === true) this.ended = true;
      else {
        parts.push(this.stable ? step.value : step.value.slice());
        length += step.value.length;
      }
    }
    for (const part of parts.length > 4 ? [concat(parts)] : parts) this.headBytes = join(this.headBytes, part);
  }

  /** `take` gets what follows in pieces. */
  async body(offset: number, take: (piece: Uint8Array) => void): Promise<void> {
    const first = this.headBytes.subarray(offset);
    this.headBytes = new Uint8Array(0);
    take(first);
    while (!this.ended) {
      const step = await this.iterator.next();
      if (step.done === true) this.ended = true;
      else take(step.value);
    }
  }
}

function notText(): Fault {
  return new Fault(
    'not-text',
    'the file is not text; expected CSV text in UTF-8, UTF-16 or Windows-1252, or gzip of it: export the log as CSV',
  );
}

async function gather(
  source: AsyncIterator<Uint8Array>,
  want: number,
  stable: boolean,
): Promise<{ bytes: Uint8Array; ended: boolean }> {
  const parts: Uint8Array[] = [];
  let length = 0;
  while (length < want) {
    const step = await source.next();
    if (step.done === true) return { bytes: concat(parts), ended: true };
    parts.push(stable ? step.value : step.value.slice());
    length += step.value.length;
  }
  return { bytes: concat(parts), ended: false };
}

function concat(parts: readonly Uint8Array[]): Uint8Array {
  if (parts.length === 1) return parts[0]!;
  let length = 0;
  for (const part of parts) length += part.length;
  const joined = new Uint8Array(length);
  let at = 0;
  for (const part of parts) {
    joined.set(part, at);
    at += part.length;
  }
  return joined;
}

async function* chain(first: Uint8Array, rest: AsyncGenerator<Uint8Array>): AsyncGenerator<Uint8Array> {
  if (first.length > 0) yield first;
  yield* rest;
}

async function* bounded(source: AsyncIterable<Uint8Array>, limits: Limits): AsyncGenerator<Uint8Array> {
  let length = 0;
  for await (const piece of source) {
    length += piece.length;
    if (length > limits.textBytes) throw tooLarge(limits);
    yield piece;
  }
}

export function tooLarge({ textBytes }: Limits): Fault {
  return new Fault('too-large', `the text is larger than ${textBytes} bytes; expected less: split the recording`);
}
