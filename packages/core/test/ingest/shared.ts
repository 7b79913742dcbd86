import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

const ROOT = fileURLToPath(new URL('../../../../../shared/', import.meta.url));

/** Reference material beside the checkout; tests that need it skip visibly where it is absent. */
export const shared = { present: existsSync(ROOT), why: '(skipped: ../shared is absent)' };

export function sharedBytes(path: string): Uint8Array {
  return new Uint8Array(readFileSync(ROOT + path));
}

export function sharedText(path: string): string {
  return readFileSync(ROOT + path, 'utf8');
}
