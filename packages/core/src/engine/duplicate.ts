import type { Recording } from '../recording/recording.js';

/** Stable code of the problem. */
export const DUPLICATE_CODE = 'duplicate-input';

/**
 * Tells a recording that was given before, also under another name, compressed, or in another dialect: same rows, same
 * duration, same channels with the same sums. Keeps a short fingerprint of each, no samples.
 */
export class SeenRecordings {
  private readonly seen = new Map<string, string>();

  /** @returns the name under which the same recording was given before, or undefined. */
  sameAs(recording: Recording, name: string, sha256: string): string | undefined {
    // Read-outs are small and differ in what is no channel: their bytes tell.
    const print = recording.readOut === undefined ? fingerprint(recording) : sha256;
    const before = this.seen.get(print);
    if (before === undefined) this.seen.set(print, name);
    return before;
  }
}

function fingerprint({ rows, duration, channels }: Recording): string {
  const parts = [`${rows}`, duration.toPrecision(9)];
  for (const [id, { values, quality }] of channels) {
    let sum = 0;
    // The place counts as well: the same values in another order are another drive.
    for (let i = 0; i < values.length; i++) if (!Number.isNaN(values[i]!)) sum += values[i]! * (1 + i / values.length);
    parts.push(`${id} ${quality.samples} ${sum.toPrecision(9)}`);
  }
  return parts.join('|');
}
