import { setImmediate } from 'node:timers/promises';
import { type ChunkFlags, ChunkReader } from '../../packages/core/src/ingest/chunk-reader.js';
import type { ReadingHelper } from '../../packages/core/src/ingest/chunked-body.js';

/** How the part of a second thread goes. */
export interface Play {
  /** Numbers from 0 to below 1: how many steps it takes before the first thread goes on. */
  readonly chance: () => number;
  /** It comes when the first thread waits, or is done. */
  readonly late?: boolean;
  /** Steps after which it ends with an error, with a chunk in its hands or without. */
  readonly dies?: number;
}

/** Most steps at a time; three of them read one chunk. */
const STEPS = 7;
/** How often it goes on when the first thread has taken a chunk and looks at its bytes. */
const BETWEEN = 0.5;

/**
 * The part of a second thread, played by this one. It goes on, by some steps, whenever the first thread reads bytes or waits:
 * between its steps it holds a chunk that is taken, listed or placed, but not read.
 */
export function secondThread(bytes: Uint8Array, { chance, late = false, dies = Number.POSITIVE_INFINITY }: Play) {
  let chunks = 0;
  let played: Generator<undefined, ChunkFlags | undefined> | undefined;
  let flags: ChunkFlags | undefined;
  let left = dies;
  let died: unknown;
  const some = () => {
    for (let k = Math.floor(STEPS * chance()); k >= 0 && played !== undefined; k--) {
      if (left-- <= 0) throw new Error('the second thread died');
      const step = played.next();
      if (step.done !== true) continue;
      flags = step.value;
      played = undefined;
    }
  };
  /** As a worker's error: it is met by who waits for the answer. */
  const act = () => {
    try {
      some();
    } catch (error) {
      died = error;
      played = undefined;
    }
  };
  function* part(reader: ChunkReader): Generator<undefined, ChunkFlags | undefined> {
    if (!reader.board.join()) return undefined;
    for (;;) {
      yield;
      const claim = reader.begin();
      if (claim === undefined) return reader.flags;
      yield;
      let row = reader.place(claim, 0);
      while (row === undefined) {
        yield;
        row = reader.place(claim, 0);
      }
      yield;
      reader.end(claim, row);
      chunks++;
    }
  }
  const fill = (into: Uint8Array, from: number): number => {
    const here = bytes.subarray(from, from + into.length);
    into.set(here);
    return here.length;
  };
  const helper: ReadingHelper = {
    minimum: 0,
    warm: () => undefined,
    close: () => undefined,
    fill(into, from) {
      if (!late && chance() < BETWEEN) act();
      return fill(into, from);
    },
    async turn() {
      act();
      await setImmediate();
    },
    async scan(job) {
      const reader = ChunkReader.open(job, fill);
      if (reader === undefined || died !== undefined) throw died ?? new Error('no thread');
      flags = undefined;
      played = part(reader);
      if (!late) act();
      while (played !== undefined) {
        await setImmediate();
        act();
      }
      if (died !== undefined) throw died;
      return flags;
    },
  };
  return { helper, chunks: () => chunks };
}
