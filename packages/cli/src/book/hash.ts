import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';

/** SHA-256 of a file, hexadecimal, in memory that does not grow. */
export async function hashOf(path: string): Promise<string> {
  const hash = createHash('sha256');
  for await (const bytes of createReadStream(path)) hash.update(bytes as Buffer);
  return hash.digest('hex');
}

/** One hash of the recordings that make up one drive, in whatever order they were given. */
export function hashOfAll(hashes: readonly string[]): string {
  const [only] = hashes;
  if (hashes.length === 1 && only !== undefined) return only;
  return createHash('sha256')
    .update([...hashes].sort().join('\n'))
    .digest('hex');
}
