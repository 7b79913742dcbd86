import type { BodyReader } from './body.js';
import type { TableBuilder } from './builder.js';
import type { RegionResult } from './region.js';

/**
 * Gives the bytes of a table to the reader of the body, except those whose rows a second thread has read. What the second
 * thread cannot vouch for, and everything when it was wrong about where a record begins, goes to the reader as well: the
 * table is the same with and without it.
 */
export class SplitBody {
  private result: RegionResult | undefined;
  private asked = false;
  private adopted = false;

  /**
   * @param position byte of the file that comes next
   * @param split byte of the file from which the second thread looks for its first line
   */
  constructor(
    private readonly body: BodyReader,
    private readonly builder: TableBuilder,
    private readonly scanning: Promise<RegionResult | undefined>,
    private position: number,
    private readonly split: number,
    /** Bytes of the file. */
    private readonly size: number,
    /** What can be done before the second thread is waited for. */
    private readonly meanwhile: () => Promise<void>,
  ) {}

  /** True when nothing that follows is needed: the second thread has read it. */
  async push(piece: Uint8Array): Promise<boolean> {
    await this.take(piece);
    const { result } = this;
    return result !== undefined && this.adopted && result.end >= this.size;
  }

  private async take(piece: Uint8Array): Promise<void> {
    if (!this.asked && this.position + piece.length > this.split) {
      this.asked = true;
      await this.meanwhile();
      const result = await this.scanning;
      if (result !== undefined && result.rows > 0 && result.start >= this.position) this.result = result;
    }
    const { result } = this;
    if (result === undefined || this.position + piece.length <= result.start) return this.give(piece);
    let rest = piece;
    if (this.position < result.start) {
      const before = result.start - this.position;
      this.give(rest.subarray(0, before));
      rest = rest.subarray(before);
    }
    if (this.position === result.start) {
      if (!this.body.atRecord) {
        this.result = undefined;
        return this.give(rest);
      }
      this.builder.adopt(result, this.body.skip(result.lineCount));
      this.adopted = true;
    }
    const skipped = Math.min(rest.length, Math.max(0, result.end - this.position));
    this.position += skipped;
    if (skipped < rest.length) this.give(rest.subarray(skipped));
  }

  private give(piece: Uint8Array): void {
    this.position += piece.length;
    if (piece.length > 0) this.body.push(piece);
  }
}
