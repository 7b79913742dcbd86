import { closeSync, openSync, readSync } from 'node:fs';
import { type FileHandle, open } from 'node:fs/promises';
import { setImmediate } from 'node:timers/promises';

/** Bytes of one read: large enough to make its cost small, small enough for the second cache. */
const PIECE = 512 << 10;
/** The same where the thread that asks also reads. */
const OWN_PIECE = 128 << 10;

/**
 * The bytes of a file in pieces. Two buffers take turns: while one piece is worked on, the next is read, and no memory is
 * taken for each piece. A piece is valid until the next one is asked for.
 * `from` = first byte that is read.
 * @throws the error of the file system.
 */
export async function* fileBytes(
  path: string,
  onBytes?: (count: number) => void,
  from = 0,
): AsyncGenerator<Uint8Array> {
  const file = await open(path, 'r');
  try {
    const buffers = [new Uint8Array(PIECE), new Uint8Array(PIECE)];
    // A pipe has no positions.
    let position = from === 0 ? null : from;
    let pending = read(file, buffers[0]!, position);
    for (let turn = 1; ; turn ^= 1) {
      const piece = await pending;
      if (piece.length === 0) return;
      if (position !== null) position += piece.length;
      pending = read(file, buffers[turn]!, position);
      // A failure is met where it is awaited; until then it is nobody's.
      pending.catch(() => undefined);
      onBytes?.(piece.length);
      yield piece;
    }
  } finally {
    await file.close();
  }
}

async function read(file: FileHandle, buffer: Uint8Array, position: number | null): Promise<Uint8Array> {
  const { bytesRead } = await file.read(buffer, 0, buffer.length, position);
  return buffer.subarray(0, bytesRead);
}

/** Pieces between two looks at what else there is to do. */
const TURN = 128;

/**
 * The same, read by the thread that asks, for files that two threads read: with every core at work, another thread would have
 * to be woken for each piece. The kernel reads ahead. Lets timers and signals in now and then.
 */
export async function* ownFileBytes(
  path: string,
  onBytes?: (count: number) => void,
  from = 0,
): AsyncGenerator<Uint8Array> {
  const file = openSync(path, 'r');
  try {
    const buffer = new Uint8Array(OWN_PIECE);
    let position = from;
    for (let turn = 1; ; turn++) {
      const length = readSync(file, buffer, 0, OWN_PIECE, position);
      if (length === 0) return;
      position += length;
      onBytes?.(length);
      yield buffer.subarray(0, length);
      if (turn % TURN === 0) await setImmediate();
    }
  } finally {
    closeSync(file);
  }
}

/** A file of which any part can be read. It is opened when it is first read. */
export class FilePart {
  private file: number | undefined;

  constructor(private readonly path: string) {}

  /** Fills the array with the bytes from one on. @returns how many; 0 at the end. @throws the error of the file system. */
  readonly fill = (into: Uint8Array, from: number): number => {
    this.file ??= openSync(this.path, 'r');
    return readSync(this.file, into, 0, into.length, from);
  };

  close(): void {
    if (this.file !== undefined) closeSync(this.file);
    this.file = undefined;
  }
}
