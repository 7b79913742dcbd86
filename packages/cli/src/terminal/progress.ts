import { oneLine, type Terminal } from './output.js';

/** Milliseconds between two drawings. */
const PACE = 100;
const BAR = 16;

/**
 * One line on standard error, redrawn in place and gone when done: what is read, how far, how fast, and how long it will
 * take. Draws nothing when standard error is no terminal.
 */
export class Progress {
  private file = '';
  private place = '';
  private read = 0;
  private drawn = 0;
  private readonly began: number;

  /**
   * @param total bytes of all inputs, 0 = not known
   * @param now clock in milliseconds
   */
  constructor(
    private readonly terminal: Terminal,
    private readonly quiet: boolean,
    private readonly total: number,
    private readonly now: () => number = () => performance.now(),
  ) {
    this.began = this.now();
  }

  /** The next input begins, or all are done (`index` = `count`). */
  begin(index: number, count: number, name: string): void {
    if (index >= count) {
      this.clear();
      return;
    }
    this.file = oneLine(name);
    this.place = count > 1 ? ` (${index + 1} of ${count})` : '';
    this.draw();
  }

  /** So many bytes more were read. */
  bytes(count: number): void {
    this.read += count;
    if (this.now() - this.drawn >= PACE) this.draw();
  }

  clear(): void {
    if (!this.quiet && this.terminal.live && this.drawn > 0) this.terminal.err('\r\u001b[2K');
  }

  private draw(): void {
    if (this.quiet || !this.terminal.live) return;
    this.drawn = this.now();
    const width = Math.max(10, this.terminal.width - 1);
    this.terminal.err(`\r\u001b[2K${this.line().slice(0, width)}`);
  }

  private line(): string {
    const share = this.total > 0 ? Math.min(1, this.read / this.total) : 0;
    const filled = Math.round(share * BAR);
    const seconds = (this.now() - this.began) / 1000;
    const bar = `[${'='.repeat(filled)}${' '.repeat(BAR - filled)}] ${String(Math.floor(share * 100)).padStart(3)} %`;
    // The first moments tell nothing about the rest.
    const steady = seconds >= 0.5 && this.read > 0;
    const pace = steady ? ` ${(this.read / 1e6 / seconds).toFixed(1)} MB/s, ${left(seconds, share)}` : '';
    return `${bar}${pace} ${this.file}${this.place}`;
  }
}

function left(seconds: number, share: number): string {
  const rest = Math.ceil((seconds / share) * (1 - share));
  if (!Number.isFinite(rest)) return 'time left unknown';
  if (rest < 60) return `${rest} s left`;
  return rest < 3600 ? `${Math.floor(rest / 60)} min ${rest % 60} s left` : `${(rest / 3600).toFixed(1)} h left`;
}
