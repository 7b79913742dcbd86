import { sha256 } from '@noble/hashes/sha2.js';
import { Gunzip } from 'fflate';
import { Fault } from './fault.js';
import type { Limits } from './limits.js';

/** Bytes of one input: whole, or in pieces of any size (file stream, network, `Blob.stream()`). */
export type ByteSource = Uint8Array | AsyncIterable<Uint8Array>;

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
  for await (const piece of source) if (piece.length > 0) yield piece;
}

/** The bytes as given, each hashed once on its way. */
export class HashedSource {
  private readonly iterator: AsyncIterator<Uint8Array>;
  private pending: Uint8Array | undefined;
  private readonly wholeFirst: Uint8Array | undefined;
  private done = false;
  bytesIn = 0;

  constructor(
    source: ByteSource,
    private readonly hasher: Hasher,
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
    this.hasher.update(step.value);
    this.bytesIn += step.value.length;
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

  /** Reads what is left, for the hash only. */
  async digest(): Promise<string> {
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

/** Slices keep one expansion step below about 16 MB (deflate expands at most 1032 times). */
const SLICE = 16 << 10;

async function* fflateGunzip(source: AsyncIterable<Uint8Array>): AsyncGenerator<Uint8Array> {
  let out: Uint8Array[] = [];
  let ended = false;
  const inflater = new Gunzip((data, final) => {
    if (data.length > 0) out.push(data);
    if (final) ended = true;
  });
  for await (const piece of source) {
    for (let at = 0; at < piece.length; at += SLICE) {
      // fflate keeps what it is given: a slice of a reused buffer would change under it.
      inflater.push(piece.slice(at, at + SLICE), false);
      yield* out;
      out = [];
    }
  }
  inflater.push(new Uint8Array(0), true);
  yield* out;
  if (!ended) throw new Error('gzip data end early');
}
