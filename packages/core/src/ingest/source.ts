import { sha256 } from '@noble/hashes/sha2.js';
import { Gunzip } from 'fflate';
import { crc32 } from './crc32.js';
import { Fault } from './fault.js';
import type { Limits } from './limits.js';

/** A `Blob` or `File` of a browser, or of Node: as much of it as is used here. */
export interface BlobSource {
  readonly size: number;
  stream(): { getReader(): BlobReader };
}

interface BlobReader {
  read(): Promise<{ readonly done: boolean; readonly value?: Uint8Array | undefined }>;
  cancel(): Promise<unknown>;
}

/** Bytes of one input: whole, in pieces of any size (file stream, network), or a `Blob`. */
export type ByteSource = Uint8Array | AsyncIterable<Uint8Array> | BlobSource;

/** Incremental SHA-256, so that a platform's faster one can be passed in. */
export interface Hasher {
  update(bytes: Uint8Array): unknown;
  /** Lower-case hexadecimal digest. */
  hex(): string;
}

export function defaultHasher(): Hasher {
  const hash = sha256.create();
  return {
    update: (bytes) => hash.update(bytes),
    hex: () => [...hash.digest()].map((byte) => byte.toString(16).padStart(2, '0')).join(''),
  };
}

/** Expands gzip; the default is fflate, a platform may pass its own. Must reject on damaged data. */
export type Gunzipper = (source: AsyncIterable<Uint8Array>) => AsyncIterable<Uint8Array>;

const PIECE = 1 << 20;

async function* pieces(source: ByteSource): AsyncGenerator<Uint8Array> {
  if (source instanceof Uint8Array) {
    for (let at = 0; at < source.length; at += PIECE) yield source.subarray(at, at + PIECE);
    return;
  }
  const parts = 'stream' in source ? blobPieces(source) : source;
  for await (const piece of parts) if (piece.length > 0) yield piece;
}

/** Not every browser lets a stream be iterated; every one has its reader. */
async function* blobPieces(blob: BlobSource): AsyncGenerator<Uint8Array> {
  const reader = blob.stream().getReader();
  let done = false;
  try {
    while (!done) {
      const step = await reader.read();
      done = step.done;
      if (step.value !== undefined) yield step.value;
    }
  } finally {
    // Left early: the rest is not wanted.
    if (!done) await reader.cancel();
  }
}

/** The bytes as given, each hashed once on its way. */
export class HashedSource {
  private readonly iterator: AsyncIterator<Uint8Array>;
  private pending: Uint8Array | undefined;
  private readonly wholeFirst: Uint8Array | undefined;
  private done = false;
  /** Bytes of the input that are hashed: more than were handed out where {@link hashRest} was ahead. */
  private hashed = 0;
  private hashedAll = false;
  bytesIn = 0;

  constructor(
    source: ByteSource,
    /** Null = nobody wants the hash. */
    private readonly hasher: Hasher | null,
  ) {
    // Bytes in memory are scanned in place: one piece, no copy at piece borders.
    this.wholeFirst = source instanceof Uint8Array ? source : undefined;
    this.iterator = pieces(source)[Symbol.asyncIterator]();
  }

  /** The input is one piece in memory. */
  get whole(): boolean {
    return this.wholeFirst !== undefined;
  }

  private async next(): Promise<Uint8Array | undefined> {
    const step = await this.iterator.next();
    if (step.done === true) {
      this.done = true;
      return undefined;
    }
    const known = this.hashed - this.bytesIn;
    if (known < step.value.length) this.hasher?.update(known > 0 ? step.value.subarray(known) : step.value);
    this.bytesIn += step.value.length;
    this.hashed = Math.max(this.hashed, this.bytesIn);
    return step.value;
  }

  async isGzip(): Promise<boolean> {
    let first = await this.next();
    // The source may use its buffer again for the next piece.
    if (first !== undefined && first.length < 2) first = first.slice();
    while (first !== undefined && first.length < 2 && !this.done) {
      const more = await this.next();
      if (more !== undefined) first = join(first, more);
    }
    this.pending = first;
    return first !== undefined && first[0] === 0x1f && first[1] === 0x8b;
  }

  async *stream(): AsyncGenerator<Uint8Array> {
    if (this.wholeFirst !== undefined) {
      while (!this.done) await this.next();
      this.pending = undefined;
      if (this.wholeFirst.length > 0) yield this.wholeFirst;
      return;
    }
    yield* this.inPieces();
  }

  async *inPieces(): AsyncGenerator<Uint8Array> {
    const first = this.pending;
    this.pending = undefined;
    if (first !== undefined) yield first;
    while (!this.done) {
      const piece = await this.next();
      if (piece !== undefined) yield piece;
    }
  }

  /**
   * Hashes what is left of the input from a second reading of it, before it is handed out, if ever. Where that ends early the
   * rest is hashed on its way, as ever.
   * @param size bytes of the input
   * @returns how many bytes the hash is of when that is settled, infinite when not
   */
  async hashRest(bytesFrom: (from: number) => AsyncIterable<Uint8Array>, size: number): Promise<number> {
    if (this.hasher === null) return Number.POSITIVE_INFINITY;
    if (this.done) return this.hashed;
    for await (const piece of bytesFrom(this.hashed)) {
      this.hasher.update(piece);
      this.hashed += piece.length;
    }
    this.hashedAll = this.hashed >= size;
    return this.hashedAll ? this.hashed : Number.POSITIVE_INFINITY;
  }

  /** Reads what is left, for the hash only; '' and what is left stays unread where nobody wants the hash. */
  async digest(): Promise<string> {
    if (this.hasher === null) {
      this.done = true;
      await this.iterator.return?.();
      return '';
    }
    if (this.hashedAll && !this.done) {
      this.done = true;
      await this.iterator.return?.();
    }
    while (!this.done) await this.next();
    return this.hasher.hex();
  }
}

export function join(a: Uint8Array, b: Uint8Array): Uint8Array {
  if (a.length === 0) return b;
  if (b.length === 0) return a;
  const joined = new Uint8Array(a.length + b.length);
  joined.set(a);
  joined.set(b, a.length);
  return joined;
}

/** What a decompression met; filled in while the text is read. */
export interface GunzipState {
  /** Set when the compressed data end early or are damaged after readable text. */
  damaged: boolean;
}

/** Expanded text, refused beyond the stated ratio: a small file must not fill the memory. */
export async function* gunzipped(
  source: HashedSource,
  limits: Limits,
  gunzip: Gunzipper | undefined,
  state: GunzipState,
): AsyncGenerator<Uint8Array> {
  let out = 0;
  const expanded = (gunzip ?? fflateGunzip)(source.inPieces());
  try {
    for await (const piece of expanded) {
      out += piece.length;
      if (out > limits.bombBytes && out > source.bytesIn * limits.bombRatio) {
        throw new Fault(
          'bomb',
          `the compressed file grows to more than ${limits.bombRatio} times its size; expected a log of ordinary size: expand it yourself and pass the text`,
        );
      }
      yield piece;
    }
  } catch (error) {
    if (error instanceof Fault) throw error;
    if (out === 0) {
      throw new Fault(
        'not-text',
        'the gzip data are damaged and nothing could be expanded; expected CSV text or gzip of it: fetch the file again',
      );
    }
    state.damaged = true;
  }
}

/**
 * Bytes of one expansion step. Keeps what a step gives below about 4 MB (deflate expands at most 1032 times), and loses no
 * more than that much before a place where the data are damaged.
 */
const SLICE = 4 << 10;

async function* fflateGunzip(source: AsyncIterable<Uint8Array>): AsyncGenerator<Uint8Array> {
  let out: Uint8Array[] = [];
  let ended = false;
  let members = 0;
  const inflater = new Gunzip((data, final) => {
    if (data.length > 0) out.push(data);
    if (final) ended = true;
  });
  inflater.onmember = () => {
    members++;
  };
  const seal = new Seal();
  // Always the same slices, whatever the pieces: how much of damaged data can be read must not depend on the source.
  let slice = new Uint8Array(SLICE);
  let held = 0;
  function* expand(bytes: Uint8Array, final: boolean): Generator<Uint8Array> {
    seal.packed(bytes);
    let failure: unknown;
    try {
      inflater.push(bytes, final);
    } catch (error) {
      failure = error;
    }
    // What came before the failure counts.
    for (const piece of out) seal.expanded(piece);
    yield* out;
    out = [];
    if (failure !== undefined && !(ended && seal.padded())) throw failure;
  }
  for await (const piece of source) {
    for (let at = 0; at < piece.length; ) {
      const count = Math.min(SLICE - held, piece.length - at);
      slice.set(piece.subarray(at, at + count), held);
      held += count;
      at += count;
      if (held < SLICE) continue;
      // fflate keeps what it is given: each slice is its own.
      const full = slice;
      slice = new Uint8Array(SLICE);
      held = 0;
      yield* expand(full, false);
    }
  }
  yield* expand(slice.subarray(0, held), false);
  yield* expand(new Uint8Array(0), true);
  if (!ended) throw new Error('gzip data end early');
  // Of several members only the last one's sum stands at the end.
  if (members <= 1 && !seal.intact()) throw new Error('gzip data do not fit their check sum');
}

/** The check sum and length at the end of a gzip member (RFC 1952 section 2.3.1); fflate does not look at them. */
class Seal {
  private readonly last = new Uint8Array(8);
  private crc = 0;
  private length = 0;

  packed(bytes: Uint8Array): void {
    const tail = bytes.subarray(-8);
    this.last.copyWithin(0, tail.length);
    this.last.set(tail, 8 - tail.length);
  }

  expanded(bytes: Uint8Array): void {
    this.crc = crc32(bytes, this.crc);
    this.length += bytes.length;
  }

  /** The data end in zeros, as tapes and block devices leave them. */
  padded(): boolean {
    return this.last.every((byte) => byte === 0);
  }

  intact(): boolean {
    const view = new DataView(this.last.buffer);
    // Padding behind the member hides its end: nothing can be said then.
    if (this.padded() && this.length > 0) return true;
    return view.getUint32(0, true) === this.crc && view.getUint32(4, true) === this.length % 2 ** 32;
  }
}
