import { type FileHandle, open } from 'node:fs/promises';

/** Bytes of one read: large enough to make its cost small, small enough for the second cache. */
const PIECE = 512 << 10;

/**
 * The bytes of a file in pieces. Two buffers take turns: while one piece is worked on, the next is read, and no memory is
 * taken for each piece. A piece is valid until the next one is asked for.
 * @throws the error of the file system.
 */
export async function* fileBytes(path: string, onBytes?: (count: number) => void): AsyncGenerator<Uint8Array> {
  const file = await open(path, 'r');
  try {
    const buffers = [new Uint8Array(PIECE), new Uint8Array(PIECE)];
    let pending = read(file, buffers[0]!);
    for (let turn = 1; ; turn ^= 1) {
      const piece = await pending;
      if (piece.length === 0) return;
      pending = read(file, buffers[turn]!);
      // A failure is met where it is awaited; until then it is nobody's.
      pending.catch(() => undefined);
      onBytes?.(piece.length);
      yield piece;
    }
  } finally {
    await file.close();
  }
}

async function read(file: FileHandle, buffer: Uint8Array): Promise<Uint8Array> {
  const { bytesRead } = await file.read(buffer, 0, buffer.length, null);
  return buffer.subarray(0, bytesRead);
}
