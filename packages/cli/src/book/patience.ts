import { performance } from 'node:perf_hooks';

/** How a book is opened and used: what it does while another process holds it. */
export interface Opening {
  /** Milliseconds to wait for another process before the book is called busy. */
  readonly patience?: number | undefined;
  /** Called once when a wait has lasted a second. */
  readonly onWait?: (() => void) | undefined;
}

export const PATIENCE = 20_000;
/** Milliseconds after which a wait is told. */
const TOLD = 1000;

/** One patience for one book: how long its operations may wait, and that a long wait is told, once a book. */
export class Patience {
  readonly limit: number;
  private told = false;

  constructor(private readonly opening: Opening = {}) {
    this.limit = opening.patience ?? PATIENCE;
  }

  /** Milliseconds that one try may wait, so that the first of them ends when the wait is to be told. */
  get slice(): number {
    return Math.min(this.limit, TOLD);
  }

  /** Tries again while it is busy, as long as the patience lasts. An interruption gets through between two tries. */
  async tried<T>(act: () => T, isBusy: (error: unknown) => boolean): Promise<T> {
    const from = performance.now();
    for (;;) {
      try {
        return act();
      } catch (error) {
        if (!isBusy(error) || performance.now() - from >= this.limit) throw error;
        this.tell();
        await new Promise((resolve) => setImmediate(resolve));
      }
    }
  }

  /** Waits for what waits by itself, and tells it when that takes long. */
  async during<T>(act: Promise<T>): Promise<T> {
    const timer = setTimeout(() => this.tell(), TOLD);
    try {
      return await act;
    } finally {
      clearTimeout(timer);
    }
  }

  private tell(): void {
    if (this.told) return;
    this.told = true;
    this.opening.onWait?.();
  }
}
