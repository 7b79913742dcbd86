import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';

/** Published check values lie outside the repository, beside it; a checkout without them skips those checks and says so. */
const root = fileURLToPath(new URL('../../../../../shared/', import.meta.url));

function shared(path: string): string | undefined {
  const file = `${root}${path}`;
  return existsSync(file) ? readFileSync(file, 'utf8') : undefined;
}

/** Text of a file, for tests that are skipped without it. */
export function sharedText(path: string): string {
  const text = shared(path);
  if (text === undefined) throw new Error(`../shared/${path} is absent`);
  return text;
}

export const hasValidation = shared('validation/README.md') !== undefined;
export const hasData = shared('data/nrel-tsdc-cmap/SOURCE.md') !== undefined;
export const WHERE = hasValidation ? '' : ' (skipped: ../shared/validation is absent)';
